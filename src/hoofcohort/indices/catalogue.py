"""The catalogue of indices: what each one is, in which unit, by which formula, from whom.

Nothing heavy is imported here: the plan's checks read the names at every start of the workflow.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from hoofcohort.indices import formulas as f

if TYPE_CHECKING:
    import pandas as pd

STUDY_DEFINED = "study-defined"
TURNER = "Turner, Proc AAEP 1992;38:389-395 (published; read in a later restatement)"
WIGGERS = "Wiggers et al., PLoS ONE 2015;10:e0114836 (published)"


@dataclass(frozen=True)
class Index:
    """One derived index.

    Attributes
    ----------
    name : str
        Column name.
    title : str
        What it is called in a sentence or on an axis.
    unit : str
        ``deg``, ``mm``, ``kPa``, ``ratio`` (no unit), ``points`` or ``class``.
    formula : str
        The formula in words and column names.
    source : str
        Who defined it, with a mark: published; from memory, not verified; common practice, no source; study-defined.
    needs : tuple of str
        Columns it is computed from; missing in any of them gives missing.
    compute : callable
        Takes a frame with (at least) the columns in ``needs``, one row per reading, and returns a series on the same
        rows.
    kind : {'number', 'class'}
        A class is a word and cannot be an outcome.
    level : {'reading', 'pair'}
        A pair's index compares the left and the right foot and stands on the left foot's reading alone, so that each
        pair counts once.
    linear : bool
        Whether it is a difference of columns: its mean is that of their means.
    """

    name: str
    title: str
    unit: str
    formula: str
    source: str
    needs: tuple[str, ...]
    compute: Callable[[pd.DataFrame], pd.Series]
    kind: Literal["number", "class"] = "number"
    level: Literal["reading", "pair"] = "reading"
    linear: bool = False


_INDICES = (
    Index(
        "heel_underrun_deg",
        "toe-heel angle difference (under-run)",
        "deg",
        "toe_angle_deg - heel_angle_deg",
        TURNER,
        ("toe_angle_deg", "heel_angle_deg"),
        lambda t: f.difference(t, "toe_angle_deg", "heel_angle_deg"),
        linear=True,
    ),
    Index(
        "heel_toe_length_ratio",
        "heel to toe length ratio",
        "ratio",
        "mean of medial_heel_length_mm and lateral_heel_length_mm / toe_length_mm",
        "definition: common practice, no source; measured about 1/2 in 77 mares (Arch Tierz 2008;51:531, published)",
        ("medial_heel_length_mm", "lateral_heel_length_mm", "toe_length_mm"),
        f.heel_toe_length_ratio,
    ),
    Index(
        "heel_forward_fraction",
        "heel set-back as a fraction of hoof length",
        "ratio",
        "heel_setback_mm / hoof_length_mm",
        "common practice, no source",
        ("heel_setback_mm", "hoof_length_mm"),
        lambda t: f.ratio(t, "heel_setback_mm", "hoof_length_mm"),
    ),
    Index(
        "frog_ratio",
        "frog width to frog length ratio",
        "ratio",
        "frog_width_mm / frog_length_mm",
        TURNER,
        ("frog_width_mm", "frog_length_mm"),
        lambda t: f.ratio(t, "frog_width_mm", "frog_length_mm"),
    ),
    Index(
        "frog_hoof_width_ratio",
        "frog width to hoof width ratio",
        "ratio",
        "frog_width_mm / hoof_width_mm",
        STUDY_DEFINED,
        ("frog_width_mm", "hoof_width_mm"),
        lambda t: f.ratio(t, "frog_width_mm", "hoof_width_mm"),
    ),
    Index(
        "heel_spread_ratio",
        "heel buttress width to hoof width ratio",
        "ratio",
        "heel_buttress_width_mm / hoof_width_mm",
        STUDY_DEFINED,
        ("heel_buttress_width_mm", "hoof_width_mm"),
        lambda t: f.ratio(t, "heel_buttress_width_mm", "hoof_width_mm"),
    ),
    Index(
        "heel_imbalance_mm",
        "heel length imbalance (lateral - medial)",
        "mm",
        "lateral_heel_length_mm - medial_heel_length_mm",
        TURNER,
        ("lateral_heel_length_mm", "medial_heel_length_mm"),
        lambda t: f.difference(t, "lateral_heel_length_mm", "medial_heel_length_mm"),
        linear=True,
    ),
    Index(
        "heel_imbalance_abs_mm",
        "heel length imbalance, absolute",
        "mm",
        "absolute value of lateral_heel_length_mm - medial_heel_length_mm",
        TURNER,
        ("lateral_heel_length_mm", "medial_heel_length_mm"),
        lambda t: f.difference(t, "lateral_heel_length_mm", "medial_heel_length_mm").abs(),
    ),
    Index(
        "coronet_tilt_mm",
        "coronet tilt (lateral - medial)",
        "mm",
        "coronet_height_lateral_mm - coronet_height_medial_mm",
        STUDY_DEFINED,
        ("coronet_height_lateral_mm", "coronet_height_medial_mm"),
        lambda t: f.difference(t, "coronet_height_lateral_mm", "coronet_height_medial_mm"),
        linear=True,
    ),
    Index(
        "axis_break_deg",
        "hoof-pastern axis break (negative: broken back)",
        "deg",
        "toe_angle_deg - pastern_angle_deg",
        "common practice, no source; no published tolerance",
        ("toe_angle_deg", "pastern_angle_deg"),
        lambda t: f.difference(t, "toe_angle_deg", "pastern_angle_deg"),
        linear=True,
    ),
    Index(
        "pair_difference_deg",
        "toe angle difference within the pair (left - right)",
        "deg",
        "toe_angle_deg of the left foot - toe_angle_deg of the right foot, fore with fore and hind with hind, of one "
        "visit, observer, method and replicate; stands on the left foot's reading",
        WIGGERS,
        ("toe_angle_deg", *f.PAIR_KEYS),
        f.pair_difference_deg,
        level="pair",
    ),
    Index(
        "toe_angle_class",
        "toe angle class (fore feet)",
        "class",
        "fore feet: flat below 50 deg, medium 50 to 55 deg, upright above 55 deg; hind feet: missing",
        WIGGERS,
        ("toe_angle_deg", "foot"),
        f.toe_angle_class,
        kind="class",
    ),
    Index(
        "load_kpa",
        "whole body weight over one foot's circle area",
        "kPa",
        "body_mass_kg * 9.80665 N/kg / (coronet_circumference_mm^2 / (4 pi)), in kPa",
        f"measure: {TURNER}; formula: from memory, not verified",
        ("body_mass_kg", "coronet_circumference_mm"),
        f.load_kpa,
    ),
    Index(
        "toe_length_excess_mm",
        "toe length beyond that expected for body mass",
        "mm",
        "toe_length_mm - expected: "
        + ", ".join(f"{low:g}-{high:g} kg {length:g} mm" for low, high, length in f.EXPECTED_TOE_LENGTH)
        + "; missing for any other body mass",
        "from memory, not verified",
        ("toe_length_mm", "body_mass_kg"),
        f.toe_length_excess_mm,
    ),
    Index(
        "horn_change",
        "recent horn against earlier horn",
        "points",
        "horn_new - horn_old",
        STUDY_DEFINED,
        ("horn_new", "horn_old"),
        lambda t: f.difference(t, "horn_new", "horn_old"),
        linear=True,
    ),
)
CATALOGUE: dict[str, Index] = {index.name: index for index in _INDICES}

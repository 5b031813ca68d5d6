"""Hold what follows from several cells of a row, the indices, to what is possible and plausible; with sources."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pandas as pd

from hoofcohort.indices.catalogue import CATALOGUE
from hoofcohort.indices.formulas import EXPECTED_TOE_LENGTH, PAIR_KEYS, STANDARD_GRAVITY
from hoofcohort.intake.cells import outside
from hoofcohort.intake.checked import rows_where
from hoofcohort.mapping.looked import Looked
from hoofcohort.tables import TABLES
from hoofcohort.tables.declare import Limits
from hoofcohort.tables.dictionary import limits_text

_OWN = "the project's own broad limits, no source"
_GEOMETRY = "a part is no wider than the whole"


@dataclass(frozen=True)
class IndexLimits:
    """Limits of an index of the catalogue, in its unit; outside ``possible`` the row comes back.

    ``end`` is ``fore`` or ``hind`` where they hold for such feet alone, else empty.
    """

    index: str
    plausible: Limits
    source: str
    possible: Limits | None = None
    end: str = ""


INDEX_LIMITS = (
    IndexLimits("heel_toe_length_ratio", (0.15, 1.0), f"{_OWN}; about 1/2 in 77 mares (Arch Tierz 2008;51:531)"),
    IndexLimits("heel_forward_fraction", (0, 0.5), f"{_OWN}; a third is called gross (common practice)", (None, 1)),
    IndexLimits("frog_hoof_width_ratio", (0.15, 0.8), _OWN, (None, 1)),
    IndexLimits("heel_spread_ratio", (0.3, 1), _OWN, (None, 1)),
    IndexLimits("heel_imbalance_mm", (-25, 25), f"{_OWN}: five times the 5 mm of Turner, Proc AAEP 1992;38:389-395"),
    IndexLimits("coronet_tilt_mm", (-25, 25), _OWN),
    IndexLimits("axis_break_deg", (-30, 30), _OWN),
    IndexLimits("pair_difference_deg", (-15, 15), f"{_OWN}: ten times the 1.5 deg of Wiggers, 2015", end="fore"),
    IndexLimits("pair_difference_deg", (-18, 18), f"{_OWN}: wider than of fore feet", end="hind"),
    IndexLimits("load_kpa", (150, 900), _OWN),
    IndexLimits("toe_length_excess_mm", (-38, 45), f"{_OWN}: about half the length expected for the mass"),
    IndexLimits("horn_change", (-4, 4), "the two scores' own limits", (-4, 4)),
)
"""Two indices are held to their limits as relations of the table of feet: ``RELATED``. The absolute imbalance has the
limits of the signed one."""
RELATED = ("heel_underrun_deg", "frog_ratio")
Values = dict[str, np.ndarray]


def check_indices(looked: Looked, values: dict[str, np.ndarray], told: dict[str, np.ndarray]) -> None:
    """Tell of indices outside their limits, where none of the cells that they follow from has been told of.

    Parameters
    ----------
    looked : Looked
        Rows of feet.
    values : dict of ndarray, each of shape (n,)
        Numbers by column, NaN where missing; body mass in kg among them where it is known.
    told : dict of ndarray of bool, each of shape (n,)
        Which cells have a finding already; those told of here are added.
    """
    for limit in INDEX_LIMITS:
        index = CATALOGUE[limit.index]
        numbers = [name for name in index.needs if name not in PAIR_KEYS]
        if any(name not in values or np.isnan(values[name]).all() for name in numbers):
            continue
        found = _index(looked, limit, values)
        clear = ~np.logical_or.reduce([told[name] for name in numbers if name in told]) & np.isfinite(found)
        if limit.end:
            foot = looked.frame["foot"].to_numpy(dtype=object)
            clear &= (foot == f"L{limit.end[0].upper()}") | (foot == f"R{limit.end[0].upper()}")
        impossible = outside(found, limit.possible) & clear if limit.possible else np.zeros(len(found), dtype=bool)
        for row in rows_where(impossible | (outside(found, limit.plausible) & clear)):
            _tell(looked, row, limit, float(found[row]), bool(impossible[row]), numbers)
            for name in numbers:
                if name in told:
                    told[name][row] = True


def _excess(values: Values) -> np.ndarray:
    mass = values["body_mass_kg"]
    expected = np.full(len(mass), np.nan)
    for low, high, length in EXPECTED_TOE_LENGTH:
        expected[(mass >= low) & (mass <= high)] = length
    return values["toe_length_mm"] - expected


ARITHMETIC: dict[str, Callable[[Values], np.ndarray]] = {
    "heel_toe_length_ratio": lambda v: (
        (v["medial_heel_length_mm"] + v["lateral_heel_length_mm"]) / 2 / v["toe_length_mm"]
    ),
    "heel_forward_fraction": lambda v: v["heel_setback_mm"] / v["hoof_length_mm"],
    "frog_hoof_width_ratio": lambda v: v["frog_width_mm"] / v["hoof_width_mm"],
    "heel_spread_ratio": lambda v: v["heel_buttress_width_mm"] / v["hoof_width_mm"],
    "heel_imbalance_mm": lambda v: v["lateral_heel_length_mm"] - v["medial_heel_length_mm"],
    "coronet_tilt_mm": lambda v: v["coronet_height_lateral_mm"] - v["coronet_height_medial_mm"],
    "axis_break_deg": lambda v: v["toe_angle_deg"] - v["pastern_angle_deg"],
    "load_kpa": lambda v: (
        v["body_mass_kg"] * STANDARD_GRAVITY * 1000 / (v["coronet_circumference_mm"] ** 2 / (4 * np.pi))
    ),
    "toe_length_excess_mm": _excess,
    "horn_change": lambda v: v["horn_new"] - v["horn_old"],
}
"""The catalogue's formulas on bare arrays, a tenth of the time for a small file; a test holds them to the catalogue."""


def _index(looked: Looked, limit: IndexLimits, values: Values) -> np.ndarray:
    """Return an index of all rows, shape (n,); not finite where missing."""
    if limit.index in ARITHMETIC:
        with np.errstate(divide="ignore", invalid="ignore"):
            return ARITHMETIC[limit.index](values)
    angle, horse = values["toe_angle_deg"], looked.frame["horse_id"].to_numpy(dtype=object)
    codes, _ = pd.factorize(horse)
    least, most = np.full(len(angle), np.inf), np.full(len(angle), -np.inf)
    np.fmin.at(least, codes, angle)
    np.fmax.at(most, codes, angle)
    assert limit.plausible[1] is not None
    rows = np.flatnonzero(most[codes] - least[codes] > limit.plausible[1])
    found = np.full(len(angle), np.nan)
    if len(rows):
        found[rows] = _pairs(looked.frame.iloc[rows], angle[rows])
    return found


def _pairs(frame: pd.DataFrame, angle: np.ndarray) -> np.ndarray:
    """Return the difference within the pair of readings that none repeats, shape (n,)."""
    empty = np.full(len(frame), "", dtype=object)
    keys = {name: frame[name].to_numpy(dtype=object) if name in frame.columns else empty for name in PAIR_KEYS}
    table = pd.DataFrame({**keys, "toe_angle_deg": angle})
    alone = ~table.duplicated(list(PAIR_KEYS), keep=False)
    alone &= (table[["horse_id", "foot", "visit_date"]] != "").all(axis=1)
    found = np.full(len(table), np.nan)
    if alone.any():
        computed = CATALOGUE["pair_difference_deg"].compute(table[alone])
        found[alone.to_numpy()] = computed.to_numpy(dtype=float)
    return found


def _tell(looked: Looked, row: int, limit: IndexLimits, value: float, impossible: bool, numbers: list[str]) -> None:
    index = CATALOGUE[limit.index]
    unit = "" if index.unit in ("ratio", "points") else index.unit
    known = TABLES["feet"].by_name | TABLES["horses"].by_name
    titles = " and ".join(known[name].title for name in numbers)
    told = f"{index.title} is {value:.3g} {unit}".rstrip()
    if index.level == "pair":
        titles += " of both feet"
    column = next(name for name in numbers if name in TABLES["feet"].by_name)
    if impossible:
        assert limit.possible is not None
        allowed = limits_text(limit.possible, unit)
        looked.tell(row, column, "impossible_index", f"{told}, possible are {allowed} ({_GEOMETRY}); correct {titles}")
    else:
        usual = limits_text(limit.plausible, unit)
        looked.tell(row, column, "implausible_index", f"{told}, usual are {usual}; look again at {titles}")

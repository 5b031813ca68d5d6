"""The arithmetic of the indices, on columns of readings. Missing in, missing out; a zero divisor gives missing."""

from __future__ import annotations

from math import pi
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pandas as pd

STANDARD_GRAVITY = 9.80665
"""N/kg, by definition (3rd General Conference on Weights and Measures, 1901)."""

EXPECTED_TOE_LENGTH = ((360.0, 400.0, 76.0), (425.0, 475.0, 82.5), (525.0, 575.0, 89.0))
"""Body mass from, to (kg, both inclusive), expected toe length (mm). From memory, not verified."""

FLAT_BELOW_DEG, UPRIGHT_ABOVE_DEG = 50.0, 55.0
"""Limits of the toe angle classes of fore feet, deg. Wiggers et al., PLoS ONE 2015;10:e0114836 (published)."""

FORE_FEET, LEFT_FEET = ("LF", "RF"), ("LF", "LH")
PAIR_KEYS = ("horse_id", "foot", "visit_date", "observer_id", "method", "replicate")


def number(frame: pd.DataFrame, column: str) -> pd.Series:
    """Return a column as float64, missing as NaN."""
    return frame[column].astype("float64")


def difference(frame: pd.DataFrame, first: str, second: str) -> pd.Series:
    """Return ``first - second``, in their common unit."""
    return number(frame, first) - number(frame, second)


def ratio(frame: pd.DataFrame, numerator: str, denominator: str) -> pd.Series:
    """Return ``numerator / denominator``, without unit; NaN where the denominator is zero."""
    return quotient(number(frame, numerator), number(frame, denominator))


def quotient(numerator: pd.Series, denominator: pd.Series) -> pd.Series:
    """Return ``numerator / denominator``, NaN where the denominator is zero."""
    return numerator / denominator.where(denominator != 0)


def heel_toe_length_ratio(frame: pd.DataFrame) -> pd.Series:
    """Return the mean of the medial and lateral heel length over the toe length, without unit.

    Both heels are needed: the mean of one side alone would be another measure. Common practice, no source.
    """
    heel = (number(frame, "medial_heel_length_mm") + number(frame, "lateral_heel_length_mm")) / 2
    return quotient(heel, number(frame, "toe_length_mm"))


def load_kpa(frame: pd.DataFrame) -> pd.Series:
    """Return the whole body weight over one foot's circle area, in kPa.

    The foot's area is that of the circle with the coronet's circumference, C^2 / (4 pi). It is a size measure: no
    foot carries the whole weight. Turner 1992 for the limit; the formula is from memory, not verified.
    """
    newton = number(frame, "body_mass_kg") * STANDARD_GRAVITY
    square_mm = number(frame, "coronet_circumference_mm") ** 2 / (4 * pi)
    return quotient(newton * 1000, square_mm)


def toe_length_excess_mm(frame: pd.DataFrame) -> pd.Series:
    """Return the toe length minus the length expected for the body mass, in mm.

    Missing where the body mass lies outside the ranges of ``EXPECTED_TOE_LENGTH`` (between them too): nothing is
    interpolated. From memory, not verified.
    """
    mass = number(frame, "body_mass_kg")
    expected = mass * float("nan")
    for low, high, length in EXPECTED_TOE_LENGTH:
        expected = expected.mask(mass.between(low, high), length)
    return number(frame, "toe_length_mm") - expected


def toe_angle_class(frame: pd.DataFrame) -> pd.Series:
    """Return ``flat``, ``medium`` or ``upright`` for fore feet; missing for hind feet.

    Medium includes both limits, 50 and 55 deg. Wiggers et al., PLoS ONE 2015;10:e0114836 (published).
    """
    import pandas as pd

    angle = number(frame, "toe_angle_deg")
    word = pd.Series(pd.NA, index=frame.index, dtype="str")
    fore = frame["foot"].isin(FORE_FEET) & angle.notna()
    word[fore] = "medium"
    word[fore & (angle < FLAT_BELOW_DEG)] = "flat"
    word[fore & (angle > UPRIGHT_ABOVE_DEG)] = "upright"
    return word


def pair_difference_deg(frame: pd.DataFrame) -> pd.Series:
    """Return the left minus the right toe angle within the fore or the hind pair, in deg, on the left foot's reading.

    The partner is the reading of the same horse, visit, observer, method and replicate. Missing on right feet, and
    where the partner is missing. Wiggers et al., PLoS ONE 2015;10:e0114836 (published).

    Raises
    ------
    pandas.errors.MergeError
        When two readings carry the same horse, foot, visit, observer, method and replicate.
    """
    keys = [key for key in PAIR_KEYS if key != "foot"]
    table = frame[keys].assign(
        pair=frame["foot"].str[1:], angle=number(frame, "toe_angle_deg"), left=frame["foot"].isin(LEFT_FEET)
    )
    right = table.loc[~table["left"]].drop(columns="left")
    joined = table.merge(right, on=[*keys, "pair"], how="left", suffixes=("", "_right"), validate="many_to_one")
    value = (joined["angle"] - joined["angle_right"]).where(joined["left"])
    return value.set_axis(frame.index)

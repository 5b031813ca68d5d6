"""Compute the catalogue's variables for every reading."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from hoofcohort.errors import InputError

SEASON_OF_MONTH = np.array(["winter"] * 2 + ["spring"] * 3 + ["summer"] * 3 + ["autumn"] * 3 + ["winter"], dtype=object)
"""Meteorological seasons of the northern hemisphere, January first; common practice, no source."""


@dataclass(frozen=True)
class Sources:
    """What variables are computed from, one row per reading each.

    Attributes
    ----------
    readings : DataFrame
    horse : DataFrame
        The horse's own row, on the index of ``readings``.
    windows : DataFrame
        Management as of the visit, on the index of ``readings``.
    """

    readings: pd.DataFrame
    horse: pd.DataFrame
    windows: pd.DataFrame


def horse_rows(readings: pd.DataFrame, horses: pd.DataFrame) -> pd.DataFrame:
    """Return the row of ``horses`` that belongs to each reading, on the index of ``readings``.

    Raises
    ------
    InputError
        When a reading's horse is not among ``horses``.
    """
    place = pd.Index(horses["horse_id"]).get_indexer(pd.Index(readings["horse_id"]))
    if (place < 0).any():
        horse = readings["horse_id"].iloc[int(np.argmax(place < 0))]
        raise InputError(f"readings: horse '{horse}' is not in the table of horses; derive both from one intake")
    return horses.iloc[place].set_axis(readings.index)


def adjustment_values(names: Sequence[str], sources: Sources) -> pd.DataFrame:
    """Return the variables of the catalogue that are asked for.

    Parameters
    ----------
    names : sequence of str
        Keys of ``hoofcohort.tables.variables.VARIABLES``.
    sources : Sources

    Returns
    -------
    DataFrame
        One row per reading, a column per name: float64 for numbers, ``str`` for words. Missing in, missing out.
    """
    return pd.DataFrame({name: _COMPUTE[name](sources) for name in names}, index=sources.readings.index)


def _number(table: str, column: str) -> Callable[[Sources], pd.Series]:
    def compute(sources: Sources) -> pd.Series:
        frame: pd.DataFrame = getattr(sources, table)
        return frame[column].astype("float64") if column in frame else pd.Series(np.nan, index=frame.index)

    return compute


def _word(table: str, column: str) -> Callable[[Sources], pd.Series]:
    def compute(sources: Sources) -> pd.Series:
        frame: pd.DataFrame = getattr(sources, table)
        return (frame[column] if column in frame else pd.Series(None, index=frame.index)).astype("str")

    return compute


def _age_years(sources: Sources) -> pd.Series:
    """Visit as a year and its elapsed part, minus the year of birth."""
    visit = sources.readings["visit_date"].dt
    year = visit.year + (visit.day_of_year - 1) / (365 + visit.is_leap_year)
    return year - _number("horse", "birth_year")(sources)


def _side(sources: Sources) -> pd.Series:
    return sources.readings["foot"].str[0].map({"L": "left", "R": "right"}).astype("str")


def _fore_hind(sources: Sources) -> pd.Series:
    return sources.readings["foot"].str[1].map({"F": "fore", "H": "hind"}).astype("str")


def _season(sources: Sources) -> pd.Series:
    month = sources.readings["visit_date"].dt.month.to_numpy()
    return pd.Series(SEASON_OF_MONTH[month - 1], index=sources.readings.index, dtype="str")


_COMPUTE: dict[str, Callable[[Sources], pd.Series]] = {
    "age_years": _age_years,
    "body_mass_kg": _number("horse", "body_mass_kg"),
    "sex": _word("horse", "sex"),
    "breed_group": _word("horse", "breed_group"),
    "height_cm": _number("horse", "height_cm"),
    "fore_hind": _fore_hind,
    "side": _side,
    "days_since_trim": _number("readings", "days_since_trim"),
    "observer_id": _word("readings", "observer_id"),
    "farrier_id": _word("windows", "farrier_id"),
    "method": _word("readings", "method"),
    "season": _season,
    "shoeing": _word("windows", "shoeing"),
    "turnout_hours": _number("windows", "turnout_hours"),
    "replicate": _number("readings", "replicate"),
}

"""Readings and horses beyond the trade's cut-offs: counted against, never used to define.

Differences stay continuous in the models. What is counted here only says how many readings and horses lie beyond a
limit that somebody has used, and how many lie too close to it to tell.
"""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd

from hoofcohort.planning.cutoffs import Cutoff

NO_SDC = "none configured"
DECIMALS = 9
COLUMNS = (
    "index",
    "title",
    "rule",
    "source",
    "status",
    "readings_with_value",
    "readings_beyond",
    "horses_with_value",
    "horses_beyond",
    "smallest_detectable_change",
    "readings_in_grey_zone",
)


def beyond_cutoffs(readings: pd.DataFrame, cutoffs: Sequence[Cutoff]) -> pd.DataFrame:
    """Count the readings and horses beyond each cut-off.

    Parameters
    ----------
    readings : DataFrame
        One row per reading, with ``horse_id``, ``foot`` and the indices; a column that is absent is missing throughout.
    cutoffs : sequence of Cutoff

    Returns
    -------
    DataFrame
        One row per cut-off, in their order: ``index``, ``title``, ``rule`` (in words, with the unit), ``source``,
        ``status``, ``readings_with_value``, ``readings_beyond``, ``horses_with_value``, ``horses_beyond`` (at least one
        reading beyond), ``smallest_detectable_change`` (in the index's unit as text, or 'none configured') and
        ``readings_in_grey_zone`` (Int64; missing when none is configured). A missing value counts nowhere.
    """
    rows = [_count(readings, cutoff) for cutoff in cutoffs]
    table = pd.DataFrame(rows, columns=list(COLUMNS))
    return table.astype({"readings_in_grey_zone": "Int64"})


def beyond_cutoff(readings: pd.DataFrame, cutoff: Cutoff) -> tuple[pd.DataFrame, pd.Series, pd.Series]:
    """Return the readings that a cut-off applies to and that have a value, the value compared, and which lie beyond."""
    known = readings[readings["foot"].isin(cutoff.feet)]
    known = known[known[cutoff.index].notna()] if cutoff.index in readings else known.iloc[:0]
    value = known[cutoff.index].astype("float64") if len(known) else known["horse_id"].astype("float64")
    # 50.3 - 45.3 is a little below 5 in binary: compare what the observer would have worked out by hand.
    value = (value.abs() if cutoff.absolute else value).round(DECIMALS)
    beyond = {"<": value.lt, "<=": value.le, ">": value.gt, ">=": value.ge}[cutoff.comparison](cutoff.value)
    return known, value, beyond


def _count(readings: pd.DataFrame, cutoff: Cutoff) -> tuple:
    known, value, beyond = beyond_cutoff(readings, cutoff)
    change = cutoff.smallest_detectable_change
    return (
        cutoff.index,
        cutoff.title,
        cutoff.rule,
        cutoff.source,
        cutoff.status,
        len(known),
        int(beyond.sum()),
        known["horse_id"].nunique(),
        known.loc[beyond, "horse_id"].nunique(),
        NO_SDC if change is None else f"{change:g}",
        None if change is None else int((value - cutoff.value).abs().lt(change).sum()),
    )

"""The days that intervals and look-back windows have in common, for all readings at once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from hoofcohort.errors import InputError

NO_DAY = np.iinfo(np.int64).min


@dataclass(frozen=True)
class Overlaps:
    """Each pair of a window and an interval that share at least one day. A window is one horse's on one visit's day.

    Attributes
    ----------
    window_of : int array (readings,)
        The window of each reading.
    windows : int
        How many different windows there are.
    window : int array (pairs,)
        The window of each pair, ascending.
    interval : int array (pairs,)
        Row number, in the management table as given, of each pair's interval.
    days : float array (pairs,)
        Days in common, at least 1.
    current : int array (windows,)
        Row number of the interval that holds the visit's day; -1 where none does.
    """

    window_of: np.ndarray
    windows: int
    window: np.ndarray
    interval: np.ndarray
    days: np.ndarray
    current: np.ndarray

    def total(self, weight: np.ndarray) -> np.ndarray:
        """Return, per window, the sum over its pairs of days times the pair's weight; shape (windows,)."""
        return np.bincount(self.window, weights=self.days * weight, minlength=self.windows)


def find_overlaps(readings: pd.DataFrame, management: pd.DataFrame, window_days: int) -> Overlaps:
    """Join windows and intervals.

    Parameters
    ----------
    readings : DataFrame
        ``horse_id``, ``visit_date``; a window covers the days visit - window_days + 1 .. visit.
    management : DataFrame
        ``horse_id``, ``from_date``, ``to_date`` (inclusive; missing: still so).
    window_days : int
        Days, at least 1.

    Raises
    ------
    InputError
        When two intervals of one horse overlap, or one ends before it begins.

    Notes
    -----
    Intervals of one horse do not overlap, so sorted by their first day they are sorted by their last day too. Horse and
    day are packed into one number, and the intervals that touch a window are those between two binary searches.
    """
    names = pd.Index(management["horse_id"].unique())
    horse = names.get_indexer(management["horse_id"])
    first = day_number(management["from_date"])
    last = day_number(management["to_date"])
    visit = day_number(readings["visit_date"])
    reading_horse = np.where(visit == NO_DAY, -1, names.get_indexer(readings["horse_id"]))

    begin = min(first.min(initial=0), visit[visit != NO_DAY].min(initial=0)) - window_days
    end = max(np.r_[first, last, visit].max(initial=0), begin) + 1
    last = np.where(last == NO_DAY, end, last)
    span = end - begin + 1
    order = np.lexsort((first, horse))
    first_key, last_key = ((horse * span + day - begin)[order] for day in (first, last))
    _check_apart(first_key, last_key, management, order)

    # Horses without any interval share the window -1, which matches nothing.
    visit_key = np.where(reading_horse < 0, -1, reading_horse * span + visit - begin)
    keys, window_of = np.unique(visit_key, return_inverse=True)
    start = np.searchsorted(last_key, keys - window_days + 1)
    stop = np.where(keys < 0, start, np.searchsorted(first_key, keys, side="right"))
    count = np.maximum(stop - start, 0)
    window = np.repeat(np.arange(len(keys)), count)
    place = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count) + np.repeat(start, count)
    earliest, latest = (keys - window_days + 1)[window], keys[window]
    days = np.minimum(latest, last_key[place]) - np.maximum(earliest, first_key[place]) + 1
    current = np.full(len(keys), -1)
    holds = last_key[place] >= latest
    current[window[holds]] = order[place[holds]]
    return Overlaps(window_of, len(keys), window, order[place], days.astype(float), current)


def day_number(dates: pd.Series) -> np.ndarray:
    """Return days since 1970-01-01 as int64; ``NO_DAY`` where missing."""
    return dates.to_numpy(dtype="datetime64[D]").astype(np.int64)


def _check_apart(first_key: np.ndarray, last_key: np.ndarray, management: pd.DataFrame, order: np.ndarray) -> None:
    bad = np.flatnonzero(last_key < first_key)
    if len(bad):
        raise InputError(f"management: an interval of horse {_horse(management, order[bad[0]])} ends before it begins")
    bad = np.flatnonzero(first_key[1:] <= last_key[:-1])
    if len(bad):
        name = _horse(management, order[bad[0]])
        raise InputError(f"management: two intervals of horse {name} overlap; each day belongs to one interval")


def _horse(management: pd.DataFrame, row: int) -> str:
    return repr(str(management["horse_id"].iloc[row]))

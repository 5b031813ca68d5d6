"""Management as of each reading's date and over its look-back window.

Horn at the ground surface began to grow months before the visit, so an exposure is looked up over a window of days
that ends on the day of the visit, and not on that day alone.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from hoofcohort.errors import InputError
from hoofcohort.exposure.overlaps import Overlaps, find_overlaps
from hoofcohort.planning.vocabulary import management_columns, management_ids


def exposure_windows(readings: pd.DataFrame, management: pd.DataFrame, window_days: int) -> pd.DataFrame:
    """Return how each reading's horse was kept on the day and over the window.

    Parameters
    ----------
    readings : DataFrame
        One row per reading, with ``horse_id`` and ``visit_date``.
    management : DataFrame
        Accepted intervals: ``horse_id``, ``from_date``, ``to_date`` (inclusive; missing: still so) and the management
        columns. One horse's intervals do not overlap; there may be gaps between them. A column that is absent is
        missing throughout.
    window_days : int
        Length of the window in days, at least 1: the days visit - window_days + 1 .. visit.

    Returns
    -------
    DataFrame
        One row per reading, on the index and in the order of ``readings``.

        - ``coverage``: share of the window's days with any interval on record, 0 to 1.
        - For each word column: ``<column>``, the word on the day of the visit; ``<column>__<word>``, share of the
          covered days with that word, the shares of a row summing to 1; ``<column>__coverage``.
        - For each number column: ``<column>``, the value on the day of the visit; ``<column>__mean``, its mean over the
          covered days, in the column's unit; ``<column>__coverage``.
        - For each id column: ``<column>``, the id on the day of the visit.

        ``<column>__coverage`` is the share of the window's days on which that column is on record: a day inside an
        interval whose cell is empty is not covered for that column.

    Raises
    ------
    InputError
        When one horse's intervals overlap, or a word is none of the column's words.
    ValueError
        When ``window_days`` is below 1.

    Notes
    -----
    Missing values: nothing on record gives coverage 0 and a missing value, share and mean; no reading is dropped.
    """
    if window_days < 1:
        raise ValueError(f"window_days is {window_days}; it must be at least 1")
    overlaps = find_overlaps(readings, management, window_days)
    columns: dict[str, np.ndarray | pd.Series] = {"coverage": overlaps.total(np.ones(len(overlaps.days))) / window_days}
    for name, words in management_columns().items():
        known = management[name] if name in management else pd.Series(np.nan, index=management.index)
        if words is None:
            columns |= _number(overlaps, name, known.to_numpy(dtype=float, na_value=np.nan), window_days)
        else:
            columns |= _words(overlaps, name, known, words, window_days)
    for name in management_ids():
        known = management[name] if name in management else pd.Series(None, index=management.index)
        columns[name] = _as_of(overlaps, known)
    table = pd.DataFrame(columns).iloc[overlaps.window_of]
    return table.set_axis(readings.index)


def _number(overlaps: Overlaps, name: str, value: np.ndarray, window_days: int) -> dict[str, np.ndarray]:
    known = ~np.isnan(value)
    days = overlaps.total(known[overlaps.interval])
    total = overlaps.total(np.where(known, value, 0.0)[overlaps.interval])
    return {
        name: np.where(overlaps.current < 0, np.nan, np.append(value, np.nan)[overlaps.current]),
        f"{name}__mean": _share(total, days),
        f"{name}__coverage": days / window_days,
    }


def _words(
    overlaps: Overlaps, name: str, value: pd.Series, words: Sequence[str], window_days: int
) -> dict[str, np.ndarray | pd.Series]:
    code = pd.Index(words).get_indexer(pd.Index(value, dtype="object"))
    strange = value[(code < 0) & value.notna().to_numpy()]
    if len(strange):
        raise InputError(f"management: {name}: {str(strange.iloc[0])!r} is none of {', '.join(words)}")
    days = overlaps.total((code >= 0)[overlaps.interval])
    of_pair = code[overlaps.interval]
    shares = {f"{name}__{word}": _share(overlaps.total(of_pair == place), days) for place, word in enumerate(words)}
    current = np.where(overlaps.current < 0, -1, np.append(code, -1)[overlaps.current])
    as_of = pd.Series(np.array([*words, None], dtype=object)[current], dtype="str")
    return {name: as_of, **shares, f"{name}__coverage": days / window_days}


def _as_of(overlaps: Overlaps, value: pd.Series) -> pd.Series:
    code, found = pd.factorize(value)
    current = np.where(overlaps.current < 0, -1, np.append(code, -1)[overlaps.current])
    return pd.Series(np.array([*found, None], dtype=object)[current], dtype="str")


def _share(part: np.ndarray, whole: np.ndarray) -> np.ndarray:
    return np.divide(part, whole, out=np.full(len(whole), np.nan), where=whole > 0)

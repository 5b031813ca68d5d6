"""Check one column's cells and turn them into typed values; every different text is looked at once."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pandas as pd

from hoofcohort.intake.reading import RawColumn
from hoofcohort.tables import Column
from hoofcohort.tables.declare import DATES_POSSIBLE, EXAMPLE_CODE, UNIT_SLIPS, Limits
from hoofcohort.tables.schema import DTYPES

NUMBER = r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)"
COMMA_NUMBER = r"[+-]?[0-9]+,[0-9]+"
DATE = "[0-9]{4}-[0-9]{2}-[0-9]{2}"
_CONTROL = "[\x00-\x1f\x7f\x85\u2028\u2029]"


@dataclass(frozen=True)
class CheckedColumn:
    """A column's typed values and faults.

    Attributes
    ----------
    typed : Series, shape (n,)
        In the column's type; missing where the cell is empty or faulty.
    rows : ndarray of int
        The rows that are rejected, in order.
    reasons : ndarray of object
        The code of the reason for each of them.
    """

    typed: pd.Series
    rows: np.ndarray
    reasons: np.ndarray


def check_column(column: Column, raw: RawColumn, as_of: dt.date | None) -> CheckedColumn:
    """Check a column that the file has.

    Parameters
    ----------
    column : Column
        Its declaration.
    raw : RawColumn
        Its cells as written.
    as_of : date or None
        The day that no date can be later than; None: not checked.

    Returns
    -------
    CheckedColumn

    Notes
    -----
    Blanks around a cell do not count. An empty cell is missing, or the column's default.
    """
    texts = raw.texts.str.strip()
    empty = (texts == "").to_numpy(dtype=bool)
    values, reasons = _CHECKS[column.kind](column, texts.mask(empty), as_of)
    reasons[empty] = None
    if column.default is not None:
        values = values.mask(empty, column.default)
    elif not column.nullable:
        reasons[empty] = "missing_value"
    values = values.mask(reasons.astype(bool)).astype(DTYPES[column.kind])
    faulty = reasons.astype(bool)
    rows = np.flatnonzero(faulty[raw.codes]) if faulty.any() else np.empty(0, dtype=np.int64)
    return CheckedColumn(values.take(raw.codes).reset_index(drop=True), rows, reasons[raw.codes[rows]])


def absent_column(column: Column, rows: int) -> CheckedColumn:
    """Return the values of a column that the file does not have: its default, or missing."""
    one = pd.Series([column.default], dtype=DTYPES[column.kind])
    none = np.empty(0, dtype=np.int64)
    return CheckedColumn(one.take(np.zeros(rows, dtype=np.int64)).reset_index(drop=True), none, none.astype(object))


def outside(values: np.ndarray, limits: Limits) -> np.ndarray:
    """Return which values lie outside limits; a missing value does not."""
    low, high = limits
    below = values < low if low is not None else np.zeros(len(values), dtype=bool)
    return below | (values > high) if high is not None else below


Checked = tuple[pd.Series, np.ndarray]


def _no_reasons(texts: pd.Series) -> np.ndarray:
    return np.full(len(texts), None, dtype=object)


def _full_match(texts: pd.Series, pattern: str) -> np.ndarray:
    return texts.str.fullmatch(pattern).fillna(False).to_numpy(dtype=bool)


def _check_text(column: Column, texts: pd.Series, as_of: dt.date | None) -> Checked:
    reasons = _no_reasons(texts)
    if column.pattern:
        reasons[~_full_match(texts, column.pattern)] = "bad_format"
    reasons[texts.str.contains(_CONTROL).fillna(False).to_numpy(dtype=bool)] = "bad_text"
    if column.name == "horse_id":
        reasons[(texts == EXAMPLE_CODE).to_numpy(dtype=bool)] = "example_row"
    return texts, reasons


def _check_word(column: Column, texts: pd.Series, as_of: dt.date | None) -> Checked:
    reasons = _no_reasons(texts)
    reasons[~texts.isin(column.words).to_numpy(dtype=bool)] = "unknown_word"
    return texts, reasons


def _check_date(column: Column, texts: pd.Series, as_of: dt.date | None) -> Checked:
    reasons = _no_reasons(texts)
    form = _full_match(texts, DATE)
    written = texts.where(form)
    dates = _dates(written)
    exchanged = _dates(written.str.slice(0, 4) + "-" + written.str.slice(8) + "-" + written.str.slice(5, 7))
    low, high = map(pd.Timestamp, DATES_POSSIBLE)
    if as_of is not None:
        reasons[(dates > pd.Timestamp(as_of)).to_numpy()] = "future_date"
    reasons[((dates < low) | (dates > high)).to_numpy()] = "impossible_value"
    reasons[dates.isna().to_numpy()] = "impossible_date"
    reasons[(dates.isna() & exchanged.notna()).to_numpy()] = "day_month_exchanged"
    reasons[~form] = "not_a_date"
    return dates, reasons


def _dates(texts: pd.Series) -> pd.Series:
    return pd.to_datetime(texts, format="%Y-%m-%d", errors="coerce").astype(DTYPES["date"])


def _check_number(column: Column, texts: pd.Series, as_of: dt.date | None) -> Checked:
    reasons = _no_reasons(texts)
    form = _full_match(texts, NUMBER)
    numbers = pd.to_numeric(texts.where(form), errors="coerce").astype("float64")
    if column.possible:
        impossible = outside(numbers.to_numpy(), column.possible)
        reasons[impossible] = "impossible_value"
        reasons[impossible & _usual_in_another_unit(column, numbers.to_numpy())] = "wrong_unit"
    if column.kind == "integer":
        reasons[(numbers % 1 != 0).to_numpy()] = "not_whole"
    reasons[~form] = "not_a_number"
    reasons[_full_match(texts, COMMA_NUMBER)] = "decimal_comma"
    return numbers, reasons


def _usual_in_another_unit(column: Column, numbers: np.ndarray) -> np.ndarray:
    usual = np.zeros(len(numbers), dtype=bool)
    if column.plausible:
        for _, factor in UNIT_SLIPS.get(column.unit, ()):
            usual |= ~outside(numbers * factor, column.plausible)
    return usual


_CHECKS: dict[str, Callable[[Column, pd.Series, dt.date | None], Checked]] = {
    "id": _check_text,
    "text": _check_text,
    "word": _check_word,
    "date": _check_date,
    "number": _check_number,
    "integer": _check_number,
}

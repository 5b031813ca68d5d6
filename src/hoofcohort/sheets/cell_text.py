"""One stored value of a spreadsheet as text, as a person would read it."""

from __future__ import annotations

import datetime as dt
import re
from typing import Any

_ESCAPED = re.compile(r"_x([0-9A-Fa-f]{4})_")
_THREE_DECIMALS = re.compile(r"-?[0-9]{1,3}\.[0-9]{3}")


def cell_text(value: Any, percent: bool = False) -> str:
    """Return a value as text.

    Parameters
    ----------
    value : object
        As the library stores it.
    percent : bool
        The cell shows its number as per cent.

    Returns
    -------
    str
        A date is ISO 8601, without a time at midnight; a number has a point and 15 digits, as a spreadsheet shows
        it; one of exactly three decimals gets a fourth, a zero, so that none is taken for thousands.
    """
    if value is None:
        return ""
    if isinstance(value, str):
        return _ESCAPED.sub(_sign, value) if "_x" in value else value
    if isinstance(value, bool):
        return "TRUE" if value else "FALSE"
    if isinstance(value, int | float):
        return _number(value, percent)
    if isinstance(value, dt.datetime):
        return value.date().isoformat() if value.time() == dt.time() else value.isoformat(sep=" ")
    if isinstance(value, dt.timedelta):
        seconds = round(value.total_seconds())
        return f"{seconds // 3600}:{seconds // 60 % 60:02}:{seconds % 60:02}"
    return value.isoformat() if isinstance(value, dt.date | dt.time) else str(value)


def _sign(found: re.Match[str]) -> str:
    sign = chr(int(found.group(1), 16))
    return "" if "\ud800" <= sign <= "\udfff" else sign


def _number(value: float, percent: bool) -> str:
    if percent:
        return f"{value * 100:.12g}%"
    if isinstance(value, int):
        return str(value)
    if value.is_integer() and abs(value) < 1e15:
        return str(int(value))
    text = f"{value:.15g}"
    return f"{text}0" if _THREE_DECIMALS.fullmatch(text) else text

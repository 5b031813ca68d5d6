"""Read the dates that people write: what one cell means."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from hoofcohort.intake.remedies import PIVOT

Order = Literal["DMY", "MDY", "YMD", ""]

_TIME = r"[ T][0-2]?[0-9]:[0-5][0-9](?::[0-5][0-9](?:\.[0-9]+)?)?Z?"
"""A time of day: it is left out."""
_ISO = re.compile(r"([0-9]{4})([-/. ])([0-9]{1,2})\2([0-9]{1,2})(?:" + _TIME + ")?")
_COMPACT = re.compile(r"(19[0-9]{2}|20[0-9]{2})([0-9]{2})([0-9]{2})")
THREE = re.compile(r"([0-9]{1,2})\s*[-/.]\s*([0-9]{1,2})\s*[-/.]\s*([0-9]{4}|[0-9]{2})(?:" + _TIME + ")?")
_SERIAL = re.compile(r"([1-9][0-9]{4})(?:[.,][0-9]+)?")
DAY_FIRST = re.compile(r"([0-9]{1,2})(?:st|nd|rd|th|er)?[-/. ]*(?:of )?([^\W\d_]+)\.?[-/., ]*([0-9]{4}|[0-9]{2})")
_MONTH_FIRST = re.compile(r"([^\W\d_]+)\.?[-/. ]*([0-9]{1,2})(?:st|nd|rd|th)?[-/., ]+([0-9]{4}|[0-9]{2})")
_MONTHS = (
    "jan january januar janvier janv januari jän jänner",
    "feb february februar février fevrier févr fevr februari",
    "mar march märz maerz mär mrz mars maart mrt",
    "apr april avril avr",
    "may mai mei",
    "jun june juni juin",
    "jul july juli juillet juil",
    "aug august août aout augustus",
    "sep sept september septembre",
    "oct october oktober okt octobre",
    "nov november novembre",
    "dec december dezember dez décembre decembre déc",
)
MONTH_OF = {word: number for number, words in enumerate(_MONTHS, start=1) for word in words.split()}
SERIAL_START = {1900: dt.date(1899, 12, 30), 1904: dt.date(1904, 1, 1)}
"""Day 0 of a spreadsheet's serial dates after February 1900, by the system of dates."""


@dataclass(frozen=True)
class Date:
    """What one cell means: ``iso``, or a code and the dates it could mean; ``form`` names how it was written."""

    iso: str = ""
    code: str = ""
    meant: tuple[str, ...] = ()
    form: str = ""


def both_ways(text: str) -> tuple[str, ...]:
    """Return what a cell with a year of two digits means when the year stands last, and when it stands first."""
    match = THREE.fullmatch(text) or DAY_FIRST.fullmatch(text)
    if match is None:
        return ()
    month = int(match[2]) if match[2].isdecimal() else MONTH_OF.get(match[2].casefold(), 0)
    read = (_one(_year(match[3]), month, int(match[1]), ""), _one(_year(match[1]), month, int(match[3]), ""))
    return tuple(date.iso for date in read if date.iso)


@lru_cache(maxsize=100_000)
def read_date(text: str, order: Order = "", system: int = 1900) -> Date:
    """Read one cell.

    Parameters
    ----------
    text : str
        The cell, not empty.
    order : {'DMY', 'MDY', 'YMD', ''}
        The column's order; empty: not known.
    system : {1900, 1904}
        From which year a spreadsheet's serial numbers count.
    """
    text = re.sub(r"\s+", " ", text.replace("\u00a0", " ")).strip()
    if match := _ISO.fullmatch(text):
        return _iso(match)
    if match := _COMPACT.fullmatch(text):
        return _one(int(match[1]), int(match[2]), int(match[3]), form="compact")
    if match := THREE.fullmatch(text):
        return _three(match[1], match[2], match[3], order, year_may_lead(text))
    if match := _SERIAL.fullmatch(text):
        day = SERIAL_START[system] + dt.timedelta(days=int(match.group(1)))
        return Date(str(day), form="serial")
    if match := DAY_FIRST.fullmatch(text):
        day_text, month, year = match.groups()
    elif match := _MONTH_FIRST.fullmatch(text):
        month, day_text, year = match.groups()
    else:
        return Date(code="not_a_date")
    number = MONTH_OF.get(month.casefold())
    if order == "YMD" and len(year) == len(day_text) == 2:
        day_text, year = year, day_text
    form = "named" if len(year) == 4 else "named, year of two digits"
    return _one(_year(year), number, int(day_text), form) if number else Date(code="not_a_date")


def since_1970(text: str) -> str:
    """Return the date of a whole number that counts days since 1970-01-01, as POSIX time begins; else nothing."""
    match = _SERIAL.fullmatch(text.strip())
    return str(dt.date(1970, 1, 1) + dt.timedelta(days=int(match[1]))) if match else ""


def _iso(match: re.Match) -> Date:
    year, month, day = int(match[1]), int(match[3]), int(match[4])
    read = _one(year, month, day, form="iso")
    if read.iso:
        return read
    exchanged = _one(year, day, month, form="iso")
    return Date(code="day_month_exchanged", meant=(exchanged.iso,)) if exchanged.iso else read


def _year(text: str) -> int:
    year = int(text)
    return year if len(text) == 4 else year + (2000 if year < PIVOT else 1900)


def year_may_lead(text: str) -> bool:
    """Tell whether a year of two digits may stand first: not before points or strokes (common practice, no source)."""
    return "." not in text and "/" not in text


def _one(year: int, month: int, day: int, form: str) -> Date:
    try:
        return Date(str(dt.date(year, month, day)), form=form)
    except ValueError:
        return Date(code="impossible_date", form=form)


def _three(first: str, second: str, third: str, order: Order, year_may_lead: bool) -> Date:
    """Read three numbers; without an order only where one order alone could give a date, or all give the same."""
    short = len(third) == 2
    form = "numbers, year of two digits" if short else "numbers"
    orders = {"DMY": (third, second, first), "MDY": (third, first, second)}
    if short and (order == "YMD" or (not order and year_may_lead and int(first) > 12 and int(third) <= 31)):
        orders["YMD"] = (first, second, third)
    if order == "YMD" and order not in orders:
        order = ""
    read = {name: _one(_year(y), int(m), int(d), form) for name, (y, m, d) in orders.items()}
    if order:
        if read[order].iso:
            return read[order]
        other = {"DMY": "MDY", "MDY": "DMY"}.get(order, "")
        if other and read[other].iso:
            return Date(code="day_month_exchanged", meant=(read[other].iso,))
        return read[order]
    if any(int(m) <= 12 and not read[name].iso for name, (_, m, _) in orders.items()):
        return Date(code="impossible_date")
    meant = tuple(dict.fromkeys(date.iso for date in read.values() if date.iso))
    if len(meant) == 1:
        return Date(meant[0], form=form)
    return Date(code="ambiguous_date", meant=meant) if meant else Date(code="impossible_date")

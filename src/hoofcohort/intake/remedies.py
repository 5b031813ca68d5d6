"""Say what to do about one rejected cell: what was found, what is allowed, and the value that would make sense."""

from __future__ import annotations

import datetime as dt
import math
import re

from hoofcohort.errors import nearest
from hoofcohort.intake.cells import NUMBER
from hoofcohort.tables import Column
from hoofcohort.tables.declare import DATES_POSSIBLE, UNIT_SLIPS
from hoofcohort.tables.dictionary import allowed_text, limits_text

_MISSING_WORDS = ("na", "n/a", "nan", "none", "null", "nil", "missing", "unknown", "-", "--", ".", "?", "x")
PIVOT = 69
"""From which year of two digits on one of the last century is meant: that of POSIX, from memory."""
_LEAVE_EMPTY = "leave the cell empty when the value is missing"


def cell_remedy(column: Column, reason: str, text: str, as_of: dt.date | None = None) -> str:
    """Return what to do about a cell that was rejected by itself.

    Parameters
    ----------
    column : Column
    reason : str
        One of the codes that ``cells.check_column`` gives.
    text : str
        The cell as written.
    as_of : date or None
        The day that no date can be later than.
    """
    word = text.strip()
    match reason:
        case "missing_value":
            return f"fill it in: {allowed_text(column)}"
        case "example_row":
            return "delete the row; nothing is lost by it"
        case "bad_text":
            return "write it on one line, without tabs"
        case "bad_format":
            return f"write {column.pattern_text}; see that no spreadsheet turns it into a number"
        case "unknown_word":
            return f"write one of {', '.join(column.words)}{likely_word(word, column)}"
        case "not_a_number":
            return _number_remedy(column, word)
        case "decimal_comma":
            return _comma_remedy(column, word)
        case "not_whole":
            return f"write a whole number, {limits_text(column.possible or (None, None), column.unit)}"
        case "wrong_unit" | "impossible_value":
            return _range_remedy(column, word)
        case "future_date":
            return f"write a date no later than {as_of}; check the year"
        case _:
            return _date_remedy(word, reason)


def likely_word(word: str, column: Column) -> str:
    """Return ``; did you mean ...?`` for the allowed word that a wrong one most likely stands for, or nothing."""
    slips = dict(column.slips)
    meant = slips.get(word.lower()) or slips.get(word.upper())
    return f"; did you mean '{meant}'?" if meant else nearest(word, column.words)


def other_units(column: Column, value: float) -> str:
    """Return which other units would make a value usual, and what to write then; nothing when none would."""
    if column.plausible is None or not math.isfinite(value):
        return ""
    low, high = column.plausible
    told = []
    for unit, factor in UNIT_SLIPS.get(column.unit, ()):
        written, converted = _from_hands(value) if unit == "hands" else (unit, value * factor)
        if (low is None or converted >= low) and (high is None or converted <= high):
            told.append(f"if it was written in {written}, write {converted:.4g}")
    return "; ".join(told)


def slipped_point(column: Column, value: float) -> str:
    """Return ``; if the decimal point slipped, write ...`` where that would be usual; else nothing."""
    if column.plausible is None or value == 0:
        return ""
    low, high = column.plausible
    for shift in (value * 10, value / 10):
        if (low is None or shift >= low) and (high is None or shift <= high):
            return f"; if the decimal point slipped, write {shift:.6g}"
    return ""


def _from_hands(value: float) -> tuple[str, float]:
    """Return how a height in hands was written, and its centimetres.

    15.2 is 15 hands and 2 inches; a hand has four inches, so 15.5 and 15.25 can only be decimal fractions.
    """
    hands = int(value)
    inches = round(10 * (value - hands), 6)
    if inches in (0, 1, 2, 3):
        return "hands", (4 * hands + inches) * 2.54
    return "hands with a decimal fraction", value * 10.16


def _number_remedy(column: Column, word: str) -> str:
    if word.lower() in _MISSING_WORDS:
        return _LEAVE_EMPTY
    if "%" in word:
        return f"write it without per cent{f', in {column.unit}' if column.unit else ''}; {_LEAVE_EMPTY}"
    found = re.findall(r"(?<![0-9.,eE])" + NUMBER + r"(?![0-9.,eE])", word)
    if len(found) == 1 and _is_possible(column, found[0]):
        return f"write the number alone: {found[0]}"
    return f"write one number with a decimal point and nothing else; {_LEAVE_EMPTY}"


def _comma_remedy(column: Column, word: str) -> str:
    meant = [word.replace(",", ".")]
    if re.fullmatch(r"[+-]?[1-9][0-9]{0,2},[0-9]{3}", word):
        meant.append(word.replace(",", ""))
    possible = [text for text in meant if _is_possible(column, text)]
    if not possible:
        return f"write one number with a decimal point and nothing else; {_LEAVE_EMPTY}"
    return f"write {possible[0]}" + (f", or {meant[1]} if the comma parts the thousands" if len(possible) > 1 else "")


def _is_possible(column: Column, text: str) -> bool:
    low, high = column.possible or (None, None)
    value = float(text)
    whole = column.kind != "integer" or value.is_integer()
    return whole and (low is None or value >= low) and (high is None or value <= high)


def _range_remedy(column: Column, word: str) -> str:
    if column.kind == "date":
        return f"write a date from {DATES_POSSIBLE[0]} to {DATES_POSSIBLE[1]}; check the year"
    allowed = f"possible are {limits_text(column.possible or (None, None), column.unit)}"
    value = float(word)
    if hint := other_units(column, value):
        return f"{allowed}; {hint}"
    low, high = column.possible or (None, None)
    if column.name == "birth_year" and re.fullmatch("[0-9]{2}", word):
        year = f"{19 if value >= PIVOT else 20}{word}"
        if _is_possible(column, year):
            return f"{allowed}; if the year is short for {year}, write that; else correct it or leave the cell empty"
    if value < 0 and (low is None or -value >= low) and (high is None or -value <= high):
        return f"{allowed}; if the minus sign is a slip, write {word.removeprefix('-')}"
    return f"{allowed}; measure again or correct it, or leave the cell empty{slipped_point(column, value)}"


def _date_remedy(word: str, reason: str) -> str:
    if reason == "day_month_exchanged":
        year, day, month = word.split("-")
        return f"write YYYY-MM-DD: {year}-{month}-{day}"
    if reason == "impossible_date":
        return "write a day that exists, YYYY-MM-DD"
    meant = _other_forms(word)
    return f"write YYYY-MM-DD: {' or '.join(meant)}" if meant else "write YYYY-MM-DD, such as 2026-03-14"


def _other_forms(word: str) -> list[str]:
    """Return the dates that another way of writing can mean; both when day and month can be exchanged."""
    if found := re.fullmatch(r"([0-9]{4})[-/. ]([0-9]{1,2})[-/. ]([0-9]{1,2})(?:[ T].*)?", word):
        year, month, day = map(int, found.groups())
        orders = [(year, month, day)]
    elif found := re.fullmatch(r"([0-9]{1,2})[-/. ]([0-9]{1,2})[-/. ]([0-9]{4})", word):
        first, second, year = map(int, found.groups())
        orders = [(year, second, first), (year, first, second)]
    elif found := re.fullmatch(r"([0-9]{4})([0-9]{2})([0-9]{2})", word):
        year, month, day = map(int, found.groups())
        orders = [(year, month, day)]
    else:
        return []
    meant = []
    for order in orders:
        try:
            meant.append(str(dt.date(*order)))
        except ValueError:
            continue
    return list(dict.fromkeys(meant))

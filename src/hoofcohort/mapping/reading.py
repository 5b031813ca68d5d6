"""Read one column's cells by its kind: each different text gives a value, a reason or both."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from decimal import Decimal

import numpy as np
import pandas as pd

from hoofcohort.errors import nearest
from hoofcohort.intake.remedies import likely_word
from hoofcohort.mapping import dates, numbers, units
from hoofcohort.mapping.mapping import To
from hoofcohort.tables import Column
from hoofcohort.tables.declare import EXAMPLE_CODE

_LEAVE_EMPTY = "leave the cell empty when the value is missing"
_COMPACT = str.maketrans("", "", " -.\u00a0")


@dataclass
class Reading:
    """A column as read.

    Attributes
    ----------
    codes : ndarray of int, shape (n,)
        Row i holds the different text ``codes[i]``.
    texts, ours : ndarray of object, shape (d,)
        The different texts, and what each becomes; an empty text where nothing does.
    reasons, remedies : list of str, d each
        A code of ``reasons.SENTENCES`` and what to do; empty for a plain cell.
    understood : list of str
        What was decided for the column.
    """

    codes: np.ndarray
    texts: np.ndarray
    ours: np.ndarray
    reasons: list[str]
    remedies: list[str]
    understood: list[str] = field(default_factory=list)

    def put(self, place: int, value: str = "", reason: str = "", remedy: str = "") -> None:
        """Set what one text becomes."""
        self.ours[place], self.reasons[place], self.remedies[place] = value, reason, remedy


def read_column(cells: np.ndarray | pd.Series, to: To, column: Column, typed: bool = False) -> Reading:
    """Read a column.

    Parameters
    ----------
    cells : array of str, shape (n,)
    to : To
        What the mapping says of it.
    column : Column
        Ours.
    typed : bool
        The cells come from a spreadsheet that knows numbers and dates.
    """
    codes, texts = pd.factorize(np.asarray(cells, dtype=object))
    empty = [""] * len(texts)
    reading = Reading(codes, texts, np.array(empty, dtype=object), list(empty), list(empty))
    kind = "date" if to.unit == units.YEAR_OF_DATE else column.kind
    words = {plain(theirs): ours for theirs, ours in to.words.items()}
    left = [place for place, text in enumerate(texts) if text]
    if len(left) != len(texts) and not column.nullable and column.default is None:
        place = next(place for place, text in enumerate(texts) if not text)
        reading.put(place, reason="missing_value", remedy=f"fill it in: {column.meaning}")
    if words and kind != "word":
        for place in left:
            if ours := words.get(plain(texts[place])):
                reading.put(place, ours)
        left = [place for place in left if not reading.ours[place]]
    _READERS[kind](reading, left, to, column, typed)
    if to.words:
        reading.understood.append(f"words read as the mapping says: {len(to.words)}")
    return reading


def plain(word: str) -> str:
    """Return a word without differences of case, blanks, signs at its end and typographic quotes."""
    return " ".join(word.replace("’", "'").replace("_", " ").split()).casefold().rstrip(".")


def _missing(reading: Reading, place: int, column: Column) -> bool:
    text = reading.texts[place]
    if not numbers.is_missing(text, column.kind == "id"):
        return False
    if column.nullable or column.default is not None:
        reading.put(place, reason="taken_as_missing", remedy=f"'{text}' is taken as empty; nothing to do if so")
    else:
        reading.put(place, reason="missing_value", remedy=f"fill it in: {column.meaning}")
    return True


def _read_numbers(reading: Reading, left: list[int], to: To, column: Column, typed: bool) -> None:
    texts, theirs = reading.texts, to.unit or column.unit
    same = theirs == column.unit
    waiting = []
    for place in left:
        text = texts[place]
        if same and numbers.PLAIN.fullmatch(text) and (column.kind == "number" or "." not in text):
            reading.ours[place] = text
        elif not _missing(reading, place, column):
            waiting.append(place)
    marks = numbers.Marks(".")
    if any("," in text or "." in text for text in (texts[place] for place in left)):
        marks = numbers.find_marks((texts[place] for place in left), to.decimal, to.thousands, typed)
        reading.understood += _marks_said(marks)
    if to.decimal == "," or marks.decimal == ",":
        waiting = [place for place in left if not reading.reasons[place]]
    for place in waiting:
        _read_number(reading, place, marks.decimal, theirs, column)
    if not same:
        said = " and inches (15.2: 15 hands 2 inches)" if theirs == units.HANDS else ""
        reading.understood.append(f"{theirs}{said} converted to {column.unit}")


def _marks_said(marks: numbers.Marks) -> list[str]:
    name = {".": "point", ",": "comma"}
    if marks.said == "mapping":
        return [f"decimal {name[marks.decimal]}, as the mapping says"]
    if marks.said == "cells":
        return [f"decimal {name[marks.decimal]}, because of the cell '{marks.example}'"]
    if marks.both:
        return ["both decimal points and decimal commas occur; a number that could be read in two ways comes back"]
    return []


def _read_number(reading: Reading, place: int, decimal: numbers.Mark, theirs: str, column: Column) -> None:
    text = reading.texts[place]
    number = numbers.read_number(text, decimal, column.unit)
    if number.value is None or number.code in ("not_a_number", "unit_does_not_fit"):
        code = number.code or "not_a_number"
        reading.put(place, reason=code, remedy=_number_remedy(code, number, column))
        return
    unit = number.unit or theirs
    if number.unit and theirs == units.HANDS and number.unit == "in" and '"' in text:
        unit = "in"
    try:
        value = units.to_ours(number.value, unit, column.unit) if column.unit else number.value
    except ValueError:
        half = int(number.value)
        remedy = f"after the point stand inches, 0 to 3; if it is a decimal fraction, {half}.5 is written {half}.2"
        reading.put(place, reason="hands_fraction", remedy=remedy)
        return
    if column.kind == "integer" and value % 1 != 0:
        if unit != "months":
            reading.put(place, reason="not_whole", remedy="write a whole number")
            return
        value = value.quantize(Decimal(1))
    told = units.written(value)
    if number.approximate:
        reading.put(
            place, told, "approximate", f"'{text}' is kept as {_with(told, column)}; correct it if it was measured"
        )
    elif number.code == "other_mark":
        reading.put(
            place, told, "other_mark", f"'{text}' is read as {_with(told, column)}; write one decimal mark throughout"
        )
    elif number.unit:
        reading.put(place, told, "unit_in_cell", f"'{text}' is read as {_with(told, column)}")
    else:
        reading.put(place, told)


def _with(value: str, column: Column) -> str:
    return f"{value} {column.unit}".rstrip()


def _number_remedy(code: str, number: numbers.Number, column: Column) -> str:
    if code == "ambiguous_number":
        return f"write {number.meant[0]} or {number.meant[1]}, or say in the mapping which decimal mark the column has"
    if code == "range_of_values":
        first, second = (Decimal(text.replace(",", ".")) for text in number.meant)
        return f"write one value, such as the mean {units.written((first + second) / 2)}, or one row for each reading"
    if code == "unit_does_not_fit":
        allowed = ", ".join(units.units_for(column.unit)) or "none"
        return f"{number.unit} is no unit of {column.title}; allowed: {allowed}"
    if number.meant and number.meant[0] != "None":
        return f"write the number alone: {number.meant[0]}"
    return f"write one number and nothing else; {_LEAVE_EMPTY}"


def _read_dates(reading: Reading, left: list[int], to: To, column: Column, typed: bool) -> None:
    left = [place for place in left if not _missing(reading, place, column)]
    years = to.unit == units.YEAR_OF_DATE
    order = dates.find_order((reading.texts[place] for place in left), to.date_order)
    forms: Counter[str] = Counter()
    serials = []
    for place in left:
        text = reading.texts[place]
        if years and re.fullmatch("[0-9]{4}", text):
            reading.ours[place] = text
            continue
        date = dates.read_date(text, order.order, to.date_system)
        if date.code:
            reading.put(place, reason=date.code, remedy=_date_remedy(date, order))
            continue
        forms[date.form] += 1
        reading.put(place, date.iso[:4] if years else date.iso)
        if date.form == "serial":
            serials.append(place)
    if serials and len(serials) < len(left):
        for place in serials:
            told = f"'{reading.texts[place]}' is read as {reading.ours[place]} ({to.date_system} date system)"
            reading.put(place, reading.ours[place], "serial_date", f"{told}; correct it if it is no date")
    reading.understood += _dates_said(reading, order, forms, serials, to)


def _dates_said(reading: Reading, order: dates.Orders, forms: Counter[str], serials: list[int], to: To) -> list[str]:
    told = []
    words = {"DMY": "day, month, year", "MDY": "month, day, year", "YMD": "year, month, day"}
    if any(form.startswith("numbers") for form in forms):
        if order.said == "mapping":
            told.append(f"dates are {words[order.order]}, as the mapping says")
        elif order.said == "cells":
            told.append(f"dates are {words[order.order]}, because of the cell '{order.example}'")
    if order.both:
        told.append("dates of more than one order occur; a date that could be read in two ways comes back")
    if "numbers, year of two digits" in forms:
        told.append("years of two digits: 00 to 68 are 2000 to 2068, 69 to 99 are 1969 to 1999")
    if any(":" in text and ours for text, ours in zip(reading.texts, reading.ours, strict=True)):
        told.append("times of day are left out")
    if serials:
        first = serials[0]
        told.append(
            f"numbers of days in the {to.date_system} date system, such as '{reading.texts[first]}' for "
            f"{reading.ours[first]}"
        )
    return told


def _date_remedy(date: dates.Date, order: dates.Orders) -> str:
    match date.code:
        case "ambiguous_date":
            return f"write {' or '.join(date.meant)}, or say in the mapping in which order the column's dates are"
        case "day_month_exchanged":
            who = "the mapping says" if order.said == "mapping" else "the column's other cells say"
            why = "" if not order.order else f"; {who} {order.order}"
            return f"write YYYY-MM-DD: {date.meant[0]}{why}"
        case "impossible_date":
            return "write a day that exists, YYYY-MM-DD"
        case _:
            return "write YYYY-MM-DD, such as 2026-03-14"


def _read_words(reading: Reading, left: list[int], to: To, column: Column, typed: bool) -> None:
    known = {plain(word): word for word in column.words} | {plain(theirs): ours for theirs, ours in to.words.items()}
    for place in left:
        text = reading.texts[place]
        if ours := known.get(plain(text)):
            reading.ours[place] = ours
        elif not _missing(reading, place, column):
            hint = likely_word(text, column) or nearest(text, list(to.words))
            allowed = ", ".join(column.words)
            remedy = f"write one of {allowed}, or give '{text}' a meaning in the mapping{hint}"
            reading.put(place, reason="unknown_word", remedy=remedy)


def _read_texts(reading: Reading, left: list[int], to: To, column: Column, typed: bool) -> None:
    for place in left:
        text = str(reading.texts[place])
        if _missing(reading, place, column):
            continue
        if any(ord(sign) < 32 or ord(sign) == 127 or sign in "\x85\u2028\u2029" for sign in text):
            reading.put(place, reason="bad_text", remedy="write it on one line, without tabs")
        elif column.name == "horse_id" and text == EXAMPLE_CODE:
            reading.put(place, reason="example_row", remedy="delete the row; nothing is lost by it")
        elif column.pattern:
            _read_pattern(reading, place, column)
        else:
            reading.ours[place] = text


def _read_pattern(reading: Reading, place: int, column: Column) -> None:
    text = str(reading.texts[place])
    compact = text.removesuffix(".0").translate(_COMPACT).upper()
    if re.fullmatch(column.pattern, text):
        reading.ours[place] = text
    elif re.fullmatch(column.pattern, compact) and "E+" not in text.upper():
        reading.put(place, compact, "spaces_removed", f"'{text}' is read as {compact}")
    else:
        remedy = f"write {column.pattern_text}; see that no spreadsheet turns it into a number"
        reading.put(place, reason="bad_format", remedy=remedy)


_READERS: dict[str, Callable[[Reading, list[int], To, Column, bool], None]] = {
    "id": _read_texts,
    "text": _read_texts,
    "word": _read_words,
    "date": _read_dates,
    "number": _read_numbers,
    "integer": _read_numbers,
}

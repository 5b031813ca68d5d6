"""Read a column of numbers: decimal mark, units and doubts of each different text."""

from __future__ import annotations

import re
from decimal import Decimal

from hoofcohort.mapping import hints, numbers, units
from hoofcohort.mapping.column_reading import Reading, take_missing
from hoofcohort.mapping.decimal_marks import Marks, find_marks
from hoofcohort.mapping.mapping import To
from hoofcohort.tables import Column

_LEAVE_EMPTY = "leave the cell empty when the value is missing"
_MINUTES = re.compile(r"([0-9]{1,3})\s*°\s*([0-9]{1,2})\s*['′’]?")
_ALIKE = Decimal("1.25")
"""How many times the smaller of two readings of a thing the larger can be; the project's own choice, no source."""


def read_numbers(reading: Reading, left: list[int], to: To, column: Column, typed: bool) -> None:
    """Read a column of numbers: its decimal mark first, then each text that is no plain number."""
    texts, theirs = reading.texts, to.unit or column.unit
    same = theirs == column.unit
    waiting = []
    for place in left:
        text = texts[place]
        if same and numbers.PLAIN.fullmatch(text) and (column.kind == "number" or "." not in text):
            reading.ours[place] = text
        elif not take_missing(reading, place, column):
            waiting.append(place)
    marks = Marks(".")
    if any("," in text or "." in text for text in (texts[place] for place in left)):
        marks = find_marks((texts[place] for place in left), to.decimal, to.thousands, typed)
        reading.understood += _marks_said(marks)
    if to.decimal == "," or marks.decimal == ",":
        waiting = [place for place in left if not reading.reasons[place]]
    for place in waiting:
        _read_number(reading, place, marks.decimal, theirs, column)
    if not same:
        said = " and inches (15.2: 15 hands 2 inches)" if theirs == units.HANDS else ""
        reading.understood.append(f"{theirs}{said} converted to {column.unit}")


def _marks_said(marks: Marks) -> list[str]:
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
        reading.put(place, reason=code, remedy=_number_remedy(code, number, text, theirs, column))
        return
    unit = number.unit or theirs
    if number.unit and theirs == units.HANDS and number.unit == "in" and '"' in text:
        unit = "in"
    try:
        value = units.to_ours(number.value, unit, column.unit) if column.unit else number.value
    except ValueError:
        remedy = _hands_remedy(number.value, text, column)
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


def _hands_remedy(value: Decimal, text: str, column: Column) -> str:
    """Return what to write for a height in hands that has no whole inches after its point."""
    told = ["after the point stand inches, 0 to 3"]
    cm = value * units.FACTORS["cm"][units.HANDS]
    hands, inches = int(value), value % 1 * 4
    if column.plausible and Decimal(column.plausible[0] or 0) <= cm <= Decimal(column.plausible[1] or cm):
        exact = inches == int(inches)
        told.append(
            f"if it is a decimal fraction, {units.written(value)} is written {hands}.{int(inches)}"
            if exact
            else f"if it is a decimal fraction, write {cm:.1f} cm"
        )
    if others := hints.in_other_units(column, hints.Cell(float(cm), text, units.HANDS)):
        told.append(others)
    return "; ".join(told)


def _number_remedy(code: str, number: numbers.Number, text: str, theirs: str, column: Column) -> str:
    """Return what to write instead of a cell; a value is only named when it is possible."""
    if code == "ambiguous_number":
        return _ambiguous_remedy(number, theirs, column)
    if code == "range_of_values":
        return _range_remedy(number, theirs, column)
    if code == "unit_does_not_fit":
        allowed = ", ".join(units.units_for(column.unit)) or "none"
        return f"{number.unit} is no unit of {column.title}; allowed: {allowed}"
    if "%" in text:
        return f"write it without per cent{f', in {theirs}' if theirs else ''}; {_LEAVE_EMPTY}"
    if theirs == "deg" and (match := _MINUTES.fullmatch(text)) and int(match[2]) < 60:
        degrees = (int(match[1]) + Decimal(match[2]) / 60).quantize(Decimal("0.01"))
        if _is_possible(degrees, theirs, column):
            return f"if it is degrees and minutes, write {units.written(degrees)}; else write one number"
    if number.meant and (value := _in_unit(Decimal(number.meant[0]), number.unit, theirs, column)):
        return f"write the number alone: {value}" if number.unit in ("?", theirs) else f"write {value}"
    return f"write one number and nothing else; {_LEAVE_EMPTY}"


def _ambiguous_remedy(number: numbers.Number, theirs: str, column: Column) -> str:
    """Return what to write for a number with a mark that may part thousands: in a form that means one thing alone."""
    told = []
    for meant in number.meant:
        if _is_possible(Decimal(meant), theirs, column):
            text = units.written(Decimal(meant))
            told.append(f"{text}0" if numbers.AMBIGUOUS.fullmatch(text) else text)
    if not told:
        return f"neither {' nor '.join(number.meant)} is possible; correct it, or {_LEAVE_EMPTY}"
    if len(told) == 1:
        return f"write {told[0]}; read in the other way it is not possible"
    return f"write {' or '.join(told)}, or say in the mapping which decimal mark the column has"


def _range_remedy(number: numbers.Number, theirs: str, column: Column) -> str:
    """Return what to write for two values in a cell; their mean only where they are alike and their unit is clear."""
    first, second = (Decimal(text.replace(",", ".")) for text in number.meant)
    one = "or one row for each reading"
    if theirs == units.HANDS and not number.unit:
        inches = f"if it is {first} hands and {second} inches, write {first}.{second}; else "
        fits = first % 1 == 0 and second in (0, 1, 2, 3) and _is_possible(first + second / 10, theirs, column)
        return f"{inches if fits else ''}write one value, {one}"
    alike = 0 < max(first, second) <= min(first, second) * _ALIKE
    mean = _in_unit((first + second) / 2, number.unit, theirs, column) if alike and number.unit != "?" else ""
    return f"write one value, such as the mean {mean}, {one}" if mean else f"write one value, {one}"


def _is_possible(value: Decimal, unit: str, column: Column) -> bool:
    """Tell whether a value in some unit lies within what is possible for a column."""
    try:
        ours = units.to_ours(value, unit, column.unit) if column.unit else value
    except ValueError:
        return False
    low, high = column.possible or (None, None)
    whole = column.kind != "integer" or ours % 1 == 0
    return whole and (low is None or ours >= Decimal(low)) and (high is None or ours <= Decimal(high))


def _in_unit(value: Decimal, unit: str, theirs: str, column: Column) -> str:
    """Return a value as the member's column would have it; empty when it is not possible there, or in another unit.

    Parameters
    ----------
    unit : str
        The unit in the cell; empty or ``?``: that of the column, ``theirs``.
    """
    own = theirs if unit in ("", "?") else unit
    if (own != theirs and own not in units.units_for(column.unit)) or not _is_possible(value, own, column):
        return ""
    if own == theirs:
        return units.written(value)
    if theirs != column.unit:
        return f"{units.written(value)} {unit}"
    return units.written(units.to_ours(value, unit, column.unit))

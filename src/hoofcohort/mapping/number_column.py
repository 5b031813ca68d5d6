"""Read a column of numbers: decimal mark, units and doubts of each different text."""

from __future__ import annotations

from decimal import Decimal

from hoofcohort.mapping import numbers, units
from hoofcohort.mapping.column_reading import Reading, take_missing
from hoofcohort.mapping.mapping import To
from hoofcohort.tables import Column

_LEAVE_EMPTY = "leave the cell empty when the value is missing"


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

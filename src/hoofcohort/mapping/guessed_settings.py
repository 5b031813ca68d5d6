"""Guess a column's unit, decimal mark, order of dates and words from its cells, and say what they leave open."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from hoofcohort.mapping import dates, numbers, units
from hoofcohort.mapping.cell_words import WORDS
from hoofcohort.mapping.column_reading import plain
from hoofcohort.mapping.date_order import find_order
from hoofcohort.mapping.decimal_marks import find_marks
from hoofcohort.mapping.mapping import FLAT_COLUMNS, To
from hoofcohort.tables import Column

UNDECIDED_ORDER = "the cells do not decide the order of day and month: write date_order: DMY or date_order: MDY"


def in_ours(to: To, texts: list[str]) -> np.ndarray:
    """Return a column's different numbers in our unit, those that can be read."""
    ours = FLAT_COLUMNS[to.to].unit
    found = []
    for number in values_of(texts, to.decimal or "."):
        try:
            found.append(float(units.to_ours(number.value, to.unit or ours, ours)))  # type: ignore[arg-type]
        except ValueError:
            continue
    return np.array(found, dtype=float)


def values_of(texts: list[str], mark: numbers.Mark) -> list[numbers.Number]:
    """Return the texts that can be read as numbers, by a decimal mark."""
    read = [numbers.read_number(text, mark) for text in texts]
    return [number for number in read if number.value is not None]


def share(values: Sequence[numbers.Number], column: Column, unit: str) -> float:
    """Return the share of values that would be plausible if they were in a unit."""
    low, high = column.plausible or column.possible or (None, None)
    good = 0
    for number in values:
        try:
            value = units.to_ours(number.value, unit, column.unit)  # type: ignore[arg-type]
        except ValueError:
            continue
        good += (low is None or value >= low) and (high is None or value <= high)
    return good / len(values) if values else 0.0


def settings(column: Column, unit: str, texts: list[str], typed: bool) -> tuple[To, list[str]]:
    """Return what the column becomes, and what a person has to check besides."""
    if column.name == "birth_year" and any(not text.isdecimal() for text in texts):
        order, doubts = _order(texts)
        return To(to=column.name, unit=units.YEAR_OF_DATE, date_order=order), doubts  # type: ignore[arg-type]
    if column.kind == "date":
        order, doubts = _order(texts)
        return To(to=column.name, date_order=order), doubts  # type: ignore[arg-type]
    if column.kind not in ("number", "integer"):
        return To(to=column.name), []
    marks = find_marks(texts, typed=typed)
    doubts = []
    if not marks.decimal and any(numbers.read_number(text).code == "ambiguous_number" for text in texts):
        doubts.append('the cells do not decide the decimal mark: write decimal: "." or decimal: ","')
    allowed = units.units_for(column.unit)
    if unit and unit in allowed:
        if unit == "in" and column.name == "height_cm" and share(values_of(texts, "."), column, units.HANDS) == 1:
            doubts.append("could be hands as well")
    else:
        unit, said = _likely_unit(column, values_of(texts, marks.decimal or "."), allowed)
        doubts += said
    mark = marks.decimal if marks.said == "cells" else ""
    return To(to=column.name, unit="" if unit == column.unit else unit, decimal=mark), doubts


def _likely_unit(column: Column, values: Sequence[numbers.Number], allowed: Sequence[str]) -> tuple[str, list[str]]:
    if not values or len(allowed) < 2 or share(values, column, column.unit) >= 0.5:
        return "", []
    shares = {unit: share(values, column, unit) for unit in allowed}
    best = max(allowed, key=lambda unit: shares[unit])
    if shares[best] < 0.5:
        return "", [f"few of its numbers are plausible in {column.unit}: check the unit"]
    rivals = [unit for unit in allowed if unit != best and shares[unit] >= 0.5]
    other = f", or {' or '.join(rivals)}" if rivals else ""
    return best, [f"no unit in the header; its numbers look like {best}{other}: check"]


def _order(texts: list[str]) -> tuple[str, list[str]]:
    order = find_order(texts)
    if order.year_first:
        return "", [f"the year of '{min(order.year_first)}' may stand first: write date_order: DMY or date_order: YMD"]
    if order.said == "cells" and any(dates.read_date(text).form in ("iso", "serial") for text in texts):
        return "", []
    if order.said == "cells":
        return order.order, []
    if order.said == "points":
        return "", []
    if any(dates.read_date(text).code == "ambiguous_date" for text in texts):
        return "", [UNDECIDED_ORDER]
    serial = [text for text in texts if dates.read_date(text).form == "serial"]
    return "", [f"days as numbers, such as '{serial[0]}': check date_system"] if serial else []


def word_settings(column: Column, texts: list[str]) -> tuple[To, list[str]]:
    """Return what a column of words becomes, and what a person has to check besides."""
    known = {plain(theirs): ours for ours, words in WORDS.get(column.name, {}).items() for theirs in words}
    own = {plain(word) for word in column.words}
    meant, unknown = {}, []
    for text in texts:
        if plain(text) in own:
            continue
        if ours := known.get(plain(text)):
            meant[text] = ours
        elif not numbers.is_missing(text):
            unknown.append(text)
    doubts = ["check every word"] if meant else []
    if unknown:
        shown = ", ".join(repr(word) for word in unknown[:5])
        doubts.append(f"not known: {shown}{' ...' if len(unknown) > 5 else ''}: add them to words")
    return To(to=column.name, words=meant), doubts

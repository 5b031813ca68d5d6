"""Draft a mapping from a file: a guess for every header, with how sure it is and a sample of the cells."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from difflib import get_close_matches
from typing import Literal

import numpy as np
import pandas as pd

from hoofcohort.mapping import dates, numbers, units
from hoofcohort.mapping.cell_words import WORDS
from hoofcohort.mapping.column_reading import plain
from hoofcohort.mapping.date_order import find_order
from hoofcohort.mapping.feet_in_a_row import feet_in_headers, remedy
from hoofcohort.mapping.mapping import FLAT, FLAT_COLUMNS, Mapping, To, labels, targets
from hoofcohort.mapping.unit_of_column import doubt_unit
from hoofcohort.mapping.vocabulary import HORSE_NAMES, KNOWN_HEADERS, plain_header, unit_of_header
from hoofcohort.sheets.sheet import Sheet
from hoofcohort.tables import TABLES, Column

Confidence = Literal["high", "medium", "low"]
_SAMPLE = 4
_LOOKED_AT = 2000


@dataclass(frozen=True)
class Guess:
    """What one header may be.

    Attributes
    ----------
    header : str
        As a mapping names it.
    to : To or None
        None: nothing was recognised, so that it would be left out.
    confidence : {'high', 'medium', 'low'}
    why : tuple of str
        What the guess rests on, and what a person has to decide.
    sample : tuple of str
        Cells of the column.
    """

    header: str
    to: To | None
    confidence: Confidence
    why: tuple[str, ...]
    sample: tuple[str, ...]


@dataclass(frozen=True)
class Draft:
    """A mapping to be checked by a person, the guesses that it is made of, and what no mapping can put right."""

    mapping: Mapping
    guesses: tuple[Guess, ...]
    missing: tuple[str, ...]
    hints: tuple[str, ...] = ()


def draft(sheet: Sheet) -> Draft:
    """Guess what each column of a sheet is.

    Parameters
    ----------
    sheet : Sheet

    Returns
    -------
    Draft
        An order of day and month, or a decimal mark, that the cells do not decide is left open.
    """
    names = labels(sheet)
    taken: set[str] = set()
    guesses: list[Guess | None] = [None] * len(names)
    per_foot = feet_in_headers(sheet.header)

    def surely(place: int) -> tuple[int, bool, int]:
        rank = _recognised(sheet.header[place])[1]
        return rank, plain_header(sheet.header[place]) in HORSE_NAMES, place

    for place in sorted(range(len(names)), key=surely):
        if place in per_foot:
            texts = _texts(sheet.columns[place])
            why = ("the header names one foot of several",)
            guesses[place] = Guess(names[place], None, "low", why, tuple(texts[:_SAMPLE]))
            continue
        guess = _guess(names[place], _with_unit(sheet, place), _texts(sheet.columns[place]), taken, sheet.typed)
        guesses[place] = guess
        if guess.to is not None:
            taken.add(guess.to.to)
    found = [guess for guess in guesses if guess is not None]
    table = _table(taken)
    fitting = targets(table)
    found = [guess if guess.to is None or guess.to.to in fitting else _left_out(guess, table) for guess in found]
    found = _doubt_units(sheet, found)
    mapping = Mapping(
        table=table,  # type: ignore[arg-type]
        columns={guess.header: guess.to for guess in found if guess.to is not None},
        ignore=[guess.header for guess in found if guess.to is None],
    )
    needed = TABLES["feet" if table == FLAT else table].columns
    missing = [column.name for column in needed if column.required and column.name not in taken]
    if table == FLAT:
        missing += [name for name in ("yard_id", "owner_id") if name not in taken]
    hints = (remedy([names[place] for place in per_foot]),) if per_foot else ()
    return Draft(mapping, tuple(found), tuple(missing), hints)


def _doubt_units(sheet: Sheet, guesses: list[Guess]) -> list[Guess]:
    """Lower the confidence of columns whose header names no unit and whose numbers may be in another than ours."""
    numbers_in = {
        guess.to.to: _in_ours(guess.to, _texts(sheet.columns[place]))
        for place, guess in enumerate(guesses)
        if guess.to is not None and FLAT_COLUMNS[guess.to.to].kind in ("number", "integer")
    }
    told = []
    for place, guess in enumerate(guesses):
        doubt = None
        if guess.to is not None and guess.to.to in numbers_in and not guess.to.unit:
            values, heights = numbers_in[guess.to.to], numbers_in.get("height_cm", np.empty(0))
            tall = np.full(len(values), np.median(heights)) if len(heights) else None
            said = unit_of_header(_with_unit(sheet, place))[1]
            doubt = None if said else doubt_unit(FLAT_COLUMNS[guess.to.to], values, tall)
        if doubt is None:
            told.append(guess)
            continue
        why = f"{doubt.why}: check whether they are {' or '.join(unit for unit, _ in doubt.units)}, and write the unit"
        told.append(replace(guess, confidence="low" if guess.confidence == "low" else "medium", why=(*guess.why, why)))
    return told


def _in_ours(to: To, texts: list[str]) -> np.ndarray:
    """Return a column's different numbers in our unit, those that can be read."""
    ours = FLAT_COLUMNS[to.to].unit
    found = []
    for number in _values(texts, to.decimal or "."):
        try:
            found.append(float(units.to_ours(number.value, to.unit or ours, ours)))  # type: ignore[arg-type]
        except ValueError:
            continue
    return np.array(found, dtype=float)


def _with_unit(sheet: Sheet, place: int) -> str:
    """Return a header with what a row of units below it says."""
    header = sheet.header[place]
    return f"{header} ({sheet.units[place]})" if sheet.units and sheet.units[place] and "(" not in header else header


def _texts(cells: np.ndarray | pd.Series) -> list[str]:
    different = pd.unique(np.asarray(cells, dtype=object)[:_LOOKED_AT])
    return [str(text) for text in different if text]


def _left_out(guess: Guess, table: str) -> Guess:
    return Guess(
        guess.header,
        None,
        "low",
        (f"looks like {guess.to.to if guess.to else ''}, which {table} has not",),
        guess.sample,
    )


def _recognised(header: str) -> tuple[str, int, str]:
    """Return our column, how surely (0 best, 3 not at all), and the header's unit."""
    bare, unit = unit_of_header(header)
    for text in (header, bare):
        if name := KNOWN_HEADERS.get(plain_header(text)):
            return name, 0, unit
    if plain_header(header) in HORSE_NAMES:
        return "horse_id", 2, unit
    words = set(plain_header(bare).split())
    inside = [known for known in KNOWN_HEADERS if " " in known and set(known.split()) <= words]
    if inside:
        return KNOWN_HEADERS[max(inside, key=len)], 1, unit
    near = get_close_matches(plain_header(bare), list(KNOWN_HEADERS), n=1, cutoff=0.82)
    return (KNOWN_HEADERS[near[0]], 2, unit) if near else ("", 3, unit)


def _guess(name: str, header: str, texts: list[str], taken: set[str], typed: bool) -> Guess:
    target, rank, unit = _recognised(header)
    sample = tuple(texts[:_SAMPLE])
    every, texts = texts, [text for text in texts if not numbers.is_missing(text)]
    why = [("the header is known", "the header holds a known name", "the header resembles a known name", "")[rank]]
    if not target or target in taken:
        why = [f"'{target}' is taken by another column"] if target else ["the header is not known"]
        target, rank = _by_contents(texts, taken), 2
        if target:
            why.append("the cells look like it")
    if not target:
        return Guess(name, None, "low", (*why, *_numbers_like(texts)), sample)
    column = FLAT_COLUMNS[target]
    if target == "horse_id" and rank == 2 and plain_header(header) in HORSE_NAMES:
        why = ["a name is taken as the horse's code: see that it is the horse's, and written the same way every time"]
    if column.kind == "word":
        to, doubts = _word_settings(column, every)
    else:
        to, doubts = _settings(column, unit, texts, typed)
    confidence: Confidence = "high" if rank == 0 and not doubts else "low" if rank == 2 else "medium"
    return Guess(name, to, confidence, (*why, *doubts), sample)


def _by_contents(texts: list[str], taken: set[str]) -> str:
    """Return the one column of words, or the day of the visit, that the cells look like; empty for none."""
    if not texts:
        return ""
    lower = {plain(text) for text in texts}
    for name, words in WORDS.items():
        known = {plain(word) for ours, theirs in words.items() for word in (ours, *theirs)}
        if name not in taken and len(lower) > 1 and lower <= known:
            return name
    read = [dates.read_date(text) for text in texts]
    dated = all((date.iso and date.form != "serial") or date.code == "ambiguous_date" for date in read)
    return "visit_date" if dated and "visit_date" not in taken else ""


def _numbers_like(texts: list[str]) -> list[str]:
    values = _values(texts, ".")
    if len(values) < max(3, len(texts) / 2):
        return []
    fitting = [
        column.name
        for column in FLAT_COLUMNS.values()
        if column.plausible and column.unit and _share(values, column, column.unit) == 1
    ]
    return [f"its numbers could be {', '.join(fitting[:6])}"] if fitting else []


def _values(texts: list[str], mark: numbers.Mark) -> list[numbers.Number]:
    read = [numbers.read_number(text, mark) for text in texts]
    return [number for number in read if number.value is not None]


def _share(values: Sequence[numbers.Number], column: Column, unit: str) -> float:
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


def _settings(column: Column, unit: str, texts: list[str], typed: bool) -> tuple[To, list[str]]:
    """Return what the column becomes, and what a person has to check besides."""
    if column.name == "birth_year" and any(not text.isdecimal() for text in texts):
        order, doubts = _order(texts)
        return To(to=column.name, unit=units.YEAR_OF_DATE, date_order=order), doubts  # type: ignore[arg-type]
    if column.kind == "date":
        order, doubts = _order(texts)
        return To(to=column.name, date_order=order), doubts  # type: ignore[arg-type]
    if column.kind not in ("number", "integer"):
        return To(to=column.name), []
    marks = numbers.find_marks(texts, typed=typed)
    doubts = []
    if not marks.decimal and any(numbers.read_number(text).code == "ambiguous_number" for text in texts):
        doubts.append('the cells do not decide the decimal mark: write decimal: "." or decimal: ","')
    allowed = units.units_for(column.unit)
    if unit and unit in allowed:
        if unit == "in" and column.name == "height_cm" and _share(_values(texts, "."), column, units.HANDS) == 1:
            doubts.append("could be hands as well")
    else:
        unit, said = _likely_unit(column, _values(texts, marks.decimal or "."), allowed)
        doubts += said
    mark = marks.decimal if marks.said == "cells" else ""
    return To(to=column.name, unit="" if unit == column.unit else unit, decimal=mark), doubts


def _likely_unit(column: Column, values: Sequence[numbers.Number], allowed: Sequence[str]) -> tuple[str, list[str]]:
    if not values or len(allowed) < 2 or _share(values, column, column.unit) >= 0.5:
        return "", []
    shares = {unit: _share(values, column, unit) for unit in allowed}
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
    if any(dates.read_date(text).code == "ambiguous_date" for text in texts):
        return "", ["the cells do not decide the order of day and month: write date_order: DMY or date_order: MDY"]
    serial = [text for text in texts if dates.read_date(text).form == "serial"]
    return "", [f"days as numbers, such as '{serial[0]}': check date_system"] if serial else []


def _word_settings(column: Column, texts: list[str]) -> tuple[To, list[str]]:
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


def _table(taken: set[str]) -> str:
    def own(table: str) -> set[str]:
        return taken & set(TABLES[table].names) - {"horse_id"}

    if "foot" in taken or own("feet") >= {"visit_date"} or len(own("feet")) > len(own("horses") | own("management")):
        return FLAT if own("horses") or own("management") else "feet"
    return "management" if len(own("management")) > len(own("horses")) else "horses"

"""Read one column's cells by its kind: each different text gives a value, a reason or both."""

from __future__ import annotations

import re
from collections.abc import Callable

import numpy as np
import pandas as pd

from hoofcohort.errors import nearest
from hoofcohort.intake.remedies import likely_word
from hoofcohort.mapping import units
from hoofcohort.mapping.cell_words import likely_ours, numbered_words
from hoofcohort.mapping.column_reading import Reading, plain, take_missing
from hoofcohort.mapping.date_column import read_dates
from hoofcohort.mapping.mapping import To
from hoofcohort.mapping.number_column import read_numbers
from hoofcohort.tables import Column
from hoofcohort.tables.declare import EXAMPLE_CODE

_DATE_CODE = re.compile(r"[0-9]{4}-(?:0[1-9]|1[0-2])-[0-3][0-9](?:[ T].*)?")
"""What a spreadsheet's date becomes in a column of codes."""
_COMPACT = str.maketrans("", "", " -.\u00a0")


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
    left = _take_mapped(reading, left, words, column) if words else left
    _READERS[kind](reading, left, to, column, typed)
    if to.words:
        reading.understood.append(f"words read as the mapping says: {len(to.words)}")
    return reading


def _take_mapped(reading: Reading, left: list[int], words: dict[str, str], column: Column) -> list[int]:
    """Take the texts to which the mapping gives a value, or none; return the places of the others."""
    others = []
    for place in left:
        text = reading.texts[place]
        ours = words.get(plain(text))
        if ours is None:
            others.append(place)
        elif ours:
            reading.put(place, ours)
        elif column.nullable or column.default is not None:
            reading.put(place, reason="taken_as_missing", remedy=f"'{text}' is taken as empty, as the mapping says")
        else:
            reading.put(place, reason="missing_value", remedy=f"fill it in: {column.meaning}")
    return others


def _read_words(reading: Reading, left: list[int], to: To, column: Column, typed: bool) -> None:
    known = {plain(word): word for word in column.words}
    for place in left:
        text = reading.texts[place]
        if ours := known.get(plain(text)):
            reading.ours[place] = ours
        elif not take_missing(reading, place, column):
            meant = likely_ours(column.name, text)
            likely = f" (most likely {meant})" if meant else ""
            hint = "" if meant else likely_word(text, column) or nearest(text, list(to.words))
            given = f"have '{text}' given under 'words' of this column in a mapping"
            remedy = f"write one of {', '.join(column.words)}{likely}, or {given}{hint}{numbered_words([text])}"
            reading.put(place, reason="unknown_word", remedy=remedy)


def _read_texts(reading: Reading, left: list[int], to: To, column: Column, typed: bool) -> None:
    for place in left:
        text = str(reading.texts[place])
        if take_missing(reading, place, column):
            continue
        if any(ord(sign) < 32 or ord(sign) == 127 or sign in "\x85\u2028\u2029" for sign in text):
            reading.put(place, reason="bad_text", remedy="write it on one line, without tabs")
        elif column.name == "horse_id" and text == EXAMPLE_CODE:
            reading.put(place, reason="example_row", remedy="delete the row; nothing is lost by it")
        elif column.pattern:
            _read_pattern(reading, place, column)
        elif column.kind == "id" and _DATE_CODE.fullmatch(text):
            reading.put(place, text, "code_is_a_date", _code_remedy(text))
        else:
            reading.ours[place] = text


def _code_remedy(text: str) -> str:
    _, month, day = (int(part) for part in text[:10].split("-"))
    meant = f"{day}-{month} or {month}-{day}" if day != month else f"{day}-{month}"
    return f"if a spreadsheet made it of {meant}, format the column as text and write that; if it is right, leave it"


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
    "date": read_dates,
    "number": read_numbers,
    "integer": read_numbers,
}

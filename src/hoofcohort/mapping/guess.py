"""Guess what one column is: by its header, else by its cells, with how sure that is and what it rests on."""

from __future__ import annotations

from dataclasses import dataclass
from difflib import get_close_matches
from typing import Literal

from hoofcohort.mapping import dates, numbers
from hoofcohort.mapping.cell_words import WORDS
from hoofcohort.mapping.column_reading import plain
from hoofcohort.mapping.guessed_settings import settings, share, values_of, word_settings
from hoofcohort.mapping.mapping import FLAT_COLUMNS, To
from hoofcohort.mapping.vocabulary import HORSE_NAMES, KNOWN_HEADERS, plain_header, unit_of_header

Confidence = Literal["high", "medium", "low"]
SAMPLE = 4


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


def recognised(header: str) -> tuple[str, int, str]:
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


def guess_column(name: str, header: str, texts: list[str], taken: set[str], typed: bool) -> Guess:
    """Guess what the column called ``name`` is; ``taken``: columns of ours that are no longer free."""
    target, rank, unit = recognised(header)
    sample = tuple(texts[:SAMPLE])
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
        to, doubts = word_settings(column, every)
    else:
        to, doubts = settings(column, unit, texts, typed)
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
    values = values_of(texts, ".")
    if len(values) < max(3, len(texts) / 2):
        return []
    fitting = [
        column.name
        for column in FLAT_COLUMNS.values()
        if column.plausible and column.unit and share(values, column, column.unit) == 1
    ]
    return [f"its numbers could be {', '.join(fitting[:6])}"] if fitting else []

"""Other forms in which a name is written: surname first, with an initial, with ae for ä, in the genitive."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Iterator

from hoofcohort.privacy.private_values import FEWEST_LETTERS, WORD, Private, fold, own_words

PEOPLE = ("owner_id", "observer_id", "farrier_id", "member")
POSSIBLY = "possibly "
"""How the column of a form begins that may be another word or another person's name."""
SURNAME, GENITIVE = 5, 6
"""Letters from which on a surname alone, and a genitive, are sought; the project's own, no source."""
_TITLES = frozenset((
    "dr", "prof", "med", "vet", "dipl", "ing", "mr", "mrs", "ms", "miss", "sir", "herr", "frau", "fam",
    "familie", "family",
))  # fmt: skip
_COMMON = frozenset((
    "april", "autumn", "barns", "black", "brown", "centre", "center", "class", "cross", "equestrian", "equine",
    "estate", "farmer", "farms", "field", "fields", "green", "horse", "horses", "house", "large", "livery",
    "marsh", "meadow", "meadows", "mills", "other", "pferde", "ranch", "reitverein", "riding", "school",
    "short", "small", "smith", "society", "spring", "stable", "stables", "stall", "stone", "street", "study",
    "summer", "trust", "union", "water", "white", "winter", "wood", "woods", "young",
))  # fmt: skip
"""Words too usual in a report to tell of anybody, though people are called so; the project's own, no source."""
_TWO_LETTERS = str.maketrans({"ä": "ae", "ö": "oe", "ü": "ue", "å": "aa", "ø": "oe"})
_ONE_LETTER = re.compile(r"(?<=[aou])e")


def other_forms(column: str, text: str) -> Iterator[Private]:
    """Yield the other forms of a value of a private column; short ones and common words are left out.

    Parameters
    ----------
    column : str
    text : str
        The value as it stands in the table.
    """
    composed = unicodedata.normalize("NFC", text).casefold()
    plain = tuple(WORD.findall(fold(text)))
    spellings = {plain, tuple(WORD.findall(fold(composed.translate(_TWO_LETTERS))))}
    if composed.isascii():
        spellings.add(tuple(_ONE_LETTER.sub("", word) for word in plain))
    for words in sorted(spellings):
        yield from _long(Private(column, form) for form in _forms(column, words, comma="," in text) if form != plain)
        if len(words) == 1 and words[0].isalpha() and len(words[0]) >= GENITIVE and _rare(words[0]):
            yield Private(POSSIBLY + column, (words[0] + "s",))
        if column in PEOPLE and len(words) > 1 and len(last := _surname(words, "," in text)) >= SURNAME and _rare(last):
            yield Private(POSSIBLY + column, (last,))


def _forms(column: str, words: tuple[str, ...], comma: bool) -> Iterator[tuple[str, ...]]:
    yield words
    own = [word for word in words if word not in _TITLES]
    if column not in PEOPLE or len(own) < 2 or not all(word.isalpha() for word in own):
        return
    last = _surname(words, comma)
    given = own[1:] if comma else own[:-1]
    initials = [name[0] for name in given]
    if len(last) < FEWEST_LETTERS:
        yield from ((*given, last), (last, *given))
        return
    for before in (given, given[:1], initials, initials[:1]):
        yield from ((*before, last), (last, *before))


def _surname(words: Iterable[str], comma: bool) -> str:
    own = [word for word in words if word not in _TITLES]
    return own[0 if comma else -1] if own and all(word.isalpha() for word in own) else ""


def _long(values: Iterable[Private]) -> Iterator[Private]:
    yield from (value for value in values if len(value.joined) > FEWEST_LETTERS and value.joined.isalpha())


def _rare(word: str) -> bool:
    return word not in _COMMON and word not in own_words()

"""What must not be found in a release: every value of the private columns, as far as it can be told from chance."""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

from hoofcohort.errors import InputError
from hoofcohort.intake.reading import read_table
from hoofcohort.tables import TABLES

WORD = re.compile(r"[^\W_]+")
FEWEST_LETTERS = 4
FEWEST_DIGITS = 6
FEWEST_MIXED = 3
FEWEST_SIGNS = 2
"""Characters below which a value of letters, digits, both or word signs may be chance; the project's own, no source."""
UNSPACED = re.compile("[\u0e00-\u0eff\u3040-\u30ff\u3400-\u9fff\uf900-\ufaff\U00020000-\U0003ffff]+")
"""Letters of scripts that put no blanks between words."""
_MARKS = re.compile("[\u0300-\u036f]")
_BARE = str.maketrans({"ł": "l", "ø": "o", "đ": "d", "ð": "d", "ħ": "h", "ı": "i", "æ": "ae", "œ": "oe", "þ": "th"})
"""Letters that no Unicode form takes apart into a letter and its mark."""


@dataclass(frozen=True)
class Private:
    """A value to look for: the column it stands in, its words, and these run together."""

    column: str
    words: tuple[str, ...]

    @property
    def joined(self) -> str:
        """The value without anything but letters and digits."""
        return "".join(self.words)


@dataclass(frozen=True)
class Originals:
    """What the originals hold.

    Attributes
    ----------
    values : list of Private
        Each once for each column.
    not_searched : dict of int
        By column and reason, how many values are not looked for by themselves.
    short : list of Private
        These values: looked for only where the text says what they are.
    forms : list of Private
        The values in other spellings and orders of words.
    """

    values: list[Private]
    not_searched: dict[tuple[str, str], int]
    short: list[Private] = field(default_factory=list)
    forms: list[Private] = field(default_factory=list)


def fold(text: str) -> str:
    """Return text with case and accents gone; line feeds stay where they are."""
    if text.isascii():
        return text.lower()
    return _MARKS.sub("", unicodedata.normalize("NFKD", text.casefold())).translate(_BARE)


def read_originals(*folders: str | Path) -> Originals:
    """Read the private values of the three tables as they stand, and of an inbox's ledger where there is one.

    Parameters
    ----------
    folders : path
        One or more; earlier ones hold names that have since been withdrawn.

    Raises
    ------
    InputError
        When a table cannot be read, or no private value could be searched for.
    """
    from hoofcohort.privacy.forms import other_forms

    found = {(name, text) for folder in folders for name, text in _texts(Path(folder)) if text}
    values: dict[tuple[str, str], Private] = {}
    not_searched: dict[tuple[str, str], int] = {}
    short: list[Private] = []
    forms: dict[tuple[str, str], Private] = {}
    for column, text in sorted(found):
        own = Private(column, tuple(WORD.findall(fold(text))))
        if reason := why_not(own):
            not_searched[column, reason] = not_searched.get((column, reason), 0) + 1
            short += [own] if own.words and column != "file" else []
        else:
            values.setdefault((column, own.joined), own)
            forms.update({(form.column, form.joined): form for form in other_forms(column, text)})
    if not values:
        names = ", ".join(map(str, folders))
        raise InputError(f"{names}: the tables hold no private value that can be searched for; name the originals")
    others = [form for held, form in forms.items() if held not in values]
    return Originals(list(values.values()), not_searched, short, others)


def _texts(source: Path) -> Iterable[tuple[str, str]]:
    for name, table in TABLES.items():
        raw, faults = read_table(source / f"{name}.csv", table, f"{name}.csv")
        if faults:
            raise InputError(f"{source / name}.csv: {faults[0]}")
        for column in table.columns:
            if column.private and column.name in raw.columns:
                yield from ((column.name, text.strip()) for text in raw.columns[column.name].plain_texts)
    if (ledger := source / "ledger.json").exists():
        yield from _senders(ledger)


def _senders(path: Path) -> Iterable[tuple[str, str]]:
    try:
        ledger = json.loads(path.read_text(encoding="utf-8"))
        if isinstance(ledger["files"], list):
            yield from (("member", name) for name in ledger["members"])
            yield from (("file", account["file"]) for account in ledger["files"])
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise InputError(
            f"{path}: is not the ledger that 'hoofcohort inbox' writes; take it out or write it again"
        ) from (error)


def why_not(value: Private) -> str:
    """Return why a value is not searched for; empty when it is."""
    joined = value.joined
    if value.column == "file" and value.words[:1] in [(name,) for name in TABLES] and value.words[1:] == ("csv",):
        return "the names of the study's own files"
    if joined.isdigit():
        return f"fewer than {FEWEST_DIGITS} digits" if len(joined) < FEWEST_DIGITS else ""
    if UNSPACED.fullmatch(joined):
        return f"fewer than {FEWEST_SIGNS} letters" if len(joined) < FEWEST_SIGNS else ""
    if joined.isalpha():
        if len(joined) < FEWEST_LETTERS:
            return f"fewer than {FEWEST_LETTERS} letters"
    elif len(joined) < FEWEST_MIXED:
        return f"fewer than {FEWEST_MIXED} letters and digits"
    own = all(word in own_words() for word in value.words)
    return "made of words that the tables' own descriptions use" if own else ""


@cache
def own_words() -> frozenset[str]:
    """Return the words of the declarations: every report holds them, whatever the horses are called."""
    texts = [
        text
        for table in TABLES.values()
        for column in table.columns
        for text in (column.name, column.meaning, column.how, column.source, " ".join(column.words))
    ]
    return frozenset(word for text in (*texts, *TABLES) for word in WORD.findall(fold(text)) if word.isalpha())

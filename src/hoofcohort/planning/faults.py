"""One fault of a settings file, and the words in which it is told."""

from __future__ import annotations

import reprlib
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any

from hoofcohort.errors import nearest

Where = tuple[str | int, ...]

_SHORT = reprlib.Repr()
_SHORT.maxstring = _SHORT.maxother = 60
_SHORT.maxlevel = 2


@dataclass(frozen=True)
class Fault:
    """Something to put right.

    Attributes
    ----------
    where : tuple
        Keys and list places (from 0) from the top of the file.
    text : str
        What was found, what is allowed, what to do.
    about_key : bool
        The key itself is wrong, whatever stands below it.
    """

    where: Where
    text: str
    about_key: bool = False

    def __str__(self) -> str:
        return f"{dotted(self.where)}: {self.text}" if self.where else self.text


def dotted(where: Where) -> str:
    """Return ``outcomes.frog_ratio.levels, item 2`` for keys and list places."""
    text = ""
    for part in where:
        text += f", item {part + 1}" if isinstance(part, int) else f"{'.' if text else ''}{part}"
    return text


def found(value: Any) -> str:
    """Return how a value is shown: short, and with its kind where that is the surprise."""
    if value is None:
        return "nothing"
    if isinstance(value, bool):
        return f"{str(value).lower()} (yes or no)"
    if isinstance(value, date):
        return f"{value} (a date)"
    if isinstance(value, dict):
        return "a group of keys"
    if isinstance(value, list):
        return "a list"
    return _SHORT.repr(value)


def not_allowed(word: Any, allowed: Iterable[str], what: str = "") -> str:
    """Return ``found 'x'; allowed: a, b; did you mean 'a'?`` for one wrong word."""
    words = list(allowed)
    listed = ", ".join(f"'{item}'" if "," in item else item for item in words) if words else "nothing here"
    hint = nearest(word, words) if isinstance(word, str) else ""
    return f"found {found(word)}; allowed{f' ({what})' if what else ''}: {listed}{hint}"

"""A column while it is read: what each of its different texts becomes, and why one does not."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from hoofcohort.mapping import numbers
from hoofcohort.tables import Column


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


def plain(word: str) -> str:
    """Return a word without differences of case, blanks, signs at its end and typographic quotes."""
    return " ".join(word.replace("’", "'").replace("_", " ").split()).casefold().rstrip(".")


def take_missing(reading: Reading, place: int, column: Column) -> bool:
    """Tell whether a text says that there is no value; if so, take it as empty or ask for it to be filled in."""
    text = reading.texts[place]
    if not numbers.is_missing(text, column.kind == "id"):
        return False
    if column.nullable or column.default is not None:
        reading.put(place, reason="taken_as_missing", remedy=f"'{text}' is taken as empty; nothing to do if so")
    else:
        reading.put(place, reason="missing_value", remedy=f"fill it in: {column.meaning}")
    return True

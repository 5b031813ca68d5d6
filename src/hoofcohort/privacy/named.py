"""Values too short to be told from chance alone: found where the text says what they are, as in "horse 7"."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

from hoofcohort.privacy.private_values import WORD, Private, fold
from hoofcohort.privacy.pseudonyms import LETTERS

_SAID = re.compile(rf"\b({'|'.join(LETTERS)})(?:_id)?[\"']?[ _:=#\"'\u00a0-]{{1,3}}([^\s,;:<>\"'()|]{{1,12}})")
LABEL = re.compile(rf"label|code|id|{'|'.join(LETTERS)}")
"""A column of a released table that may hold such values by themselves."""


class Named:
    """The short values, by what they name.

    Parameters
    ----------
    values : iterable of Private
    """

    def __init__(self, values: Iterable[Private]) -> None:
        self._of: dict[str, dict[str, str]] = {}
        for value in values:
            self._of.setdefault(value.column.removesuffix("_id"), {})[value.joined] = value.column

    def find(self, text: str) -> Iterator[tuple[int, str, str]]:
        """Yield place, private column and text of every short value that stands after what it names."""
        if not self._of:
            return
        for match in _SAID.finditer(fold(text)):
            plain = match.group(2).rstrip(".!?")
            column = self._of.get(match.group(1), {}).get("".join(WORD.findall(plain)))
            if column and not re.search(r"\d\.\d", plain):
                yield match.start(), column, plain

    def column_of(self, cell: str) -> str:
        """Return the private column of which a whole cell is a short value; empty when it is none."""
        plain = "".join(WORD.findall(fold(cell)))
        return next((own[plain] for own in self._of.values() if plain in own), "")

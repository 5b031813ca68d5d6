"""Find the row that names the columns, and a row of units below it."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence

from hoofcohort.sheets import unit_words

LOOKED_AT = 150
"""Filled rows among which the header is looked for."""
_NUMBER = re.compile(r"[-+~<>]?[\d.,/: -]*\d[\d.,/: -]*%?")
_FORMS = re.compile(
    r"(?:[dmytja]{1,4}[-./ ][dmytja]{1,4}[-./ ][dmytja]{1,4}|units?|einheit|date|text|code|number|no\.?|-|–|/|"
    r"yes/no|y/n)"
)
_AROUND = re.compile(r"^[\[(\s]*|[\])\s.]*$")


def filled(row: Sequence[str]) -> int:
    """Return how many cells of a tidied row hold anything."""
    return len(row) - row.count("")


def header_place(rows: Sequence[Sequence[str]]) -> int:
    """Return the place of the row that names the columns.

    Parameters
    ----------
    rows : sequence of rows of tidied cells
        At least one is filled.

    Returns
    -------
    int
        The first row of words alone that is three quarters as wide as most rows; else half as wide; else the first
        filled one.
    """
    places = [place for place, row in enumerate(rows[: 20 * LOOKED_AT]) if any(row)][:LOOKED_AT]
    if not places:
        return next(place for place, row in enumerate(rows) if any(row))
    widths = Counter(width for place in places if (width := filled(rows[place])) > 1)
    usual = max(widths.items(), key=lambda own: (own[1], own[0]))[0] if widths else 1
    for share in (0.75, 0.5):
        for place in places:
            if filled(rows[place]) >= max(share * usual, min(2, usual)) and _is_worded(rows[place]):
                return place
    return places[0]


def _is_worded(row: Sequence[str]) -> bool:
    return not any(_NUMBER.fullmatch(cell) for cell in row if cell)


def units_of(row: Sequence[str]) -> bool:
    """Tell whether a row says nothing but units and forms, and at least one unit of measurement."""
    cells = [_AROUND.sub("", cell).casefold() for cell in row if cell]
    if not cells or not all(cell in unit_words.WORDS or _FORMS.fullmatch(cell) for cell in cells):
        return False
    return any(cell in unit_words.WORDS for cell in cells)


def unit_text(cell: str) -> str:
    """Return the unit that a cell of a row of units names; empty for anything else."""
    bare = _AROUND.sub("", cell)
    return bare if bare.casefold() in unit_words.WORDS else ""

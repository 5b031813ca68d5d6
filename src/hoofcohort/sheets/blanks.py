"""What people cannot see in a cell: blanks of many kinds, signs without width, typographic quotation marks."""

from __future__ import annotations

import re

_WIDTHLESS = re.compile("[\u00ad\u180e\u200b-\u200f\u202a-\u202e\u2060-\u2064\u2066-\u2069\ufeff\ufff9-\ufffb]+")
_CONTROL = re.compile("[\x00-\x08\x0e-\x1b\x7f-\x84\x86-\x9f]+")
_BLANKS = re.compile(r"[\s\u0085]+")
_MARKS = str.maketrans("\u2018\u2019\u201a\u201b\u2032\u201c\u201d\u201e\u201f\u2033", "'''''" + '"' * 5)
QUOTES = re.compile("[\u2018-\u201f\u2032\u2033]")
"""Typographic quotation marks and apostrophes."""
CONTROL = _CONTROL
"""Signs that only steer machines."""


def tidy(cell: str) -> str:
    """Return a cell as a person reads it.

    No blanks around and only single ones inside, line breaks as blanks, no signs without width, plain apostrophes and
    quotation marks, and none around the whole cell where they were typographic.
    """
    if cell.isprintable() and (cell.isascii() or not QUOTES.search(cell)):
        return _BLANKS.sub(" ", cell).strip() if "  " in cell else cell.strip()
    text = _BLANKS.sub(" ", _CONTROL.sub("", _WIDTHLESS.sub("", cell))).strip()
    plain = text.translate(_MARKS)
    if plain != text and len(plain) > 1 and plain[0] == plain[-1] == '"' and plain.count('"') == 2:
        plain = plain[1:-1].strip()
    return plain


class Tidied(dict[str, str]):
    """Every different cell tidied once; equal cells share one text."""

    def __missing__(self, cell: str) -> str:
        self[cell] = text = tidy(cell)
        return text

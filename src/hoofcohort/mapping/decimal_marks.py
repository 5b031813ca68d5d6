"""Decide which decimal mark a column has."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from hoofcohort.mapping.numbers import AMBIGUOUS, CELL, Mark, stripped

_SIMPLE = re.compile(r"[0-9]+(?:([.,])[0-9]{1,2})?")


@dataclass(frozen=True)
class Marks:
    """The decimal mark of a column.

    Attributes
    ----------
    decimal : {'.', ',', ''}
        Empty: not known, so that a number that hangs on it cannot be read.
    said : str
        Who decided: ``mapping``, ``cells`` or nobody.
    both : bool
        Cells of both kinds were found.
    example : str
        The cell that decided.
    """

    decimal: Mark
    said: str = ""
    both: bool = False
    example: str = ""


def find_marks(texts: Iterable[str], declared: Mark = "", thousands: str = "", typed: bool = False) -> Marks:
    """Decide a column's decimal mark: by the mapping, else by its own cells, else not at all.

    Parameters
    ----------
    texts : iterable of str
        The column's different cells.
    declared : {'.', ',', ''}
        What the mapping says.
    thousands : str
        The mark between thousands that the mapping names; the decimal mark is then the other one.
    typed : bool
        The cells were numbers in a spreadsheet, written out with a point.
    """
    if not declared and thousands in (".", ","):
        declared = "," if thousands == "." else "."
    found: dict[Mark, str] = {}
    for text in texts:
        if simple := _SIMPLE.fullmatch(text):
            if simple[1]:
                found.setdefault(simple[1], text)  # type: ignore[arg-type]
        elif "," in text or "." in text:
            mark = _evidence(text)
            if mark:
                found.setdefault(mark, text)
    both = len(found) == 2
    if declared:
        return Marks(declared, "mapping", both)
    if len(found) == 1:
        ((mark, example),) = found.items()
        return Marks(mark, "cells", example=example)
    if typed and not found:
        return Marks(".", "spreadsheet")
    return Marks("", "", both)


def _evidence(text: str) -> Mark:
    cell = CELL.fullmatch(stripped(text)[0])
    token = cell.group(1) if cell else ""
    comma, point = token.count(","), token.count(".")
    if comma and point:
        last: Mark = "," if token.rfind(",") > token.rfind(".") else "."
        return last if token.count(last) == 1 else ""
    if comma > 1 or point > 1:
        return "." if comma else ","
    if not comma + point or AMBIGUOUS.fullmatch(token):
        return ""
    return "," if comma else "."

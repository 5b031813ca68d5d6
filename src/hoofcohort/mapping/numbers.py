"""Read the numbers that people write: what one cell means."""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache
from typing import Literal

from hoofcohort.mapping.units import UNIT_OF, units_for

PLAIN = re.compile(r"[0-9]+(?:\.[0-9]{1,2})?")
"""A number that means the same under any decimal mark but a comma's thousands."""
_NO_VALUE_SIGNS = frozenset(("-", "--", "---", "–", "—", "?", "??", "/", "n/a", "#n/a"))
"""The signs among them that are no one's code or name."""
MISSING = _NO_VALUE_SIGNS | frozenset(
    (
        *(".", "..", "x", "na", "n.a.", "n.a", "nan", "none", "null", "nil", "missing", "unknown", "no data"),
        *("not measured", "k.a.", "k.a", "ka", "n/v", "unbekannt", "fehlt", "nicht gemessen"),
        *("inconnu", "non mesuré", "onbekend", "niet gemeten", "n.b.", "nvt"),
    )
)
"""What people write where there is no value, in small letters."""
_BEFORE = re.compile(
    r"^(?:~|≈|±|\+/-|(?:ca|circa|c|approx|approximately|about|abt|etwa|ungefähr|ungef|environ|env|ongeveer|est)\b\.?)\s*",
    re.I,
)
_AFTER = re.compile(
    r"\s*(?:\?+|\(\?\)|~|\(?\b(?:approx(?:imately)?|about|ca|circa|est(?:imated)?|geschätzt|env(?:iron)?)\b\.?\)?)$",
    re.I,
)
_NUMBER = r"[+-]?(?:[0-9]{1,3}(?:[ '’][0-9]{3})+(?:[.,][0-9]+)?|[0-9][0-9.,]*|[.,][0-9]+)"
_BARE = re.compile("[0-9][0-9.,]*")
_FRACTIONS = {"½": "1/2", "¼": "1/4", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8"}
_FRACTION = re.compile(f"(?<=[0-9]) ?([{''.join(_FRACTIONS)}])")
CELL = re.compile(rf"({_NUMBER})(?:\s+([0-9]+)/([0-9]+))?\s*([^0-9\s.,+-][^0-9]*)?")
_RANGE = re.compile(r"([0-9]+(?:[.,][0-9]+)?)\s*(?:-|–|—|/|to|bis|à|tot)\s*([0-9]+(?:[.,][0-9]+)?)\s*(\D*)", re.I)
AMBIGUOUS = re.compile(r"[+-]?[1-9][0-9]{0,2}[.,][0-9]{3}")
_LONGEST = 20
"""Signs in the longest cell that can be a number; decimal arithmetic is exact to 28 digits."""
Mark = Literal[".", ",", ""]


@dataclass(frozen=True)
class Number:
    """What one cell means.

    Attributes
    ----------
    value : Decimal or None
    unit : str
        The unit named in the cell; empty when none is, ``?`` when words that are no unit stand there.
    code : str
        Why it cannot be read, or what is doubtful; empty for a plain number.
    approximate : bool
    meant : tuple of str
        For an error, the values it could mean.
    """

    value: Decimal | None
    unit: str = ""
    code: str = ""
    approximate: bool = False
    meant: tuple[str, ...] = ()


def stripped(text: str) -> tuple[str, bool]:
    """Return a cell without marks of approximation, and whether there were any."""
    if _BARE.fullmatch(text):
        return text, False
    plain = text.replace("−", "-").replace("\u00a0", " ").replace("\u202f", " ").replace("\u2009", " ").strip()
    plain = _FRACTION.sub(lambda sign: f" {_FRACTIONS[sign[1]]}", plain)
    bare = _BEFORE.sub("", plain)
    bare = _AFTER.sub("", bare).strip()
    return (bare, True) if bare != plain and bare else (plain, False)


def is_missing(text: str, code: bool = False) -> bool:
    """Tell whether a cell says that there is no value; of codes and names only signs say so: NA may be somebody."""
    return text.casefold() in (_NO_VALUE_SIGNS if code else MISSING)


@lru_cache(maxsize=200_000)
def read_number(text: str, decimal: Mark = "", ours: str = "") -> Number:
    """Read one cell.

    Parameters
    ----------
    text : str
        The cell, not empty and not one of ``MISSING``.
    decimal : {'.', ',', ''}
        The column's decimal mark; empty: not known.
    ours : str
        The column's own unit: only units that go into it are accepted in the cell.
    """
    bare, approximate = stripped(text)
    cell = CELL.fullmatch(bare) if len(bare) <= _LONGEST else None
    if cell is None:
        return _unread(bare[: _LONGEST + 1])
    token, over, under, unit_text = cell.groups()
    value, code, meant = _value(re.sub(r"[ '’]", "", token), decimal)
    if value is not None and over:
        if "." in token or "," in token or int(under) == 0:
            return Number(None, code="not_a_number")
        value += Decimal(over) / Decimal(under)
    unit = UNIT_OF.get(unit_text.strip(" ()[]").casefold(), "?") if unit_text else ""
    if unit == "?":
        if any(sign.isnumeric() for sign in unit_text) or value is None:
            return Number(None, code="not_a_number")
        return Number(None, _unit_among(unit_text), "not_a_number", meant=(str(value),))
    if unit and unit not in units_for(ours):
        return Number(None, unit, "unit_does_not_fit")
    return Number(value, unit, code, approximate, meant)


def _unread(bare: str) -> Number:
    if len(bare) <= _LONGEST and (pair := _RANGE.fullmatch(bare)):
        return Number(None, _unit_among(pair[3]), "range_of_values", meant=(pair[1], pair[2]))
    return Number(None, code="not_a_number")


def _unit_among(text: str) -> str:
    """Return the one unit among words; empty for no words, ``?`` for no unit or several. ``in`` can be a word."""
    if not text.strip():
        return ""
    found = {UNIT_OF[word] for word in re.findall(r"[^\W\d_]+|[^\w\s]", text.casefold()) if word in UNIT_OF}
    if len(found) > 1:
        found.discard("in")
    return found.pop() if len(found) == 1 else "?"


def _value(token: str, decimal: Mark) -> tuple[Decimal | None, str, tuple[str, ...]]:
    comma, point = token.count(","), token.count(".")
    if AMBIGUOUS.fullmatch(token):
        mark = "," if comma else "."
        parted, whole = token.replace(mark, "."), token.replace(mark, "")
        if not decimal:
            return None, "ambiguous_number", (parted, whole)
        return Decimal(parted if mark == decimal else whole), "", ()
    if comma and point:
        last = "," if token.rfind(",") > token.rfind(".") else "."
        other = "." if last == "," else ","
        groups = token.split(last)[0].lstrip("+-").split(other)
        if token.count(last) > 1 or not _grouped(groups):
            return None, "not_a_number", ()
        value = Decimal(token.replace(other, "").replace(last, "."))
        return value, "other_mark" if decimal and last != decimal else "", ()
    if comma > 1 or point > 1:
        mark = "," if comma else "."
        if mark == decimal or not _grouped(token.lstrip("+-").split(mark)):
            return None, "not_a_number", ()
        return Decimal(token.replace(mark, "")), "", ()
    value = Decimal(token.replace(",", "."))
    mark = "," if comma else "." if point else ""
    return value, "other_mark" if mark and decimal and mark != decimal else "", ()


def _grouped(groups: list[str]) -> bool:
    return 1 <= len(groups[0]) <= 3 and all(len(group) == 3 for group in groups[1:])

"""Units that members write in, and how they become a column's own."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal

from hoofcohort.sheets.unit_words import SPELLINGS

HANDS = "hands"
YEAR_OF_DATE = "date"
_MONTH = Decimal("30.4375")
FACTORS: Mapping[str, Mapping[str, Decimal]] = {
    "mm": {"mm": Decimal(1), "cm": Decimal(10), "m": Decimal(1000), "in": Decimal("25.4")},
    "cm": {
        "cm": Decimal(1),
        "mm": Decimal("0.1"),
        "m": Decimal(100),
        "in": Decimal("2.54"),
        HANDS: Decimal("10.16"),
    },
    "kg": {"kg": Decimal(1), "lb": Decimal("0.45359237"), "st": Decimal("6.35029318"), "g": Decimal("0.001")},
    "deg": {"deg": Decimal(1)},
    "days": {"days": Decimal(1), "weeks": Decimal(7), "months": _MONTH},
    "hours per day": {"hours": Decimal(1)},
}
"""Our unit to theirs to what one of theirs is in ours. A month is a twelfth of 365.25 days: our own choice."""
UNIT_OF = {spelling: unit for unit, spellings in SPELLINGS.items() for spelling in spellings}
_HALF_MM = Decimal("0.01")


def units_for(ours: str) -> tuple[str, ...]:
    """Return the units that a column of ours can be mapped from."""
    return tuple(FACTORS.get(ours, ()))


def to_ours(value: Decimal, theirs: str, ours: str) -> Decimal:
    """Return a value in our unit, rounded to a hundredth where it had to be converted.

    Parameters
    ----------
    value : Decimal
        In hands, 15.2 means 15 hands and 2 inches.
    theirs, ours : str
        Keys of ``FACTORS``.

    Raises
    ------
    ValueError
        When a height in hands has more than 3 inches after the point.
    """
    if theirs == ours:
        return value
    if theirs == HANDS:
        value = _hands(value)
    return (value * FACTORS[ours][theirs]).quantize(_HALF_MM)


def _hands(value: Decimal) -> Decimal:
    hands = int(value)
    inches = (value - hands) * 10
    if inches != int(inches) or not 0 <= inches <= 3:
        raise ValueError("hands")
    return hands + inches / 4


def written(value: Decimal) -> str:
    """Return a number with a decimal point, without an exponent and without zeros at its end."""
    text = format(value, "f")
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text

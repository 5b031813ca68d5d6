"""Numbers as readers see them: rounded to what the interval supports, with a unit, and never ``p = 0.000``."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

MINUS = "\N{MINUS SIGN}"
THIN = "\N{NARROW NO-BREAK SPACE}"
NBSP = "\N{NO-BREAK SPACE}"
DASH = "\N{EN DASH}"
NOTHING = "\N{EM DASH}"
"""What stands in a cell that has no value."""
SUPERSCRIPT = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")
FEWEST_DF = 1.0
"""Degrees of freedom below which no interval is shown."""
UNIT_SIGNS = {"deg": "\N{DEGREE SIGN}", "ratio": "", "class": "", "": ""}
"""Units as written behind a number; any other unit follows a space as it is."""
UNIT_WORDS = {"deg": "degrees", "ratio": "no unit", "": "score points", "points": "score points"}
"""Units as written on an axis or in a table's head."""


def decimals_for(low: float | None, high: float | None, digits: int = 2) -> int:
    """Return how many decimals show an interval's width to ``digits`` significant digits (0 when none are needed)."""
    if low is None or high is None:
        return 2
    width = abs(high - low)
    if not math.isfinite(width) or width == 0:
        return 2
    return max(0, digits - 1 - math.floor(math.log10(float(f"{width:.{digits - 1}e}"))))


def fixed(value: float | None, decimals: int) -> str:
    """Return a number with fixed decimals and a true minus sign; a rounded zero has no sign; None is a dash."""
    if value is None or not math.isfinite(value):
        return NOTHING
    text = f"{value:.{decimals}f}"
    if float(text) == 0:
        text = text.removeprefix("-")
    return text.replace("-", MINUS)


def significant(value: float | None, digits: int = 3) -> str:
    """Return a number with so many significant digits, in plain notation between 0.0001 and 10 million."""
    if value is None or not math.isfinite(value):
        return NOTHING
    if value == 0:
        return "0"
    if not 1e-4 <= abs(value) < 1e7:
        mantissa, power = f"{value:.{digits - 1}e}".split("e")
        return f"{mantissa} × 10{str(int(power)).translate(SUPERSCRIPT)}".replace("-", MINUS)
    rounded = float(f"{value:.{digits - 1}e}")
    return fixed(value, max(0, digits - 1 - math.floor(math.log10(abs(rounded)))))


def count(number: int | None) -> str:
    """Return a whole number, thousands set off by a thin space from 10 000 on."""
    if number is None:
        return NOTHING
    return f"{number:,}".replace(",", THIN) if abs(number) >= 10_000 else str(number)


def of_things(number: int, one: str, many: str = "") -> str:
    """Return ``1 horse`` or ``3 horses``."""
    return f"{count(number)} {one if number == 1 else many or one + 's'}"


def percent(part: int, whole: int) -> str:
    """Return a share in whole percent, ``below 1%`` where that would read 0; a dash when there is nothing to share."""
    if not whole:
        return NOTHING
    share = 100 * part / whole
    if 0 < share < 1:
        return "below 1%"
    if 99 < share < 100:
        return "above 99%"
    return f"{share:.0f}%"


def with_unit(text: str, unit: str) -> str:
    """Put a unit behind a number: ``2.3°``, ``4.1 mm``; ratios and scores have none."""
    sign = UNIT_SIGNS.get(unit)
    if sign is not None:
        return text + sign
    return f"{text}{NBSP}{unit}"


def unit_words(unit: str) -> str:
    """Return a unit for an axis or a table's head: ``degrees``, ``mm``, ``ratio, no unit``."""
    return UNIT_WORDS.get(unit, unit)


def in_unit(unit: str) -> str:
    """Return the end of a table's caption: ``, in degrees``; nothing for a ratio."""
    return "" if unit == "ratio" else f", in {unit_words(unit)}"


def p_value(p: float | None) -> str:
    """Return ``p = 0.034``; ``p < 0.001`` below that; ``p > 0.99`` near one; three decimals below 0.1."""
    text = p_cell(p)
    if text == NOTHING:
        return "p not available"
    return f"p {text}" if text[0] in "<>" else f"p = {text}"


def p_cell(p: float | None) -> str:
    """Return a p-value for a table's cell: ``0.034``, ``< 0.001``, ``> 0.99``."""
    if p is None or not math.isfinite(p):
        return NOTHING
    if p < 0.001:
        return "< 0.001"
    if p > 0.99:
        return "> 0.99"
    return f"{p:.3f}" if p < 0.0995 else f"{p:.2f}"


def has_interval(row: Mapping[str, Any] | None) -> bool:
    """Tell whether an estimate has an interval that says something: known limits, at least one degree of freedom.

    Below one degree of freedom t's tails have no use: limits of a hundred digits are no limits.
    """
    if not row or row.get("low") is None or row.get("high") is None:
        return False
    return row.get("df") is None or row["df"] >= FEWEST_DF


def has_test(row: Mapping[str, Any] | None) -> bool:
    """Tell whether an F test says something: a known p-value, at least one denominator degree of freedom."""
    if not row or row.get("p") is None or row.get("f") is None:
        return False
    return row.get("den_df") is None or row["den_df"] >= FEWEST_DF


def interval(row: Mapping[str, Any], unit: str = "") -> str:
    """Return an estimate's interval, ``1.0° to 3.6°``; in words when there is none."""
    if not has_interval(row):
        return "no interval"
    return " to ".join(with_unit(limit(row[end], row), unit) for end in ("low", "high"))


def limit(value: float, row: Mapping[str, Any]) -> str:
    """Return a number with the decimals of a row's interval; with more where these would show a limit near 0 as 0."""
    text = fixed(value, decimals_for(row["low"], row["high"]))
    return significant(value, 1) if value and float(text.replace(MINUS, "-")) == 0 else text


def estimate(row: Mapping[str, Any], unit: str = "") -> str:
    """Return an estimate with its unit, to the decimals of its interval."""
    if not has_interval(row):
        return with_unit(significant(row["estimate"], 2), unit)
    return with_unit(fixed(row["estimate"], decimals_for(row["low"], row["high"])), unit)


def estimate_interval(row: Mapping[str, Any] | None) -> str:
    """Return ``2.3 (1.0 to 3.6)`` for a table's cell, the unit being in the table's head; a dash for None."""
    if row is None or row.get("estimate") is None:
        return NOTHING
    return f"{estimate(row)} ({interval(row)})"


def df_text(df: float | None) -> str:
    """Return degrees of freedom to one decimal below 100; None stands for no limit."""
    if df is None:
        return "\N{INFINITY}"
    return f"{df:.1f}" if df < 99.95 else f"{df:.0f}"


def percent_level(confidence: float) -> str:
    """Return a confidence level as ``95%``."""
    return f"{100 * confidence:.10g}%"


def listing(words: Sequence[str], last: str = "and") -> str:
    """Return ``a``, ``a and b``, ``a, b and c``; ``none`` for nothing."""
    words = list(words)
    if not words:
        return "none"
    if len(words) == 1:
        return words[0]
    return f"{', '.join(words[:-1])} {last} {words[-1]}"

"""Decide which order of day and month, and of a year of two digits, a column of dates has."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from hoofcohort.mapping.dates import DAY_FIRST, THREE, Order, year_may_lead

_YEAR = re.compile(r"(?<![0-9])(?:19|20)[0-9]{2}(?![0-9])")


@dataclass(frozen=True)
class Orders:
    """The order of day and month of a column: ``said`` by the mapping, the cells, the points in them, or by nobody.

    ``year_first`` holds the cells whose year of two digits may stand first, beside the column's other cells.
    """

    order: Order
    said: str = ""
    both: bool = False
    example: str = ""
    year_first: frozenset[str] = frozenset()


def find_order(texts: Iterable[str], declared: Order = "") -> Orders:
    """Decide a column's order of day and month: by the mapping, else by a cell with a number above 12, else by points.

    Points between the numbers and a whole year at the end are taken to mean that the day stands first, where every cell
    of three numbers is written so (common practice, no source).

    Parameters
    ----------
    texts : iterable of str
        The column's different cells.
    declared : {'DMY', 'MDY', 'YMD', ''}
        What the mapping says.
    """
    numbers: dict[str, re.Match] = {}
    doubted: dict[str, tuple[int, int]] = {}
    years: set[int] = set()
    for text in texts:
        if match := THREE.fullmatch(text):
            numbers[text] = match
        if pair := _two_digits(match or DAY_FIRST.fullmatch(text)):
            doubted[text] = pair
        elif year := _YEAR.search(text):
            years.add(int(year.group()))
    year_first = frozenset() if declared else _year_first(doubted, years)
    found: dict[str, str] = {}
    for text, match in numbers.items():
        if text not in year_first:
            _count_order(text, match, found)
    found.pop("DMY or YMD", None) if "DMY" in found else None
    if declared:
        return Orders(declared, "mapping", len(found) > 1)
    if len(found) == 1 and "DMY or YMD" not in found:
        ((order, example),) = found.items()
        return Orders(order, "cells", False, example, year_first)  # type: ignore[arg-type]
    if numbers and not found and all(match[0].count(".") == 2 and len(match[3]) == 4 for match in numbers.values()):
        return Orders("DMY", "points", year_first=year_first)
    return Orders("", "", len(found) > 1, year_first=year_first)


def _count_order(text: str, match: re.Match, found: dict[str, str]) -> None:
    """Add a cell of three numbers to the orders for which there is evidence."""
    first, second, third = map(int, match.groups())
    leading = len(match[3]) == 2 and year_may_lead(text)
    if leading and first > 31:
        found.setdefault("YMD", text)
    elif 12 < first <= 31 and second <= 12 and (not leading or third > 31):
        found.setdefault("DMY", text)
    elif 12 < second <= 31 and first <= 12:
        found.setdefault("MDY", text)
    elif leading and 12 < first <= 31 and second <= 12:
        found.setdefault("DMY or YMD", text)


def _two_digits(match: re.Match | None) -> tuple[int, int] | None:
    """Return the numbers before and after the month where either may be the year, of two digits."""
    if match is None or len(match[1]) != 2 or len(match[3]) != 2:
        return None
    pair = int(match[1]), int(match[3])
    return pair if all(1 <= number <= 31 for number in pair) else None


def _year_first(doubted: dict[str, tuple[int, int]], years: set[int]) -> frozenset[str]:
    """Return the cells that look as if the year stood first: by the column's full years, else by how the numbers vary.

    A column of visits spans few years and many days of the month; the project's own choice, no source.
    """
    if years:
        usual = range(min(years) - 1, max(years) + 2)
        return frozenset(
            text for text, (first, last) in doubted.items() if 2000 + first in usual and 2000 + last not in usual
        )
    if len(doubted) < 2:
        return frozenset()
    firsts, lasts = zip(*doubted.values(), strict=True)
    varies = max(firsts) - min(firsts) <= 1 and max(lasts) - min(lasts) > 3
    return frozenset(doubted) if varies else frozenset()

"""Doubt the unit of a column whose numbers are each possible but together too small, or too heavy for the horses."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hoofcohort.intake.cells import outside
from hoofcohort.tables import Column
from hoofcohort.tables.declare import UNIT_SLIPS

COLUMN = 3
"""How many numbers make a column whose unit can be doubted as a whole."""
SMALL, LARGEST_SMALL = 1 / 8, 1 / 4
"""Lengths are doubted when their median and their largest are at most these shares of the middle of what is usual: ten
times as much, of centimetres, is then still usual. The project's own choice, no source."""
SHORTEST_INTERVAL, USUAL_INTERVAL = 16, (21, 112)
"""Days between trims: up to the first they may be weeks or months, if that is within the second; common practice, no
source."""
HEAVY = ((120.0, 320.0), (np.inf, 230.0))
"""kg divided by the cube of the height in m, beyond which a mass is doubted, by the height in cm below which it holds.
The broadest ponies reach 280, the heaviest breeds 220: from memory, the project's own choice."""
HEAVY_COLUMN, HEAVY_ALONE_KG = 200.0, 850.0
"""The median from which a column may be in pounds: of that quotient, or in kg where no height is known; own choice."""

LONE_COLUMN, LONE_SHARE, LONE_GAP = 8, 0.1, 3
"""From how many lengths a column tells that one of them was written in centimetres, what share of it such can be (one
always can), and how many times smaller than the smallest other they must be; the project's own choice, no source."""


@dataclass(frozen=True)
class Doubt:
    """Which numbers of a column may be in another unit, why, and the units: name and what one is in ours."""

    rows: np.ndarray
    why: str
    units: tuple[tuple[str, float], ...]


def doubt_unit(column: Column, values: np.ndarray, heights: np.ndarray | None = None) -> Doubt | None:
    """Return what is doubtful about a column's unit, or nothing.

    Parameters
    ----------
    column : Column
        Ours.
    values : ndarray, shape (n,)
        In our unit; NaN where there is none.
    heights : ndarray, shape (n,), optional
        Heights of the same horses in cm.
    """
    if column.plausible is None:
        return None
    if column.name == "body_mass_kg":
        return _doubt_mass(column, values, heights)
    if column.name == "trim_interval_days":
        return _doubt_interval(values)
    return _doubt_length(column, values) if column.unit == "mm" else None


def _doubt_length(column: Column, values: np.ndarray) -> Doubt | None:
    low, high = column.plausible or (None, None)
    filled = values[np.isfinite(values)]
    if len(filled) < COLUMN or low is None or high is None:
        return None
    middle, median = (low + high) / 2, float(np.median(filled))
    if not 0 < median <= SMALL * middle or filled.max() > LARGEST_SMALL * middle:
        return None
    fitting = tuple(
        (unit, factor)
        for unit, factor in UNIT_SLIPS["mm"]
        if median * factor >= LARGEST_SMALL * middle and not outside(filled * factor, (0, high)).any()
    )
    why = f"all of the column's numbers are small beside what is usual, {low:g} to {high:g} mm"
    return Doubt(np.isfinite(values) & (values > 0), why, fitting) if fitting else None


def lone_small(column: Column, values: np.ndarray) -> np.ndarray:
    """Return which lengths are far smaller than all others of the column, but like them when ten times as long.

    Parameters
    ----------
    column : Column
        Ours; of one that is not in mm, or may be 0, none is.
    values : ndarray, shape (n,)
        In mm; NaN where there is none.

    Returns
    -------
    ndarray of bool, shape (n,)
    """
    none = np.zeros(len(values), dtype=bool)
    if column.unit != "mm" or column.plausible is None or not column.plausible[0]:
        return none
    ordered = np.sort(values[np.isfinite(values)])
    if len(ordered) < LONE_COLUMN or ordered[0] <= 0:
        return none
    most = max(1, int(LONE_SHARE * len(ordered)))
    gaps = np.flatnonzero(ordered[1 : most + 1] >= LONE_GAP * ordered[:most])
    if not len(gaps):
        return none
    smallest = ordered[gaps[-1] + 1]
    return (values < smallest) & ~outside(values * 10, (float(smallest), float(ordered[-1])))


def _doubt_interval(values: np.ndarray) -> Doubt | None:
    low, high = USUAL_INTERVAL
    rows = (values > 0) & (values <= SHORTEST_INTERVAL)
    units = tuple(
        (unit, factor)
        for unit, factor in (("weeks", 7.0), ("months", 30.4375))
        if rows.any() and not outside(np.nanmedian(values[rows])[None] * factor, (low, high))[0]
    )
    return Doubt(rows, "so few days between trims are unusual", units) if units else None


def _doubt_mass(column: Column, values: np.ndarray, heights: np.ndarray | None) -> Doubt | None:
    tall = np.full(len(values), np.nan) if heights is None else heights
    quotient = values / (tall / 100) ** 3
    heavy = quotient > np.select([tall < limit for limit, _ in HEAVY], [most for _, most in HEAVY], np.inf)
    known = quotient[np.isfinite(quotient) & (tall >= HEAVY[0][0])]
    why = "so heavy a horse is unusual at its height"
    if len(known) >= COLUMN and np.median(known) > HEAVY_COLUMN:
        heavy |= np.isfinite(values)
        why = "most of the column's horses are heavier than is usual at their height"
    alone = values[np.isfinite(values)]
    if len(alone) >= COLUMN and not np.isfinite(tall).any() and np.median(alone) >= HEAVY_ALONE_KG:
        heavy |= np.isfinite(values)
        why = f"most of the column's horses weigh {HEAVY_ALONE_KG:g} kg or more, as the heaviest breeds alone do"
    heavy &= ~outside(values * UNIT_SLIPS["kg"][0][1], column.plausible)  # type: ignore[arg-type]
    return Doubt(heavy, why, UNIT_SLIPS["kg"]) if heavy.any() else None

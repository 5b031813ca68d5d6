"""Compare a reading with its kind of foot, the horse's size and the horse's other readings; nothing is removed."""

from __future__ import annotations

from collections import Counter

import numpy as np

from hoofcohort.intake.cells import outside
from hoofcohort.intake.checked import rows_where
from hoofcohort.mapping import limits
from hoofcohort.mapping.looked import Looked
from hoofcohort.mapping.robust import group_medians, numbered
from hoofcohort.mapping.sides import check_halves, check_sides
from hoofcohort.tables import TABLES, Column

_TOE, _HEEL = "toe_angle_deg", "heel_angle_deg"


def check_feet(converted: Looked, values: dict[str, np.ndarray], told: dict[str, np.ndarray]) -> None:
    """Compare each reading with its kind of foot, the horse's size and the horse's other readings."""
    frame = converted.frame
    foot, horse = frame["foot"].to_numpy(dtype=object), frame["horse_id"].to_numpy(dtype=object)
    named = (foot != "") & (horse != "")
    _check_ends(converted, foot, values, told)
    check_size(converted, values, told)
    method = (
        frame["method"].to_numpy(dtype=object) if "method" in frame.columns else np.full(len(frame), "", dtype=object)
    )
    groups = numbered(horse, foot, method)
    _check_angles(converted, np.where(named, groups, -1), values, told)
    check_sides(converted, values)
    check_halves(converted, np.where(named, groups, -1), values)
    horses = numbered(horse, method)
    _check_outliers(converted, np.where(named, groups, -1), horses, values, told)
    _check_visit_days(converted)


def _check_ends(
    converted: Looked, foot: np.ndarray, values: dict[str, np.ndarray], told: dict[str, np.ndarray]
) -> None:
    for limit in limits.FOOT_LIMITS:
        if limit.column in values:
            end = np.isin(foot, ("LF", "RF") if limit.end == "fore" else ("LH", "RH"))
            pair = (limit.low, limit.high)
            for row in rows_where(outside(values[limit.column], pair) & end & ~told[limit.column]):
                usual = f"usual of a {limit.end} foot are {limit.low:.3g} to {limit.high:.3g} deg"
                converted.tell(row, limit.column, "unlike_foot", f"{usual}; look again ({limit.source})")
                told[limit.column][row] = True


def check_size(converted: Looked, values: dict[str, np.ndarray], told: dict[str, np.ndarray]) -> None:
    """Compare lengths with what is usual for a horse of that body mass, where it is among the values."""
    if "body_mass_kg" not in values:
        return
    mass = values["body_mass_kg"]
    for limit in limits.SIZE_LIMITS:
        if limit.column in values:
            sized = (mass >= limit.lightest) & (mass < limit.heaviest)
            for row in rows_where(outside(values[limit.column], (limit.low, limit.high)) & sized & ~told[limit.column]):
                usual = f"usual at {mass[row]:g} kg are {limit.low:g} to {limit.high:g} mm"
                converted.tell(row, limit.column, "unlike_foot", f"{usual}; look again ({limit.source})")
                told[limit.column][row] = True


def _check_angles(
    converted: Looked, groups: np.ndarray, values: dict[str, np.ndarray], told: dict[str, np.ndarray]
) -> None:
    """Find rows whose toe and heel angle are nearer to the foot's other readings when exchanged."""
    if _TOE not in values or _HEEL not in values:
        return
    pair = np.column_stack([values[_TOE], values[_HEEL]])
    used = np.flatnonzero(groups >= 0)
    medians, counts = np.full(pair.shape, np.nan), np.zeros(pair.shape)
    medians[used], counts[used] = group_medians(pair[used], groups[used])
    straight = np.abs(pair - medians).sum(axis=1)
    exchanged = np.abs(pair[:, ::-1] - medians).sum(axis=1)
    enough = (counts >= limits.FEW_READINGS).all(axis=1) & ~told[_TOE] & ~told[_HEEL]
    with np.errstate(invalid="ignore"):
        found = (
            enough & (straight - exchanged > limits.EXCHANGED_GAIN) & (exchanged * limits.EXCHANGED_TIMES < straight)
        )
    for row in rows_where(found):
        toe, heel = pair[row]
        remedy = f"the foot's other readings are about {medians[row, 0]:.4g} and {medians[row, 1]:.4g} deg; "
        converted.tell(
            row, _TOE, "angles_exchanged", f"{remedy}if exchanged, toe angle is {heel:g} and heel angle {toe:g}"
        )
        told[_TOE][row] = told[_HEEL][row] = True


def _check_outliers(
    converted: Looked,
    groups: np.ndarray,
    horses: np.ndarray,
    values: dict[str, np.ndarray],
    told: dict[str, np.ndarray],
) -> None:
    """Find values far from the median of the horse's other readings of the same foot by the same method.

    How far is usual, the foot's own readings tell when there are enough, else those of all the horse's feet.
    """
    columns = [column for column in TABLES["feet"].measurements if column.unit and column.name in values]
    used = np.flatnonzero(groups >= 0)
    if not columns or not len(used):
        return
    table = np.column_stack([values[column.name][used] for column in columns])
    medians, counts = group_medians(table, groups[used])
    deviations = np.abs(table - medians)
    spread = limits.MAD_TO_SD * group_medians(deviations, groups[used])[0]
    floor = np.column_stack([_floor(column, medians[:, place]) for place, column in enumerate(columns)])
    enough = counts > limits.OUTLIER_OTHERS
    few = (counts >= limits.FEW_READINGS) & ~enough
    some = few.any(axis=1)
    if some.any():
        own, number = group_medians(np.where(few, deviations, np.nan)[some], numbered(horses[used][some]))
        few[some] &= number >= limits.FEW_OF_THE_HORSE
        spread[some] = np.where(few[some], limits.MAD_TO_SD * own, spread[some])
    with np.errstate(invalid="ignore"):
        far = (deviations > limits.OUTLIER_DEVIATIONS * np.maximum(spread, floor)) & (enough | few)
    for place, column in enumerate(columns):
        for where in rows_where(far[:, place] & ~told[column.name][used]):
            row, median, value = int(used[where]), medians[where, place], table[where, place]
            remedy = (
                f"the median of the foot's {counts[where, place]} readings is {median:.4g} {column.unit}; look again"
            )
            near = limits.SLIPPED_SHARE * abs(median)
            shift = next((v for v in (value * 10, value / 10) if abs(v - median) < near), None)
            if shift is not None:
                remedy += f"; if the decimal point slipped, it is {shift:.6g} {column.unit}"
            converted.tell(row, column.name, "decimal_slip" if shift is not None else "outlier", remedy)
            told[column.name][row] = True


def _floor(column: Column, medians: np.ndarray) -> np.ndarray:
    smallest = limits.SMALLEST_DEVIATION[column.unit]
    if column.unit != "mm":
        return np.full(len(medians), smallest)
    return np.maximum(smallest * np.abs(medians), limits.SHORTEST_DEVIATION_MM)


def _check_visit_days(converted: Looked) -> None:
    """Find rows whose date, day and month exchanged, is the day on which the horse's other feet were measured."""
    horses, days, feet = (converted.frame[name].tolist() for name in ("horse_id", "visit_date", "foot"))
    different = {day: exchanged_day(day) for day in set(days)}
    if not any(other in different for other in different.values() if other):
        return
    counts = Counter(zip(horses, days, strict=True))
    measured: dict[tuple[str, str], set[str]] = {}
    for horse, day, foot in zip(horses, days, feet, strict=True):
        measured.setdefault((horse, day), set()).add(foot)
    for row, (horse, day) in enumerate(zip(horses, days, strict=True)):
        here, there = (horse, day), (horse, different[day])
        if horse and different[day] and counts[there] > counts[here] and not measured[here] & measured[there]:
            told = f"the horse's other feet were measured on {there[1]}; if day and month were exchanged, write that"
            converted.tell(row, "visit_date", "day_month_slip", told)


def exchanged_day(text: str) -> str:
    """Return a date with day and month exchanged; empty when that is no other date."""
    if not text:
        return ""
    year, month, day = text.split("-")
    return f"{year}-{day}-{month}" if int(day) <= 12 and day != month else ""

"""Recognise likely slips in converted rows, and say what value would make sense. Nothing is changed or removed."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pandas as pd

from hoofcohort.intake.cells import outside
from hoofcohort.intake.checked import rows_where
from hoofcohort.intake.remedies import cell_remedy
from hoofcohort.mapping import dates, hints, numbers, within_horse
from hoofcohort.mapping.converted import Converted, numbers_of
from hoofcohort.mapping.index_limits import check_indices
from hoofcohort.mapping.mapping import FLAT_COLUMNS, targets
from hoofcohort.mapping.unit_of_column import COLUMN, doubt_unit, lone_small
from hoofcohort.tables import TABLES, Column
from hoofcohort.tables.declare import DATES_POSSIBLE, UNIT_SLIPS
from hoofcohort.tables.dictionary import limits_text


def check(converted: Converted, as_of: dt.date | None = None) -> None:
    """Add what is impossible to a converted sheet's faults, and what is doubtful to its notes.

    Parameters
    ----------
    converted : Converted
        Of any table, flat included; check a flat one before it is split.
    as_of : date, optional
        The day that no date can be later than. Without it no date is too late; no clock is read.

    Notes
    -----
    A cell gets one finding, the first of: impossible, implausible or a likely unit or decimal slip, unlike the foot or
    the horse's size, an outlier, an index that is not plausible.
    """
    known = targets(converted.table)
    columns = [column for name, column in known.items() if name in converted.frame.columns]
    values = {
        column.name: numbers_of(converted.frame[column.name])
        for column in columns
        if column.kind in ("number", "integer") and converted.filled(column.name)
    }
    told: dict[str, np.ndarray] = {name: np.zeros(len(converted.frame), dtype=bool) for name in values}
    for column in columns:
        if column.name in values:
            _check_unit(converted, column, values, told[column.name])
            _check_limits(converted, column, values[column.name], told[column.name])
            _check_lone(converted, column, values[column.name], told[column.name])
            _say_unit_of_column(converted, column, values[column.name])
        elif column.kind == "date":
            _check_dates(converted, column, as_of)
    _check_relations(converted, values, told)
    if {"horse_id", "foot", "visit_date"} <= set(converted.frame.columns):
        within_horse.check_feet(converted, values, told)
        check_indices(converted, values, told)


def _check_limits(converted: Converted, column: Column, values: np.ndarray, told: np.ndarray) -> None:
    """Find impossible and implausible values of one column."""
    if column.possible is not None:
        texts = converted.frame[column.name]
        for row in rows_where(outside(values, column.possible)):
            cell = _cell(converted, column, values, row)
            hint = hints.in_other_units(column, cell)
            reason = "wrong_unit" if hint else "impossible_value"
            remedy = hints.remedy(column, reason, cell, str(texts.iloc[row]))
            converted.tell(row, column.name, reason, remedy)
            told[row] = True
    if column.plausible is not None:
        for row in rows_where(outside(values, column.plausible) & ~told):
            reason, remedy = _implausible(column, _cell(converted, column, values, row))
            converted.tell(row, column.name, reason, remedy)
            told[row] = True


def _check_unit(converted: Converted, column: Column, values: dict[str, np.ndarray], told: np.ndarray) -> None:
    """Doubt usual values whose column may be in another unit than the mapping takes it to be, unless it says one."""
    own, heights = values[column.name], _possible_heights(values)
    if column.name in converted.units or doubt_unit(column, own, heights) is None:
        return
    doubt = doubt_unit(column, np.where(_named_units(converted, column), np.nan, own), heights)
    if doubt is None:
        return
    header = converted.headers.get(column.name, column.name)
    names = " or ".join(unit for unit, _ in doubt.units)
    said = f"'{header}': {doubt.why}; if its numbers are in {names}, say it in the mapping"
    if doubt.rows.sum() > 0.5 * np.isfinite(own).sum():
        converted.understood = (*converted.understood, said)
    possible = ~outside(own, column.possible) if column.possible else True
    for row in rows_where(doubt.rows & possible):
        written = "; ".join(
            f"if it was written in {unit}, write {own[row] * factor:.4g}" for unit, factor in doubt.units
        )
        right = f"if it is right, leave it, or say unit: {column.unit} in the mapping"
        converted.tell(row, column.name, "likely_unit", f"{doubt.why}; {written}; {right}")
        told[row] = True


def _named_units(converted: Converted, column: Column) -> np.ndarray:
    """Return which cells of a column name their unit themselves."""
    codes, texts = pd.factorize(converted.original[column.name].to_numpy(dtype=object))
    return np.array([bool(numbers.read_number(str(text), "", column.unit).unit) for text in texts], dtype=bool)[codes]


def _possible_heights(values: dict[str, np.ndarray]) -> np.ndarray | None:
    """Return the heights in cm, without those that come back because they are not possible."""
    heights, possible = values.get("height_cm"), FLAT_COLUMNS["height_cm"].possible or (None, None)
    return None if heights is None else np.where(outside(heights, possible), np.nan, heights)


def _check_lone(converted: Converted, column: Column, values: np.ndarray, told: np.ndarray) -> None:
    """Doubt usual lengths that would be like the column's others when ten times as long."""
    for row in rows_where(lone_small(column, values) & ~told):
        why = "the column's other numbers are much larger"
        reason, remedy = hints.ten_times(_cell(converted, column, values, row))
        converted.tell(row, column.name, reason, f"{why}; {remedy}; if it is right, leave it")
        told[row] = True


def _cell(converted: Converted, column: Column, values: np.ndarray, row: int) -> hints.Cell:
    text = str(converted.original[column.name].iloc[row]) if column.name in converted.units else ""
    return hints.written_in(column, float(values[row]), text, converted.units.get(column.name, ""))


def _say_unit_of_column(converted: Converted, column: Column, values: np.ndarray) -> None:
    """Say so when most of a column would be usual in another unit: then its mapping is wrong, not each cell."""
    filled = values[np.isfinite(values)]
    if column.plausible is None or len(filled) < COLUMN:
        return
    strange = np.unique(filled[outside(filled, column.plausible)])
    if not len(strange) or (np.isin(filled, strange)).mean() <= 0.5:
        return
    units = [
        unit
        for unit, factor in UNIT_SLIPS.get(column.unit, ())
        if (~outside(filled * factor, column.plausible)).mean() > 0.5
    ]
    if units:
        header = converted.headers.get(column.name, column.name)
        told = f"'{header}': most of its numbers would be usual in {' or '.join(units)}; if so, say it in the mapping"
        converted.understood = (*converted.understood, told)


def _implausible(column: Column, cell: hints.Cell) -> tuple[str, str]:
    assert column.plausible is not None
    usual = f"usual are {hints.usual(column, column.plausible, cell)}"
    if hint := hints.in_other_units(column, cell):
        return "likely_unit", f"{usual}; {hint}"
    if slip := hints.shifted(column, cell):
        return "decimal_slip", f"{usual}{slip}"
    return "implausible_value", f"{usual}; look again, and leave it as it is if it is right"


def _check_dates(converted: Converted, column: Column, as_of: dt.date | None) -> None:
    codes, different = pd.factorize(converted.frame[column.name].to_numpy(dtype=object))
    reasons = [_date_reason(str(text), as_of) for text in different]
    if not any(reasons):
        return
    found = np.array([bool(reason) for reason in reasons])
    for row in rows_where(found[codes]):
        text, reason = str(different[codes[row]]), reasons[codes[row]]
        exchanged = within_horse.exchanged_day(text)
        remedy = cell_remedy(column, reason, text, as_of)
        if reason == "future_date" and exchanged and as_of and exchanged <= str(as_of):
            remedy += f"; with day and month exchanged it is {exchanged}"
        since = dates.since_1970(str(converted.original[column.name].iloc[row]))
        remedy += (
            f"; if it counts the days since 1970-01-01, write {since}"
            if since and not _date_reason(since, as_of)
            else ""
        )
        converted.tell(row, column.name, reason, remedy)


def _date_reason(text: str, as_of: dt.date | None) -> str:
    if not text:
        return ""
    if not DATES_POSSIBLE[0] <= text <= DATES_POSSIBLE[1]:
        return "impossible_value"
    return "future_date" if as_of is not None and text > str(as_of) else ""


def _check_relations(converted: Converted, values: dict[str, np.ndarray], told: dict[str, np.ndarray]) -> None:
    """Find pairs of cells of a row that cannot both be right, or hardly."""
    for relation in TABLES["feet"].relations:
        if relation.first not in values or relation.second not in values:
            continue
        first, second = values[relation.first], values[relation.second]
        with np.errstate(divide="ignore", invalid="ignore"):
            found = first - second if relation.kind == "difference" else first / second
        clear = ~told[relation.first] & ~told[relation.second] & np.isfinite(found)
        impossible = (
            outside(found, relation.possible) & clear if relation.possible else np.zeros(len(found), dtype=bool)
        )
        implausible = outside(found, relation.plausible) & clear & ~impossible
        for row in rows_where(impossible | implausible):
            value = f"{relation.name} is {found[row]:.4g} {relation.unit}".rstrip()
            usual = limits_text(relation.plausible, relation.unit)
            if impossible[row]:
                remedy = (
                    f"{value}: {relation.likely}; if so, write {second[row]:g} in the first and {first[row]:g} in the "
                    "second, else correct them"
                )
                converted.tell(row, relation.first, "cells_exchanged", remedy)
            else:
                converted.tell(
                    row, relation.first, "implausible_value", f"{value}, usual are {usual}; look again at both"
                )
            told[relation.first][row] = told[relation.second][row] = True

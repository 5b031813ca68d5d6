"""Say what to write instead of a number that is not usual, in the unit that the member writes."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal, InvalidOperation

import numpy as np

from hoofcohort.intake.cells import outside
from hoofcohort.intake.remedies import cell_remedy, other_units, slipped_point
from hoofcohort.mapping import numbers, units
from hoofcohort.tables import Column
from hoofcohort.tables.declare import Limits
from hoofcohort.tables.dictionary import limits_text

NAMES = {"mm": "millimetres", "cm": "centimetres", "m": "metres", "in": "inches", "kg": "kilograms", "lb": "pounds"}
NAMES |= {"st": "stone", "weeks": "weeks", "months": "months", "days": "days", "hours": "hours", "deg": "degrees"}
_ONE = Decimal(1)
_RARE = ("g", "st", "m")
"""Units that nobody writes by mistake for another."""


@dataclass(frozen=True)
class Cell:
    """A number in our unit, the cell it came from, and the unit it was written in; that is empty for ours."""

    value: float
    text: str = ""
    unit: str = ""


def written_in(column: Column, value: float, text: str, unit: str) -> Cell:
    """Return a cell of a column whose mapping names a unit; a unit in the cell itself goes before it."""
    own = numbers.read_number(text, "", column.unit).unit if text else ""
    unit = own or unit
    return Cell(value, text, "" if unit == column.unit else unit)


def remedy(column: Column, reason: str, cell: Cell, ours: str) -> str:
    """Return what to do about an impossible value; ``ours`` is its text in our unit."""
    if not cell.unit:
        return cell_remedy(column, reason, ours)
    told = f"possible are {usual(column, column.possible or (None, None), cell)}"
    if hint := in_other_units(column, cell):
        return f"{told}; {hint}"
    return f"{told}; measure again or correct it, or leave the cell empty{shifted(column, cell)}"


def usual(column: Column, pair: Limits, cell: Cell) -> str:
    """Return limits in the unit of the cell; heights in hands stay in centimetres."""
    if not cell.unit or cell.unit == units.HANDS:
        return limits_text(pair, column.unit)
    factor = float(units.FACTORS[column.unit][cell.unit])
    low, high = (None if limit is None else float(f"{limit / factor:.3g}") for limit in pair)
    return limits_text((low, high), cell.unit)


def in_other_units(column: Column, cell: Cell) -> str:
    """Return which other units would make a value usual, and what to write then; nothing when none would."""
    if not cell.unit:
        return other_units(column, cell.value)
    told = []
    for unit in units.units_for(column.unit):
        rare = unit in _RARE and not (unit == "m" and column.unit == "cm")
        value = _ours(cell, unit, column) if not rare and unit != cell.unit else None
        if value is not None and _usual(column, value):
            told.append(f"if it was written in {NAMES.get(unit, unit)}, write {_theirs(cell, value, unit, column)}")
    slip = shifted(column, cell) if told else ""
    return "; ".join(told) + ("" if told and slip.endswith(told[0].partition(",")[2]) else slip)


def _theirs(cell: Cell, value: float, unit: str, column: Column) -> str:
    """Return a value in the unit of the cell; where that would not be exact, the number as it stands and its unit."""
    if cell.unit in (units.HANDS, "weeks", "months"):
        return f"{_number(cell):f} {unit}"
    return f"{value / float(units.FACTORS[column.unit][cell.unit]):.4g}"


def shifted(column: Column, cell: Cell) -> str:
    """Return what to write if the decimal point slipped, where that would be usual; else nothing."""
    if column.plausible is None or cell.value == 0:
        return ""
    if not cell.unit:
        return slipped_point(column, cell.value)
    for step in (Decimal(10), Decimal("0.1")):
        value = _ours(cell, cell.unit, column, step)
        if value is not None and _usual(column, value):
            return f"; if the decimal point slipped, write {units.written(_number(cell) * step)}"
    return ""


def ten_times(cell: Cell) -> tuple[str, str]:
    """Return what a length in mm most likely is that should be ten times as long, and what to write then."""
    if not cell.unit:
        return "likely_unit", f"if it was written in centimetres, write {cell.value * 10:.6g}"
    return "decimal_slip", f"if the decimal point slipped, write {units.written(_number(cell) * 10)} {cell.unit}"


def _number(cell: Cell) -> Decimal:
    return numbers.read_number(cell.text, "").value or Decimal(0)


def _ours(cell: Cell, unit: str, column: Column, step: Decimal = _ONE) -> float | None:
    try:
        return float(units.to_ours(_number(cell) * step, unit, column.unit))
    except (ValueError, InvalidOperation):
        return None


def _usual(column: Column, value: float) -> bool:
    return column.plausible is not None and not outside(np.array([value]), column.plausible)[0]

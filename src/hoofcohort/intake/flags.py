"""Point out accepted values that are possible but not plausible; they are kept."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hoofcohort.intake.cells import outside
from hoofcohort.intake.checked import CheckedTable, rows_where
from hoofcohort.intake.remedies import other_units
from hoofcohort.intake.rows import related
from hoofcohort.tables.dictionary import limits_text


@dataclass(frozen=True)
class Flag:
    """One implausible value that was kept: place as in ``Fault``, the plausible limits, and why."""

    line: int
    position: int
    column: str
    value: str
    limits: str
    reason: str


def find_flags(table: CheckedTable) -> list[Flag]:
    """Return the flags of a table's accepted rows, sorted by line, then column as in the file."""
    good = ~table.bad
    flags = []
    for column in table.raw.table.columns:
        if column.plausible is None or column.name not in table.raw.columns:
            continue
        values = table.frame[column.name].to_numpy(dtype=float, na_value=np.nan)
        limits = limits_text(column.plausible, column.unit)
        for row in rows_where(outside(values, column.plausible) & good):
            hint = other_units(column, values[row])
            reason = "possible but not plausible; kept" + (f"; {hint}" if hint else "")
            flags.append(_flag(table, row, column.name, limits, reason))
    for relation in table.raw.table.relations:
        values = related(table.frame, relation)
        limits = limits_text(relation.plausible, relation.unit)
        for row in rows_where(outside(values, relation.plausible) & good):
            told = f"{relation.name} is {values[row]:.4g} {relation.unit}".rstrip()
            flags.append(_flag(table, row, relation.first, limits, f"{told}: possible but not plausible; kept"))
    return sorted(flags, key=lambda flag: (flag.line, flag.position))


def _flag(table: CheckedTable, row: int, column: str, limits: str, reason: str) -> Flag:
    raw = table.raw
    return Flag(int(raw.lines[row]), raw.header.index(column), column, raw.text(row, column), limits, reason)

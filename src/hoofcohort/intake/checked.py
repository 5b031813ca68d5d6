"""A table under check: its typed values, its faults so far, and the rows that are still good."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from hoofcohort.intake.cells import absent_column, check_column
from hoofcohort.intake.reading import RawTable
from hoofcohort.intake.remedies import cell_remedy


@dataclass(frozen=True)
class Fault:
    """One reason to reject a row.

    Attributes
    ----------
    line : int
        Line on which the row begins in the original file.
    position : int
        Place of the column in the file, from 0; -1 for the row as a whole.
    column, value : str
        The column's name and the cell exactly as written; both empty for the row as a whole.
    reason : str
        A code of ``reasons.REASONS``.
    remedy : str
        What to do.
    row_key : str
        The cells that name the row, as written, joined by a slash.
    """

    line: int
    position: int
    column: str
    value: str
    reason: str
    remedy: str
    row_key: str


@dataclass
class CheckedTable:
    """A table's typed values with the faults found so far.

    Attributes
    ----------
    raw : RawTable
    frame : DataFrame
        Every well-formed row: all declared columns and ``line``. Faulty cells are missing.
    bad : ndarray of bool
        Rows with a fault.
    faults : list of Fault
    """

    raw: RawTable
    frame: pd.DataFrame
    bad: np.ndarray
    faults: list[Fault] = field(default_factory=list)

    @property
    def accepted(self) -> pd.DataFrame:
        """The rows without a fault, in the order of the file."""
        return self.frame[~self.bad].reset_index(drop=True)

    def reject(self, row: int, column: str, reason: str, remedy: str) -> None:
        """Add a fault of one cell. A column that the file lacks stands at the end of the row."""
        raw = self.raw
        position = raw.header.index(column) if column in raw.header else len(raw.header)
        line = int(raw.lines[row])
        fault = Fault(line, position, column, raw.text(row, column), reason, remedy, self.row_key(row))
        self.faults.append(fault)
        self.bad[row] = True

    def row_key(self, row: int) -> str:
        """Return the cells that name a row, as written."""
        return "/".join(self.raw.text(row, column) for column in self.raw.table.key)


def check_cells(raw: RawTable, as_of: dt.date | None) -> CheckedTable:
    """Check every cell of a table by itself.

    Parameters
    ----------
    raw : RawTable
    as_of : date or None
        The day that no date can be later than; None: not checked.
    """
    rows = len(raw.lines)
    columns: dict[str, pd.Series] = {}
    faulty: dict[str, tuple[np.ndarray, np.ndarray]] = {}
    for column in raw.table.columns:
        found = raw.columns.get(column.name)
        checked = absent_column(column, rows) if found is None else check_column(column, found, as_of)
        columns[column.name], faulty[column.name] = checked.typed, (checked.rows, checked.reasons)
    columns["line"] = pd.Series(raw.lines, dtype="Int64")
    table = CheckedTable(raw, pd.DataFrame(columns, copy=False), np.zeros(rows, dtype=bool), _ragged_faults(raw))
    for name, (places, reasons) in faulty.items():
        _reject_cells(table, name, places, reasons, as_of)
    return table


def _reject_cells(table: CheckedTable, name: str, rows: np.ndarray, reasons: np.ndarray, as_of: dt.date | None) -> None:
    column = table.raw.table.by_name[name]
    remedies: dict[tuple[str, str], str] = {}
    for row, reason in zip(rows.tolist(), reasons.tolist(), strict=True):
        told = (reason, table.raw.text(row, name))
        if told not in remedies:
            remedies[told] = cell_remedy(column, *told, as_of)
        table.reject(row, name, reason, remedies[told])


def _ragged_faults(raw: RawTable) -> list[Fault]:
    width = len(raw.header)
    faults = []
    for row in raw.ragged:
        named = dict(zip(raw.header, row.cells, strict=False))
        key = "/".join(named.get(name, "") for name in raw.table.key)
        cause = "write a decimal comma as a point, and put quotation marks around a cell that holds a comma"
        if len(row.cells) < width:
            cause = "a missing value still needs its comma"
        remedy = f"the row has {len(row.cells)} cells, the header {width} columns; {cause}"
        faults.append(Fault(row.line, -1, "", "", "ragged_row", remedy, key))
    return faults


def rows_where(mask: np.ndarray | pd.Series) -> Iterable[int]:
    """Return the positions of the rows that a mask marks, as plain integers."""
    return np.flatnonzero(np.asarray(mask, dtype=bool)).tolist()

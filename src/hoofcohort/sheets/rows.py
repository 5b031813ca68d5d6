"""From rows of cells to a sheet: the header is found, and what is no data is put aside, never dropped."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from hoofcohort.sheets import limits
from hoofcohort.sheets.blanks import Tidied
from hoofcohort.sheets.errors import UnreadableError
from hoofcohort.sheets.header import header_place, unit_text, units_of
from hoofcohort.sheets.row_kinds import is_total, may_be_total, notes_from
from hoofcohort.sheets.sheet import Aside, Ragged, Sheet, Unread
from hoofcohort.sheets.text_rows import Rows
from hoofcohort.sheets.told import lines_said, names_said

_SAID = (
    ("title", "rows above the header, put aside"),
    ("units", "a row of units, put aside"),
    ("repeated header", "rows that repeat the header, put aside"),
    ("total", "rows that are totals, put aside"),
    ("note", "notes below the table, put aside"),
)


@dataclass
class _Parted:
    """The rows below the header by what they are."""

    lines: list[int] = field(default_factory=list)
    kept: list[list[str]] = field(default_factory=list)
    aside: list[Aside] = field(default_factory=list)
    ragged: list[Ragged] = field(default_factory=list)
    units: tuple[str, ...] = ()


def sheet_of(
    path: Path, name: str, rows: Rows, understood: Sequence[str], typed: bool = False, clean: bool = False
) -> Sheet | None:
    """Make a sheet of rows; none when no cell is filled.

    Parameters
    ----------
    path : Path
        The file, for messages.
    name : str
        The sheet's name, empty for a text file.
    rows : Rows
    understood : sequence of str
        What has been understood so far.
    typed : bool
        The rows come from a spreadsheet, where a row that ends early has empty cells.
    clean : bool
        The cells are known to be tidy.

    Raises
    ------
    UnreadableError
        When there are too many rows or columns, a cell is too long, or the header cannot be cut into cells.
    """
    cells = _tidied(path, name, rows, clean)
    if not any(map(any, cells)):
        return None
    place = header_place(cells)
    _refuse_broken_header(path, rows, place)
    wide = _header(cells, place)
    _refuse_wide(path, name, rows.lines[place], len(wide))
    above = zip(rows.lines[:place], cells[:place], strict=True)
    parted = _parted(rows, cells, place, wide, typed)
    parted.aside[:0] = [Aside(line, "title" if any(row) else "blank", _text(row)) for line, row in above]
    columns = [_objects(column) for column in zip(*parted.kept, strict=True)] or [_objects(()) for _ in wide]
    used = [at for at in range(len(wide)) if wide[at] or columns[at].any()]
    return Sheet(
        path.name, name, tuple(wide[at] for at in used), rows.lines[place], tuple(at + 1 for at in used),
        tuple(columns[at] for at in used), np.array(parted.lines, np.int64), tuple(parted.aside),
        tuple(parted.ragged), typed, (*understood, *_told(parted, wide, used, rows)),
        tuple(parted.units[at] for at in used) if any(parted.units) else (),
    )  # fmt: skip


def unread_cells(unread: Sequence[Unread], sheet: Sheet) -> tuple[Unread, ...]:
    """Return those of a spreadsheet's cells without a value that stand in its rows of data."""
    lines, positions = set(sheet.lines.tolist()), set(sheet.positions)
    return tuple(cell for cell in unread if cell.line in lines and cell.position in positions)


def _objects(texts: Sequence[str]) -> np.ndarray:
    column = np.empty(len(texts), dtype=object)
    column[:] = texts
    return column


def _tidied(path: Path, name: str, rows: Rows, clean: bool) -> list[list[str]]:
    if len(rows.cells) > limits.MOST_ROWS:
        raise UnreadableError(f"{_where(path, name)}: holds more than {limits.MOST_ROWS} rows; send it in parts")
    texts = Tidied()
    cells = rows.cells if clean else [[*map(texts.__getitem__, row)] for row in rows.cells]
    longest = max(map(len, texts), default=0)
    if longest > limits.LONGEST_CELL:
        at = next(at for at, row in enumerate(rows.cells) if any(len(cell) > limits.LONGEST_CELL for cell in row))
        column = next(place for place, cell in enumerate(rows.cells[at], 1) if len(cell) > limits.LONGEST_CELL)
        raise UnreadableError(
            f"{_where(path, name)}, line {rows.lines[at]}, column {column}: the cell holds {longest} characters, more "
            f"than the {limits.LONGEST_CELL} allowed; shorten it, and look for a separator other than that of the rest"
        )
    return cells


def _where(path: Path, name: str) -> str:
    return f"{path}, sheet '{name}'" if name else str(path)


def _refuse_broken_header(path: Path, rows: Rows, place: int) -> None:
    line = rows.lines[place]
    broken = [own for own in rows.faults if own <= line]
    if broken:
        raise UnreadableError(f"{path}, line {broken[0]}: {rows.faults[broken[0]]}; the columns cannot be told from it")


def _refuse_wide(path: Path, name: str, line: int, width: int) -> None:
    if width > limits.MOST_COLUMNS:
        raise UnreadableError(
            f"{_where(path, name)}, line {line}: the header names {width} columns, more than the {limits.MOST_COLUMNS} "
            "allowed; send only the columns of the study"
        )


def _header(cells: Sequence[list[str]], place: int) -> list[str]:
    """Return the header without empty cells at its end below which nothing stands."""
    wide = list(cells[place])
    named = len(wide)
    while named and not wide[named - 1]:
        named -= 1
    if named < len(wide):
        ends = (
            len(row) - next(at for at, cell in enumerate(reversed(row)) if cell)
            for row in cells[place + 1 :]
            if any(row)
        )
        named = max(named, min(len(wide), max(ends, default=0)))
    return wide[:named]


def _parted(rows: Rows, cells: Sequence[list[str]], place: int, wide: list[str], typed: bool) -> _Parted:
    """Tell the rows below the header apart."""
    width = len(wide)
    notes = notes_from(cells, place, width)
    if notes == len(cells) and not rows.faults and _are_all_data(cells[place + 1 :], wide):
        return _Parted(rows.lines[place + 1 :], list(cells[place + 1 :]))
    parted = _Parted()
    plain: set[str] = set()
    for at in range(place + 1, len(cells)):
        row, line = cells[at], rows.lines[at]
        if len(row) > width:
            row = _trimmed(row, width)
        elif typed and len(row) < width:
            row = [*row, *[""] * (width - len(row))]
        first = row[0] if row else ""
        if len(row) == width and at < notes and first in plain and line not in rows.faults:
            parted.lines.append(line)
            parted.kept.append(row)
        elif not first and not any(row):
            parted.aside.append(Aside(line, "blank", ""))
        elif line in rows.faults:
            parted.ragged.append(Ragged(line, tuple(row), rows.faults[line]))
        elif first == wide[0] and row == wide:
            parted.aside.append(Aside(line, "repeated header", _text(row)))
        elif at >= notes:
            parted.aside.append(Aside(line, "note", _text(row)))
        elif is_total(first, row, bool(parted.aside) and parted.aside[-1].kind == "total"):
            parted.aside.append(Aside(line, "total", _text(row)))
        elif not parted.kept and not parted.units and units_of(row) and len(row) <= width:
            parted.units = tuple(unit_text(cell) for cell in [*row, *[""] * (width - len(row))])
            parted.aside.append(Aside(line, "units", _text(row)))
        elif len(row) != width:
            parted.ragged.append(Ragged(line, tuple(row)))
        else:
            parted.lines.append(line)
            parted.kept.append(row)
            if first and first != wide[0] and not may_be_total(first):
                plain.add(first)
    return parted


def _are_all_data(body: Sequence[list[str]], wide: list[str]) -> bool:
    """Tell quickly whether every row is one of data; False when it is not certain."""
    if set(map(len, body)) != {len(wide)} or units_of(body[0]):
        return False
    firsts = {row[0] for row in body}
    return "" not in firsts and wide[0] not in firsts and not any(map(may_be_total, firsts))


def _trimmed(row: list[str], width: int) -> list[str]:
    """Leave out empty cells beyond the header's width."""
    end = len(row)
    while end > width and not row[end - 1]:
        end -= 1
    return row[:end]


def _text(row: Sequence[str]) -> str:
    return " | ".join(filter(None, row))


def _told(parted: _Parted, wide: Sequence[str], used: Sequence[int], rows: Rows) -> list[str]:
    found = []
    for kind, what in _SAID:
        lines = [own.line for own in parted.aside if own.kind == kind]
        if lines:
            found.append(f"{what}: {lines_said(lines)}")
    if rows.faults:
        found.append(f"rows with broken quotation marks: {lines_said(sorted(rows.faults))}")
    if len(used) < len(wide):
        found.append(f"columns without name and cells, left out: {len(wide) - len(used)}")
    unnamed = [at + 1 for at in used if not wide[at]]
    if unnamed:
        found.append(f"columns without a name: {lines_said(unnamed, 'column')}")
    twice = sorted({name for name in wide if name and list(wide).count(name) > 1})
    if twice:
        found.append(f"headers that name several columns: {names_said(twice)}")
    if not parted.lines and not parted.ragged:
        found.append("there is a header and no row of data below it")
    return found

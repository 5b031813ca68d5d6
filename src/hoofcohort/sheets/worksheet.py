"""One sheet of a workbook as rows of text. The library's parser reads cells; only used ones take memory."""

from __future__ import annotations

import re
import warnings
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import IO, Any
from xml.etree.ElementTree import iterparse

from openpyxl.utils.cell import coordinate_to_tuple
from openpyxl.worksheet._reader import (
    COL_TAG,
    FORMULA_TAG,
    INLINE_STRING,
    MERGE_TAG,
    ROW_TAG,
    VALUE_TAG,
    WorkSheetParser,
)

from hoofcohort.sheets import limits
from hoofcohort.sheets.cell_text import cell_text
from hoofcohort.sheets.errors import UnreadableError
from hoofcohort.sheets.sheet import Unread
from hoofcohort.sheets.text_rows import Rows

NOT_AVAILABLE = "#N/A"
"""The one error that says that there is no value; the mapping takes it as missing."""
_YES = ("1", "true")
_TEXT_TAG = INLINE_STRING[: INLINE_STRING.index("}") + 1] + "t"
_DIGITS = re.compile("-?[0-9]{1,15}(?:[.][0-9]{1,17})?")


@dataclass
class Grid:
    """What a sheet holds.

    Attributes
    ----------
    rows : Rows
        From the first row of the sheet to the last filled one.
    unread : list of Unread
    hidden_rows, hidden_columns : list of int
    merged : list of str
        Ranges such as ``A2:A5``.
    percents : set of int
        Columns with a number shown as per cent.
    struck : list of int
        Rows with a cell shown struck through.
    values : int
        Cells with a number, a date or a truth value.
    """

    rows: Rows = field(default_factory=lambda: Rows([], []))
    unread: list[Unread] = field(default_factory=list)
    hidden_rows: list[int] = field(default_factory=list)
    hidden_columns: list[int] = field(default_factory=list)
    merged: list[str] = field(default_factory=list)
    percents: set[int] = field(default_factory=set)
    struck: list[int] = field(default_factory=list)
    values: int = 0


class _Parser(WorkSheetParser):  # type: ignore[misc]
    """The library's parser, which leaves out all that is no cell and tells formulas without a result."""

    def __init__(self, *args: Any, **named: Any) -> None:
        super().__init__(*args, **named)
        self.columns: dict[str, int] = {}

    def parse(self) -> Iterator[tuple[int, list[dict[str, Any]]]]:
        for _, element in iterparse(self.source):
            if element.tag == ROW_TAG:
                yield self.parse_row(element)
                element.clear()
            elif element.tag == COL_TAG:
                self.parse_column_dimensions(element)
            elif element.tag == MERGE_TAG:
                self.merged_cells = [own.get("ref", "") for own in element]
                element.clear()

    def parse_cell(self, element: Any) -> dict[str, Any]:
        return self._plain(element) or self._any(element)

    def _plain(self, element: Any) -> dict[str, Any] | None:
        """Read a usual cell as the library does, without its detours: a text, or a number that is no date."""
        kind, place, style = element.get("t", "n"), element.get("r", ""), int(element.get("s", 0))
        child = element[0] if len(element) == 1 and place else None
        if kind == "inlineStr" and child is not None and child.tag == INLINE_STRING and len(child) == 1:
            if child[0].tag != _TEXT_TAG:
                return None
            kind, value = "s", child[0].text or ""
        elif child is None or child.tag != VALUE_TAG or not _DIGITS.fullmatch(child.text or ""):
            return None
        elif kind == "s":
            value = self.shared_strings[int(child.text)]
        elif kind == "n" and style not in self.date_formats:
            value = float(child.text) if "." in child.text else int(child.text)
        else:
            return None
        letters = place.rstrip("0123456789")
        column = self.columns.get(letters)
        if column is None:
            column = self.columns[letters] = coordinate_to_tuple(place)[1]
        self.col_counter = column
        return {"row": self.row_counter, "column": column, "value": value, "data_type": kind, "style_id": style}

    def _any(self, element: Any) -> dict[str, Any]:
        cell: dict[str, Any] = super().parse_cell(element)
        if cell["value"] is None:
            formula = element.find(FORMULA_TAG)
            stored_empty = element.get("t") == "str" and element.find(VALUE_TAG) is not None
            if formula is not None and not stored_empty:
                cell.update(data_type="f", value=f"={formula.text or '...'}")
        elif cell["data_type"] == "e" and element.get("t", "n") == "n":
            cell.update(data_type="n", value=element.findtext(VALUE_TAG))
        return cell


@dataclass(frozen=True)
class Shown:
    """The numbers of the styles that show a number as per cent, and those that strike a cell through."""

    percent: frozenset[int]
    struck: frozenset[int]


def read_grid(where: str, source: IO[bytes], book: Any, strings: Any, shown: Shown) -> Grid:
    """Read the cells of one sheet.

    Parameters
    ----------
    where : str
        The file and the sheet, for messages.
    source : binary stream
        The sheet's XML.
    book : Workbook
        The library's workbook: its date system and formats.
    strings : sequence of str
        The workbook's shared texts.
    shown : Shown

    Raises
    ------
    UnreadableError
        When there are too many rows, columns or cells.
    """
    parser = _Parser(source, strings, data_only=True, epoch=book.epoch, date_formats=book._date_formats,
                     timedelta_formats=book._timedelta_formats)  # fmt: skip
    grid = Grid()
    found: list[tuple[int, dict[int, str]]] = []
    widest = last = 0
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        for line, cells in parser.parse():
            texts = {cell["column"]: _taken(grid, line, cell, shown) for cell in cells}
            texts = {column: text for column, text in texts.items() if text}
            if line <= last or len({cell["column"] for cell in cells}) < len(cells):
                raise UnreadableError(
                    f"{where}, row {line}: stands there twice; save it again in a spreadsheet program"
                )
            last = line
            if texts:
                found.append((line, texts))
                widest = max(widest, *texts)
                _refuse_large(where, line, widest)
    grid.rows = _rows(found, widest)
    _note_layout(grid, parser, found[-1][0] if found else 0, widest)
    return grid


def _taken(grid: Grid, line: int, cell: dict[str, Any], shown: Shown) -> str:
    """Return a cell's text, counting what is special about it."""
    kind, value, column = cell["data_type"], cell["value"], cell["column"]
    percent = cell["style_id"] in shown.percent and kind == "n"
    text = cell_text(value, percent)
    if cell["style_id"] in shown.struck and text and grid.struck[-1:] != [line]:
        grid.struck.append(line)
    if kind in "ndb" and value is not None:
        grid.values += 1
        if percent:
            grid.percents.add(column)
    elif kind == "f" or (kind == "e" and text != NOT_AVAILABLE and text):
        grid.unread.append(Unread(line, column, "formula" if kind == "f" else "error", text))
    return text


def _refuse_large(where: str, line: int, widest: int) -> None:
    if line > limits.MOST_ROWS or widest > limits.MOST_COLUMNS or line * widest > limits.MOST_CELLS:
        raise UnreadableError(
            f"{where}: its cells reach row {line} and column {widest}; allowed are {limits.MOST_ROWS} rows, "
            f"{limits.MOST_COLUMNS} columns and {limits.MOST_CELLS} cells; delete what stands far from the table"
        )


def _rows(found: list[tuple[int, dict[int, str]]], widest: int) -> Rows:
    rows = Rows([], [])
    for line, texts in found:
        while len(rows.lines) < line - 1:
            rows.lines.append(len(rows.lines) + 1)
            rows.cells.append([])
        rows.lines.append(line)
        rows.cells.append([texts.get(column, "") for column in range(1, widest + 1)])
    return rows


def _note_layout(grid: Grid, parser: _Parser, last: int, widest: int) -> None:
    grid.hidden_rows = sorted(
        int(line) for line, own in parser.row_dimensions.items() if own.get("hidden") in _YES and int(line) <= last
    )
    for own in parser.column_dimensions.values():
        if own.get("hidden") in _YES:
            grid.hidden_columns += range(int(own["min"]), min(int(own["max"]), widest) + 1)
    grid.hidden_columns.sort()
    grid.merged = list(parser.merged_cells or ())

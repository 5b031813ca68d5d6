"""Read an .xlsx workbook: numbers and dates as they are stored, nothing computed, nothing run."""

from __future__ import annotations

import io
import re
import warnings
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from hoofcohort.sheets import limits
from hoofcohort.sheets.archive import check_archive
from hoofcohort.sheets.errors import UnreadableError
from hoofcohort.sheets.no_table import is_table
from hoofcohort.sheets.rows import sheet_of, unread_cells
from hoofcohort.sheets.sheet import HIDDEN, Merged, Sheet
from hoofcohort.sheets.told import lines_said, names_said

if TYPE_CHECKING:
    from hoofcohort.sheets.worksheet import Grid, Shown

_MERGED = re.compile(r"([A-Z]{1,3})([0-9]{1,7}):[A-Z]{1,3}([0-9]{1,7})")


def read_workbook(path: Path, data: bytes) -> list[Sheet]:
    """Read every sheet that holds a cell.

    A value in merged cells counts for the first of them alone. Sheets of words beside sheets with tables are returned
    with ``is_table`` False.

    Raises
    ------
    UnreadableError
        For a broken, oversized or harmful workbook, or one without a cell.
    """
    said = check_archive(path, data)
    import openpyxl

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=True, keep_links=False)
            if len(book.worksheets) > limits.MOST_SHEETS:
                raise UnreadableError(f"{path}: holds more than {limits.MOST_SHEETS} sheets; send it in parts")
            read = [(own.title, _sheet(path, book, own, said)) for own in book.worksheets]
    except UnreadableError:
        raise
    except Exception as error:  # openpyxl raises whatever a broken part makes it raise
        raise UnreadableError(
            f"{path}: is no workbook that can be read ({type(error).__name__}); open it in a spreadsheet program and "
            "save it again"
        ) from None
    sheets = [sheet for _, sheet in read if sheet is not None]
    if not sheets:
        raise UnreadableError(f"{path}: no sheet holds a cell; is it the right file?")
    return _told_apart(sheets, [title for title, sheet in read if sheet is None])


def _sheet(path: Path, book: Any, own: Any, said: Sequence[str]) -> Sheet | None:
    from openpyxl.utils.datetime import CALENDAR_MAC_1904

    from hoofcohort.sheets.worksheet import read_grid

    with own._get_source() as source:
        grid = read_grid(f"{path}, sheet '{own.title}'", source, book, own._shared_strings, _shown(book))
    system = 1904 if book.epoch == CALENDAR_MAC_1904 else 1900
    told = [*said, *(["days are counted from 1904, as the workbook says"] if system == 1904 else [])]
    if own.sheet_state != "visible":
        told.append(HIDDEN)
    sheet = sheet_of(path, _plain(own.title), grid.rows, ["spreadsheet", *told], typed=True)
    if sheet is None:
        return None
    sheet = replace(sheet, unread=unread_cells(grid.unread, sheet), date_system=system, merged=_merged(grid))
    understood = (*sheet.understood, *_layout_said(grid, sheet))
    return replace(sheet, is_table=is_table(sheet, grid.values), understood=understood)


def _plain(title: str) -> str:
    return "".join(sign if sign.isprintable() else "?" for sign in title)


def _shown(book: Any) -> Shown:
    """Return what the workbook's styles show."""
    from openpyxl.styles.numbers import BUILTIN_FORMATS, BUILTIN_FORMATS_MAX_SIZE

    from hoofcohort.sheets.worksheet import Shown

    formats = list(book._number_formats)

    def text_of(number: int) -> str:
        place = number - BUILTIN_FORMATS_MAX_SIZE
        return formats[place] if 0 <= place < len(formats) else BUILTIN_FORMATS.get(number, "")

    styles = list(enumerate(book._cell_styles))
    return Shown(
        frozenset(at for at, style in styles if "%" in text_of(style.numFmtId)),
        frozenset(at for at, style in styles if book._fonts[style.fontId].strike),
    )


def _layout_said(grid: Grid, sheet: Sheet) -> list[str]:
    told = []
    if grid.hidden_rows:
        told.append(f"hidden rows, read like the others: {lines_said(grid.hidden_rows)}")
    if grid.hidden_columns:
        told.append(f"hidden columns, read like the others: {lines_said(grid.hidden_columns, 'column')}")
    struck = [line for line in grid.struck if line >= sheet.header_line]
    if struck:
        told.append(f"cells shown struck through, read like the others: {lines_said(struck)}")
    if grid.percents:
        told.append(f"numbers shown as per cent, read with their sign: {lines_said(sorted(grid.percents), 'column')}")
    merged = [ref for ref in grid.merged if _last_row(ref) >= sheet.header_line]
    if merged:
        told.append(f"merged cells, whose value counts for the first cell alone: {names_said(merged)}")
    for kind, what in (("formula", "formulas without a stored result"), ("error", "cells that hold an error")):
        lines = sorted({cell.line for cell in sheet.unread if cell.kind == kind})
        if lines:
            told.append(f"{what}, so that their rows come back: {lines_said(lines)}")
    return told


def _merged(grid: Grid) -> tuple[Merged, ...]:
    """Return the merged cells that go over several rows."""
    from openpyxl.utils.cell import column_index_from_string

    found = []
    for ref in grid.merged:
        if match := _MERGED.fullmatch(ref):
            found.append(Merged(ref, column_index_from_string(match[1]), int(match[2]), int(match[3])))
    return tuple(one for one in found if one.last > one.first)


def _last_row(ref: str) -> int:
    return int(re.sub(r"\D", "", ref.split(":")[-1]) or 0)


def _told_apart(sheets: list[Sheet], empty: list[str]) -> list[Sheet]:
    """Call sheets of words no tables only beside one with a table; name the empty ones."""
    if not any(sheet.is_table for sheet in sheets):
        sheets = [replace(sheet, is_table=True) for sheet in sheets]
    if empty:
        told = f"sheets without a cell: {names_said(empty)}"
        sheets[0] = replace(sheets[0], understood=(*sheets[0].understood, told))
    return sheets

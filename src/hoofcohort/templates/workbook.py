"""Templates as .xlsx workbooks: drop-down words, limits with a message, notes on the units, an example row.

Nothing is protected. Imports openpyxl: keep it out of light modules.
"""

from __future__ import annotations

import datetime as dt
import io
import math
import zipfile
from collections.abc import Mapping, Sequence

from openpyxl import Workbook
from openpyxl.cell import Cell
from openpyxl.comments import Comment
from openpyxl.styles import Alignment, Font, PatternFill
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.properties import PageSetupProperties
from openpyxl.worksheet.worksheet import Worksheet
from openpyxl.xml.constants import COREPROPS_NS, XPROPS_NS

from hoofcohort.tables import Column
from hoofcohort.tables.declare import EXAMPLE_CODE
from hoofcohort.tables.dictionary import allowed_text, limits_text
from hoofcohort.templates.examples import example_cell
from hoofcohort.templates.typing_rules import typing_rule

ROWS = 10_000
"""Last row of a sheet whose cells are checked while they are typed."""
FORMATS = {"id": "@", "text": "@", "word": "@", "date": "yyyy-mm-dd", "number": "General", "integer": "0"}
"""How cells of each kind are shown: codes as text, so that no leading zero is lost, and dates as ISO 8601."""
_FACE = {"name": "Calibri", "size": 11}
_PLAIN, _BOLD = Font(**_FACE), Font(bold=True, **_FACE)
_NEEDED, _OPTIONAL = PatternFill("solid", fgColor="FFD3E3DF"), PatternFill("solid", fgColor="FFEEF3F1")
_EXAMPLE = Font(italic=True, color="FF566365", **_FACE)
_WRAPPED = Alignment(wrap_text=True, vertical="top")
_HOW_TO = (
    "How to fill this workbook in",
    "One sheet a table, one row a line. The first line holds the names of the columns: leave it as it is. "
    "What stands below a darker name must be filled in; below a lighter one a cell may stay empty, if not known.",
    f"The second line is an example, with the horse {EXAMPLE_CODE}: delete it. If it stays, it is not taken for data.",
    "The ending of a name is the unit: _deg degrees, _mm millimetres, _cm centimetres, _kg kilograms. "
    "Type the number alone. The note on each name says what it means, how to measure it and what is possible.",
    "Dates are written 2026-03-14. Codes are kept as text, so that no leading zero is lost.",
    "Codes, not names: who a horse, an owner or an observer is, stays with you.",
    "A cell refuses what is not possible as you type it, not as you paste it. Nothing is locked.",
    "When you are done, send the workbook as it is. A study without an inbox takes each sheet saved as CSV: UTF-8, "
    "a comma between cells, a decimal point.",
)
_LEGEND = ("sheet", "column", "unit", "filled", "allowed", "usual", "meaning", "how to measure or find it", "example")
_WIDTHS = (14, 27, 14, 11, 34, 20, 40, 56, 20)


def workbook(sheets: Mapping[str, Sequence[Column]]) -> bytes:
    """Return a workbook with one sheet a table and a sheet that says how to fill them in.

    Parameters
    ----------
    sheets : mapping
        Name of a sheet to its columns.

    Returns
    -------
    bytes
        The same for the same sheets: no clock, no creator.
    """
    book = Workbook()
    how_to = book.active
    how_to.title = "How to"
    _fill_how_to(how_to, sheets)
    for name, columns in sheets.items():
        _fill_sheet(book.create_sheet(name), columns)
    book.active = 1
    for sheet in book:
        sheet.sheet_view.tabSelected = sheet.title == book.active.title
    written = io.BytesIO()
    book.save(written)
    return without_clock(written.getvalue())


def _fill_how_to(sheet: Worksheet, sheets: Mapping[str, Sequence[Column]]) -> None:
    for row, text in enumerate(_HOW_TO, start=1):
        sheet.merge_cells(start_row=row, end_row=row, start_column=1, end_column=7)
        cell = _write(sheet, row, 1, text)
        cell.font, cell.alignment = _BOLD if row == 1 else _PLAIN, _WRAPPED
        sheet.row_dimensions[row].height = 18 if len(text) < 150 else 34
    top = len(_HOW_TO) + 2
    lines = [_LEGEND, *(_legend(name, column) for name, columns in sheets.items() for column in columns)]
    for row, line in enumerate(lines, start=top):
        for place, text in enumerate(line, start=1):
            cell = _write(sheet, row, place, text)
            cell.alignment = _WRAPPED
            if row == top:
                cell.font, cell.fill = _BOLD, _NEEDED
        wraps = max(math.ceil(1.1 * len(text) / width) for text, width in zip(line, _WIDTHS, strict=True))
        sheet.row_dimensions[row].height = 15 * wraps + 1
    sheet.page_setup.orientation, sheet.page_setup.paperSize = "landscape", 9
    sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    sheet.page_setup.fitToHeight = 0
    for place, width in enumerate(_WIDTHS, start=1):
        sheet.column_dimensions[get_column_letter(place)].width = width


def _legend(name: str, column: Column) -> tuple[str, ...]:
    usual = limits_text(column.plausible, column.unit) if column.plausible else ""
    needed = "always" if not column.nullable else "if known"
    return (
        name, column.name, column.unit, needed, allowed_text(column), usual, column.meaning, column.how,
        example_cell(column),
    )  # fmt: skip


def _fill_sheet(sheet: Worksheet, columns: Sequence[Column]) -> None:
    sheet.freeze_panes = "B2"
    for place, column in enumerate(columns, start=1):
        letter = get_column_letter(place)
        head = _write(sheet, 1, place, column.name)
        head.font, head.fill = _BOLD, _OPTIONAL if column.nullable else _NEEDED
        head.comment = _note(column)
        whole = sheet.column_dimensions[letter]
        whole.width, whole.number_format = max(12, len(column.name) + 3), FORMATS[column.kind]
        cell = sheet.cell(2, place, _value(column))
        cell.number_format, cell.font = FORMATS[column.kind], _EXAMPLE
        if validation := typing_rule(column):
            validation.add(f"{letter}2:{letter}{ROWS}")
            sheet.add_data_validation(validation)


def _write(sheet: Worksheet, row: int, place: int, text: str) -> Cell:
    """Write text as text, whatever it begins with."""
    cell = sheet.cell(row, place)
    cell.value, cell.data_type, cell.number_format = text, "s", "@"
    return cell


def _value(column: Column) -> str | float | dt.date:
    text = example_cell(column)
    if column.kind == "date":
        return dt.date.fromisoformat(text)
    if column.kind in ("number", "integer"):
        return float(text) if column.kind == "number" else int(text)
    return text


def _note(column: Column) -> Comment:
    needed = "Must be filled in." if not column.nullable else "Empty means missing."
    if column.default is not None:
        needed = f"Empty means {column.default}."
    unit = f"Unit: {column.unit}." if column.unit else ""
    usual = f"Usual: {limits_text(column.plausible, column.unit)}." if column.plausible else ""
    parts = (column.meaning, unit, f"Allowed: {allowed_text(column)}.", usual, needed, column.how)
    return Comment("\n".join(filter(None, parts)), "hoofcohort", height=170, width=300)


_EMPTY = {
    "docProps/core.xml": f'<cp:coreProperties xmlns:cp="{COREPROPS_NS}"/>',
    "docProps/app.xml": f'<Properties xmlns="{XPROPS_NS}"/>',
}


def without_clock(data: bytes) -> bytes:
    """Return the same workbook with fixed times in the archive and empty document properties."""
    written = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as source, zipfile.ZipFile(written, "w", zipfile.ZIP_DEFLATED) as target:
        for name in sorted(source.namelist(), key=lambda name: (name != "[Content_Types].xml", name)):
            entry = zipfile.ZipInfo(name, (1980, 1, 1, 0, 0, 0))
            entry.compress_type, entry.external_attr = zipfile.ZIP_DEFLATED, 0o644 << 16
            target.writestr(entry, _EMPTY[name].encode() if name in _EMPTY else source.read(name))
    return written.getvalue()

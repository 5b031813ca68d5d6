"""Read an .xlsx workbook: numbers and dates as they are stored, nothing computed."""

from __future__ import annotations

import datetime as dt
import io
import zipfile
from pathlib import Path
from typing import Any

from hoofcohort.sheets.errors import UnreadableError
from hoofcohort.sheets.rows import Row, sheet_of
from hoofcohort.sheets.sheet import Sheet

LARGEST_UNPACKED = 500_000_000
"""Bytes of a workbook once unpacked, at most; the project's own limit."""
LARGEST_RATIO = 200
"""Unpacked size over packed size, at most, of a part larger than a megabyte: beyond, it is made to exhaust memory."""


def read_workbook(path: Path, data: bytes) -> list[Sheet]:
    """Read every sheet that holds a cell.

    Raises
    ------
    UnreadableError
        For a broken or oversized workbook, or one without a cell.
    """
    _check_sizes(path, data)
    import openpyxl

    try:
        book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=True)
        sheets = [found for own in book.worksheets if (found := _sheet(path, own)) is not None]
    except UnreadableError:
        raise
    except Exception as error:  # openpyxl raises whatever a broken part makes it raise
        raise UnreadableError(
            f"{path}: is no workbook that can be read ({type(error).__name__}); save it again"
        ) from None
    if not sheets:
        raise UnreadableError(f"{path}: no sheet holds a cell; is it the right file?")
    return sheets


def _check_sizes(path: Path, data: bytes) -> None:
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            parts = archive.infolist()
    except (zipfile.BadZipFile, ValueError, NotImplementedError):
        raise UnreadableError(
            f"{path}: is a broken workbook; open it in a spreadsheet program and save it again"
        ) from None
    large = [own for own in parts if own.file_size > 1_000_000 and own.file_size > LARGEST_RATIO * own.compress_size]
    if large or sum(own.file_size for own in parts) > LARGEST_UNPACKED:
        raise UnreadableError(f"{path}: unpacks to far more than it should; save the table as CSV")


def _sheet(path: Path, own: Any) -> Sheet | None:
    own.reset_dimensions()
    rows = [Row(line, tuple(map(_text, cells))) for line, cells in enumerate(own.iter_rows(values_only=True), start=1)]
    if not any(row.filled for row in rows):
        return None
    hidden = [] if own.sheet_state == "visible" else ["the sheet is hidden"]
    return sheet_of(path.name, own.title, rows, ["spreadsheet", *hidden], typed=True)


def _text(value: Any) -> str:
    """Return a stored value as text: dates in ISO 8601, numbers with a point."""
    if value is None:
        return ""
    if isinstance(value, dt.datetime):
        return value.date().isoformat() if value.time() == dt.time() else value.isoformat(sep=" ")
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e15:
        return str(int(value))
    return str(value)

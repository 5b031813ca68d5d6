"""Read one file, whatever it is, into its sheets."""

from __future__ import annotations

from pathlib import Path

from hoofcohort.sheets.errors import UnreadableError
from hoofcohort.sheets.sheet import Sheet

LARGEST_FILE = 200_000_000
"""Bytes of a file, at most; the project's own limit."""
SPREADSHEETS = (".xlsx",)
OTHER_KINDS = {
    b"\xd0\xcf\x11\xe0": "an older spreadsheet or document",
    b"%PDF": "a PDF",
    b"\x89PNG": "an image",
    b"\xff\xd8\xff": "an image",
    b"\x1f\x8b": "a compressed file",
}


def read_sheets(path: Path) -> list[Sheet]:
    """Read a file.

    Parameters
    ----------
    path : Path
        A text file of cells, or an .xlsx workbook; its first bytes tell which.

    Returns
    -------
    list of Sheet
        One for a text file; one for each sheet with data of a workbook.

    Raises
    ------
    UnreadableError
        When the file is missing, too large, of another kind, or broken: it says what to do.
    """
    data = _bytes(path)
    if data.startswith(b"PK"):
        from hoofcohort.sheets.workbook import read_workbook

        if path.suffix.lower() not in SPREADSHEETS:
            raise UnreadableError(f"{path}: is a compressed file; save what it holds as .xlsx or CSV, each by itself")
        return read_workbook(path, data)
    for start, kind in OTHER_KINDS.items():
        if data.startswith(start):
            raise UnreadableError(f"{path}: is {kind}; save the table as .xlsx or CSV")
    from hoofcohort.sheets.text_file import read_text_file

    return [read_text_file(path, data)]


def _bytes(path: Path) -> bytes:
    try:
        size = path.stat().st_size
        if size > LARGEST_FILE:
            raise UnreadableError(f"{path}: holds {size} bytes, more than the {LARGEST_FILE} allowed; send it in parts")
        return path.read_bytes()
    except FileNotFoundError:
        raise UnreadableError(f"{path}: there is no such file; check the name and the folder") from None
    except IsADirectoryError:
        raise UnreadableError(f"{path}: is a folder; name the file in it") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise UnreadableError(f"{path}: cannot be read ({reason})") from None

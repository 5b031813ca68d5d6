"""Read one file, whatever it is, into its sheets."""

from __future__ import annotations

from pathlib import Path

from hoofcohort.sheets.errors import UnreadableError
from hoofcohort.sheets.file_bytes import bytes_of
from hoofcohort.sheets.kinds import other_kind
from hoofcohort.sheets.sheet import Sheet


def read_sheets(path: Path) -> list[Sheet]:
    """Read a file.

    Parameters
    ----------
    path : Path
        A text file of cells, or an .xlsx workbook; its first bytes tell which, not its name.

    Returns
    -------
    list of Sheet
        One for a text file; one for each sheet with data of a workbook.

    Raises
    ------
    UnreadableError
        When the file is missing, no ordinary file, too large (``limits.py``), of another kind, or broken: it says what
        to do.
    """
    data = bytes_of(path)
    if data.startswith(b"PK\x03\x04") or data.startswith(b"PK\x05\x06"):
        from hoofcohort.sheets.workbook import read_workbook

        return read_workbook(path, data)
    if told := other_kind(data):
        raise UnreadableError(f"{path}: is {told}")
    from hoofcohort.sheets.text_file import read_text_file

    return [read_text_file(path, data)]

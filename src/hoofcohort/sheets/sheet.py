"""What a file is once it has been read: a header, columns of text, and what is no data put aside."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

HIDDEN = "the sheet is hidden; it was read"
"""What is said of a hidden sheet."""


@dataclass(frozen=True)
class Aside:
    """One row that is no data: its line, what kind of row it is, and its text."""

    line: int
    kind: str
    text: str


@dataclass(frozen=True)
class Ragged:
    """One row that cannot be laid under the header: it has another number of cells, or ``why`` says what is wrong."""

    line: int
    cells: tuple[str, ...]
    why: str = ""


@dataclass(frozen=True)
class Unread:
    """One cell without a value that can be used, though it is not empty: its row must come back.

    Attributes
    ----------
    line, position : int
        Line and original column, from 1.
    kind : str
        ``formula`` (no result is stored) or ``error`` (the result is one).
    text : str
        What stands in the column for it: the formula, or the name of the error.
    """

    line: int
    position: int
    kind: str
    text: str


@dataclass(frozen=True, order=True)
class Merged:
    """Cells of several rows merged into one: their first column and their first and last lines, from 1."""

    cells: str
    position: int
    first: int
    last: int


@dataclass(frozen=True)
class Sheet:
    """One table of a file, as text.

    Attributes
    ----------
    file, sheet : str
        The file's name; the sheet's name, empty for a text file.
    header : tuple of str
        As written, without blanks around; a line break stands as a blank.
    header_line : int
        Line of the header in the file.
    positions : tuple of int
        Original column, from 1, of each column kept.
    columns : tuple of ndarray of str, each of shape (n,)
        Cells without blanks around; an empty text where the cell is empty.
    lines : ndarray of int, shape (n,)
        Line on which each row begins in the file; the row's number in a spreadsheet.
    aside : tuple of Aside
        Rows that are not data.
    ragged : tuple of Ragged
        Rows that cannot be laid under the header.
    typed : bool
        Numbers were numbers and dates have become ISO text: the file is a spreadsheet.
    understood : tuple of str
        How the file was read, in sentences.
    units : tuple of str
        What a row of units below the header says of each column kept; empty when there is none.
    unread : tuple of Unread
        Cells of a spreadsheet without a value that can be used.
    date_system : int
        1900 or 1904: from which year a spreadsheet counts its days.
    merged : tuple of Merged
        Merged cells of a spreadsheet that go over several rows.
    is_table : bool
        False for a sheet of words beside sheets with tables: instructions, a legend. It can still be mapped; when it
        cannot, it is no loss.
    """

    file: str
    sheet: str
    header: tuple[str, ...]
    header_line: int
    positions: tuple[int, ...]
    columns: tuple[np.ndarray, ...]
    lines: np.ndarray
    aside: tuple[Aside, ...] = ()
    ragged: tuple[Ragged, ...] = ()
    typed: bool = False
    understood: tuple[str, ...] = field(default=())
    units: tuple[str, ...] = ()
    unread: tuple[Unread, ...] = ()
    date_system: int = 1900
    is_table: bool = True
    merged: tuple[Merged, ...] = ()

    @property
    def all_aside(self) -> tuple[Aside, ...]:
        """Every row of the sheet, its header too, as rows that are no data; for a sheet that is no table."""
        rows = zip(self.lines.tolist(), zip(*self.columns, strict=True), strict=True)
        texts = [(self.header_line, self.header), *rows, *((row.line, row.cells) for row in self.ragged)]
        own = [Aside(line, "no table", " | ".join(filter(None, cells))) for line, cells in texts]
        return tuple(sorted((*self.aside, *own), key=lambda row: row.line))

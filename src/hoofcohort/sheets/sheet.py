"""What a file is once it has been read: a header, columns of text, and what is no data put aside."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np


@dataclass(frozen=True)
class Aside:
    """One row that is no data: its line, what kind of row it is, and its text."""

    line: int
    kind: str
    text: str


@dataclass(frozen=True)
class Ragged:
    """One row whose number of cells is not the header's."""

    line: int
    cells: tuple[str, ...]


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
        Rows whose number of cells is not the header's.
    typed : bool
        Numbers were numbers and dates have become ISO text: the file is a spreadsheet.
    understood : tuple of str
        How the file was read, in sentences.
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

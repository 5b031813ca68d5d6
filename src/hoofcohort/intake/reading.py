"""Read a CSV file as text, with every row's line number as in the original file."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path

import numpy as np
import pandas as pd
import pyarrow as pa

from hoofcohort.intake.header import header_faults
from hoofcohort.tables import Table

_CHUNK = 50_000


@dataclass(frozen=True)
class RawColumn:
    """A column's cells as written: row i holds ``texts[codes[i]]``.

    Attributes
    ----------
    codes : ndarray of int, shape (n,)
    texts : Series of str
        The different texts, each once.
    """

    codes: np.ndarray
    texts: pd.Series

    @cached_property
    def plain_texts(self) -> list[str]:
        """The different texts as a list, for looking up single cells."""
        return self.texts.tolist()


@dataclass(frozen=True)
class RaggedRow:
    """A row whose number of cells is not the header's."""

    line: int
    cells: tuple[str, ...]


@dataclass
class RawTable:
    """A file as read: its well-formed rows as columns, its ragged rows apart.

    Attributes
    ----------
    table : Table
        The declaration it was read against.
    file : str
        Its name in the outputs.
    header : tuple of str
        Names of the file's columns, in its order.
    columns : dict of RawColumn
        By name; only the columns that the file has.
    lines : ndarray of int, shape (n,)
        Line on which each well-formed row begins; the file's first line is 1.
    ragged : list of RaggedRow
    rows_read : int
        Every row that is not blank, ragged ones included; counted while reading.
    blank_lines : int
        Lines without any text, and rows whose cells are all blank.
    """

    table: Table
    file: str
    header: tuple[str, ...] = ()
    columns: dict[str, RawColumn] = field(default_factory=dict)
    lines: np.ndarray = field(default_factory=lambda: np.empty(0, dtype=np.int64))
    ragged: list[RaggedRow] = field(default_factory=list)
    rows_read: int = 0
    blank_lines: int = 0

    def text(self, row: int, column: str) -> str:
        """Return a cell exactly as written; an empty text where the file has no such column."""
        found = self.columns.get(column)
        return "" if found is None else found.plain_texts[found.codes[row]]


class UnreadableFileError(Exception):
    """A file cannot be read at all; the text says why and what to do."""


def read_table(path: Path, table: Table, file: str) -> tuple[RawTable, list[str]]:
    """Read one file.

    Parameters
    ----------
    path : Path
    table : Table
        What the file should hold.
    file : str
        Its name in the outputs.

    Returns
    -------
    raw : RawTable
        Incomplete when there are faults.
    faults : list of str
        Why the file as a whole cannot be used, each saying what to do; empty for a usable file.
    """
    raw = RawTable(table, file)
    try:
        return raw, _read(decode(path), raw)
    except UnreadableFileError as error:
        return raw, [str(error)]


def decode(path: Path) -> str:
    """Return a file's text; a byte-order mark is dropped.

    Raises
    ------
    UnreadableFileError
        When the file is missing, a folder, not UTF-8 or holds NUL bytes.
    """
    try:
        data = path.read_bytes()
    except FileNotFoundError:
        raise UnreadableFileError("there is no such file; check the name and the folder") from None
    except IsADirectoryError:
        raise UnreadableFileError("this is a folder; name the CSV file in it") from None
    except (OSError, ValueError) as error:
        raise UnreadableFileError(f"cannot be read ({getattr(error, 'strerror', None) or error})") from None
    if b"\0" in data:
        line = data[: data.index(b"\0")].count(b"\n") + 1
        raise UnreadableFileError(f"line {line} holds a NUL byte, so this is no text file; save it as CSV, UTF-8")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise UnreadableFileError(f"line {line} is not UTF-8; save the file as CSV, UTF-8") from None


def _read(text: str, raw: RawTable) -> list[str]:
    """Fill ``raw`` from the text; return the header's faults and stop there when it has any."""
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    start = 1
    try:
        for header in reader:
            if any(map(str.strip, header)):
                break
            raw.blank_lines += 1
        else:
            raise UnreadableFileError("the file is empty; its first line must hold the names of the columns")
        raw.header = tuple(cell.strip() for cell in header)
        if faults := header_faults(raw.header, raw.table):
            return faults
        width, rows, lines, chunks = len(header), [], [], []
        start = reader.line_num + 1
        for row in reader:
            if not row or (not row[0].strip() and not any(map(str.strip, row))):
                raw.blank_lines += 1
            else:
                raw.rows_read += 1
                if len(row) == width:
                    rows.append(row)
                    lines.append(start)
                    if len(rows) == _CHUNK:
                        chunks.append(_encoded(rows, width))
                        rows = []
                else:
                    raw.ragged.append(RaggedRow(start, tuple(row)))
            start = reader.line_num + 1
    except csv.Error as error:
        raise UnreadableFileError(_syntax(str(error), start)) from None
    chunks.append(_encoded(rows, width))
    raw.lines = np.array(lines, dtype=np.int64)
    raw.columns = {name: _joined([chunk[i] for chunk in chunks]) for i, name in enumerate(raw.header)}
    return []


def _syntax(message: str, line: int) -> str:
    if "unexpected end of data" in message:
        return f"the row that begins on line {line} has a quotation mark that is never closed; close or remove it"
    if "field larger" in message:
        return (
            f"the row that begins on line {line} has a cell of more than {csv.field_size_limit()} characters; "
            "look for a quotation mark that is not closed"
        )
    return (
        f"the row that begins on line {line} is not valid CSV ({message}); write a quotation mark inside a cell twice"
    )


def _encoded(rows: list[list[str]], width: int) -> list[pa.DictionaryArray]:
    columns = zip(*rows, strict=True) if rows else [()] * width
    return [pa.array(column, pa.string()).dictionary_encode() for column in columns]


def _joined(parts: list[pa.DictionaryArray]) -> RawColumn:
    whole = pa.chunked_array(parts).unify_dictionaries().combine_chunks()
    if isinstance(whole, pa.ChunkedArray):
        whole = whole.chunk(0)
    texts = pd.Series(whole.dictionary.to_pandas(), dtype="str")
    return RawColumn(whole.indices.to_numpy(zero_copy_only=False).astype(np.int64), texts)

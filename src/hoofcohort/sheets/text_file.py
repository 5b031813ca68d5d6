"""Read a text file of cells: its encoding and separator are found, and said."""

from __future__ import annotations

import csv
import io
from collections import Counter
from pathlib import Path

from hoofcohort.sheets.errors import UnreadableError
from hoofcohort.sheets.rows import Row, sheet_of
from hoofcohort.sheets.sheet import Sheet

SEPARATORS = {",": "comma", ";": "semicolon", "\t": "tab", "|": "vertical bar"}
LOOKED_AT = 60
"""Rows from which the separator is found."""


def read_text_file(path: Path, data: bytes) -> Sheet:
    """Read the bytes of a text file.

    Raises
    ------
    UnreadableError
        For text in no known encoding, NUL characters, an unclosed quotation mark, or a file without a row.
    """
    text, encoding = _decoded(path, data)
    understood = [f"encoding: {encoding}"]
    said = text.split("\n", 1)[0].strip().lower()
    first = 0
    if said.startswith("sep=") and len(said) == 5:
        separator, first = said[4], 1
    else:
        separator = _separator(text)
    understood.append(f"separator: {SEPARATORS.get(separator, repr(separator))}")
    rows = _rows(path, text, separator)[first:]
    if not any(row.filled for row in rows):
        raise UnreadableError(f"{path}: holds no row; its first line must name the columns")
    return sheet_of(path.name, "", rows, understood)


def _decoded(path: Path, data: bytes) -> tuple[str, str]:
    """Return the text and what its encoding is called."""
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        candidates = [("utf-16", "UTF-16")]
    elif data[1:200:2].count(0) > len(data[1:200:2]) / 2 or data[0:200:2].count(0) > len(data[0:200:2]) / 2:
        little = data[1:200:2].count(0) > data[0:200:2].count(0)
        candidates = [("utf-16-le", "UTF-16") if little else ("utf-16-be", "UTF-16")]
    else:
        candidates = [("utf-8-sig", "UTF-8"), ("cp1252", "Windows-1252"), ("latin-1", "Latin-1")]
    for codec, name in candidates:
        try:
            text = data.decode(codec)
        except UnicodeDecodeError:
            continue
        if "\0" in text:
            line = text[: text.index("\0")].count("\n") + 1
            raise UnreadableError(
                f"{path}, line {line}: holds a NUL character, so this is no text file; save it as CSV"
            )
        return text, name
    raise UnreadableError(f"{path}: is no text in a known encoding; save it as CSV, UTF-8")


def _separator(text: str) -> str:
    """Return the separator by which most of the first rows have the same number of cells, and more than one."""
    head = "\n".join(text.splitlines()[:LOOKED_AT])
    scores = {}
    for separator in SEPARATORS:
        try:
            rows = [row for row in csv.reader(io.StringIO(head, newline=""), delimiter=separator) if any(row)]
        except csv.Error:
            continue
        widths = Counter(len(row) for row in rows)
        width, count = max(widths.items(), key=lambda item: (item[1] if item[0] > 1 else 0, item[0]), default=(1, 0))
        scores[separator] = (count if width > 1 else 0, width)
    return max(scores, key=lambda own: scores[own]) if scores else ","


def _rows(path: Path, text: str, separator: str) -> list[Row]:
    """Return every row with the line on which it begins."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    rows, line = [], 1
    try:
        for cells in reader:
            rows.append(Row(line, tuple(cells)))
            line = reader.line_num + 1
    except csv.Error as error:
        what = "has a quotation mark that is never closed or stands alone; close or remove it"
        if "field larger" in str(error):
            what = f"has a cell of more than {csv.field_size_limit()} characters; look for an unclosed quotation mark"
        raise UnreadableError(f"{path}: the row that begins on line {line} {what}") from None
    return rows

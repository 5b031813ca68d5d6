"""Cut a text into rows of cells with the lines on which they begin; a broken quotation mark spoils its own line."""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from hoofcohort.sheets.limits import LINES_IN_A_ROW

_ENDS = re.compile(r"\r\n|\r|\n")
BROKEN = (
    'a quotation mark is never closed or stands alone; close or remove it, and double one that belongs to the text ("")'
)


@dataclass(frozen=True)
class Rows:
    """Rows as they came.

    Attributes
    ----------
    lines : list of int
        Line on which each row begins, ascending.
    cells : list of list of str
        Its cells, untouched.
    faults : dict of int to str
        Line of a row that cannot be cut into cells, and why. Its cells are a guess.
    """

    lines: list[int]
    cells: list[list[str]]
    faults: dict[int, str] = field(default_factory=dict)


def physical_lines(text: str) -> list[str]:
    """Return the lines of a text, each with its end: CR, LF or CR LF."""
    return list(io.StringIO(text, newline=""))


def rows_of(lines: Sequence[str], separator: str) -> Rows:
    """Cut lines into rows.

    A row may go over several lines inside quotation marks. Where those do not match, the line is a row of its own with
    a fault, and reading goes on with the next line.
    """
    try:
        cells = list(csv.reader(lines, delimiter=separator, strict=True))
    except csv.Error:
        return careful_rows(lines, separator)
    if len(cells) < len(lines):
        return careful_rows(lines, separator)
    return Rows(list(range(1, len(cells) + 1)), cells)


def careful_rows(lines: Sequence[str], separator: str) -> Rows:
    """Cut lines into rows, one after the other; equal to the whole at once where no row goes over several lines.

    Where a mark was not closed, the next line with an odd number of marks is the one that closed it, and broken too.
    """
    usual, comma_of_prose = _usual_width(lines, separator), _prose_sign(lines, separator)
    rows = Rows([], [])
    at = 0
    closing_until = 0
    while at < len(lines):
        cells, used = _row(lines, at, separator)
        odd = lines[at].count('"') % 2 == 1
        if (used > 1 and _swallows(cells, separator, usual, comma_of_prose)) or (odd and at < closing_until):
            used = 0
        if odd and not used:
            closing_until = at + LINES_IN_A_ROW if at >= closing_until else 0
        rows.lines.append(at + 1)
        if not used:
            cells = _ENDS.sub("", lines[at]).split(separator)
            rows.faults[at + 1] = BROKEN
        rows.cells.append(cells)
        at += max(used, 1)
    return rows


def _row(lines: Sequence[str], at: int, separator: str) -> tuple[list[str], int]:
    """Return the row that begins on a line and over how many lines it goes; none when it is broken."""
    if '"' not in lines[at]:
        text = _ENDS.sub("", lines[at])
        return text.split(separator) if text else [], 1
    reader = csv.reader(_few(lines, at), delimiter=separator, strict=True)
    try:
        return next(reader), reader.line_num
    except csv.Error:
        return [], 0


def _few(lines: Sequence[str], at: int) -> Iterator[str]:
    for place in range(at, min(at + LINES_IN_A_ROW, len(lines))):
        yield lines[place]


def _usual_width(lines: Sequence[str], separator: str) -> int:
    widths = Counter(line.count(separator) + 1 for line in lines if '"' not in line and line.strip())
    return max(widths.items(), key=lambda own: (own[1], own[0]))[0] if widths else 0


def _prose_sign(lines: Sequence[str], separator: str) -> str:
    """Return the separator with a blank after it, as prose has commas, unless this file parts its cells so."""
    plain = [line for line in lines if '"' not in line]
    prose = f"{separator} "
    return "" if 2 * sum(line.count(prose) for line in plain) > sum(line.count(separator) for line in plain) else prose


def _swallows(cells: Sequence[str], separator: str, usual: int, prose: str) -> bool:
    """Tell whether a row over several lines looks like several rows behind a mark that was not closed."""
    parts = [part for cell in cells for part in _ENDS.split(cell)[1:]]
    inside = max((part.count(separator) - (part.count(prose) if prose else 0) for part in parts), default=0)
    return inside >= max(2, usual - 1) or (usual > 1 and len(cells) != usual and inside > 0)

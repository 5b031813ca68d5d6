"""Leave out columns that only count or number the rows, as statistics programs write them before the first column."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import pairwise

from hoofcohort.sheets.sheet import Sheet

UNNAMED = re.compile(r"(?:Unnamed: [0-9]+(?:\.[0-9]+)*)?")
"""No name, or what a program calls a column without one when it has read such a file before."""
_COUNTS = "has no name and only counts the rows; it was left out"
_RISES = "has no name and holds rising whole numbers, as row labels do; it was left out"


def without_row_labels(sheet: Sheet, known: Callable[[Sequence[str]], bool] = lambda _: False) -> Sheet:
    """Return a sheet without first columns that have no name and number its rows; that is said.

    Such a column counts the rows from 0 or 1; rows that cannot be laid under the header count too. Where all other
    headers are ``known``, whole numbers that rise are enough: rows of such a file may have been taken out. A column
    with a gap or anything else in it is kept.
    """
    while len(sheet.header) > 1 and UNNAMED.fullmatch(sheet.header[0]):
        named = [name for name in sheet.header if not UNNAMED.fullmatch(name)]
        why = _COUNTS if _counts(sheet) else _RISES if _rises(sheet) and known(named) else ""
        if not why:
            break
        said = f"column {sheet.positions[0]} {why}"
        sheet = replace(
            sheet,
            header=sheet.header[1:],
            positions=sheet.positions[1:],
            columns=sheet.columns[1:],
            units=sheet.units[1:],
            ragged=tuple(replace(row, cells=row.cells[1:]) for row in sheet.ragged),
            understood=(*(one for one in sheet.understood if not _is_of_column(one, sheet.positions[0])), said),
        )
    return sheet


def left_out(sheet: Sheet) -> str:
    """Return, for the end of a refusal, which columns were left out as row labels; nothing when none was."""
    told = [one for one in sheet.understood if one.endswith((_COUNTS, _RISES))]
    return "; ".join(["", *told, "name it if it holds more, such as the horses' codes"]) if told else ""


def _is_of_column(sentence: str, position: int) -> bool:
    """Tell whether a sentence says that this column alone has no name."""
    return sentence == f"columns without a name: column {position}"


def _counts(sheet: Sheet) -> bool:
    lines = sheet.lines.tolist()
    labels = dict(zip(lines, sheet.columns[0].tolist(), strict=True))
    every = sorted([*lines, *(row.line for row in sheet.ragged)])
    return bool(lines) and any(
        all(labels.get(line, str(number)) == str(number) for number, line in enumerate(every, start))
        for start in (0, 1)
    )


def _rises(sheet: Sheet) -> bool:
    texts = sheet.columns[0].tolist()
    numbers = [int(text) for text in texts if re.fullmatch("0|[1-9][0-9]{0,8}", text)]
    return 0 < len(numbers) == len(texts) and all(one < after for one, after in pairwise(numbers))

"""Leave out columns that only count the rows, as statistics programs write them before the first column."""

from __future__ import annotations

from dataclasses import replace

from hoofcohort.sheets.sheet import Sheet

_UNNAMED = ("", "Unnamed: 0")
"""No name, or what a program calls a column without one when it has read such a file before."""


def without_row_labels(sheet: Sheet) -> Sheet:
    """Return a sheet without first columns that have no name and count its rows from 0 or 1; that is said.

    Rows that cannot be laid under the header count too. A column with a gap or anything else in it is kept.
    """
    while len(sheet.header) > 1 and sheet.header[0] in _UNNAMED and _counts(sheet):
        said = f"column {sheet.positions[0]} has no name and only counts the rows; it was left out"
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

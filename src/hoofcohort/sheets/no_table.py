"""Tell instructions and legends from tables of readings, carefully: a doubtful sheet is a table."""

from __future__ import annotations

import re

from hoofcohort.sheets.sheet import Sheet

_VALUE = re.compile(r"[-+~]?\d[\d.,:/-]*%?")
_FEW = 0.15
"""Share of filled cells with values below which a sheet of sentences is none of readings; the project's own choice."""
_WORDS = 4
"""Words of a sentence, at least."""


def is_table(sheet: Sheet, values: int) -> bool:
    """Tell whether a sheet of a workbook may hold readings.

    Parameters
    ----------
    sheet : Sheet
    values : int
        Cells that are stored as numbers, dates or truth values.

    Returns
    -------
    bool
        False for one column of words, for two columns of words alone, and for sentences in most rows beside hardly any
        value.
    """
    rows = [*zip(*sheet.columns, strict=True), *(row.cells for row in sheet.ragged)]
    texts = [[cell for cell in row if cell] for row in rows]
    count = sum(map(len, texts))
    written = values + sum(bool(_VALUE.fullmatch(cell)) for row in texts for cell in row) if values == 0 else values
    widest = max((len(row) for row in texts), default=len(sheet.header))
    if widest < 2:
        return len(sheet.header) > 1 or values > 0
    if widest == 2 and written == 0:
        return False
    sentences = sum(any(cell.count(" ") >= _WORDS - 1 for cell in row) for row in texts)
    return written > _FEW * count or 2 * sentences < len(texts)

"""Doubt rows of a file with unquoted decimal commas that have as many cells as the header only by chance."""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from hoofcohort.intake.cells import outside
from hoofcohort.intake.checked import rows_where
from hoofcohort.sheets.separators import SEPARATORS
from hoofcohort.sheets.sheet import Sheet
from hoofcohort.tables import Column

_WHOLE = re.compile("[0-9]{1,3}")
_DECIMALS = re.compile("[0-9]")
"""One digit: of two, a parted number looks like two whole ones."""


def has_decimal_commas(sheet: Sheet) -> bool:
    """Tell whether rows have too many cells that decimal commas would explain, one for each."""
    if f"separator: {SEPARATORS[',']}" not in sheet.understood:
        return False
    width = len(sheet.header)
    wide = [row.cells for row in sheet.ragged if not row.why and len(row.cells) > width]
    return any(_parted(cells) >= len(cells) - width for cells in wide)


def _parted(cells: Sequence[str]) -> int:
    return sum(bool(_WHOLE.fullmatch(one) and _DECIMALS.fullmatch(other)) for one, other in pairwise(cells))


def shifted_rows(sheet: Sheet, columns: Sequence[Column | None], values: Sequence[np.ndarray | None]) -> dict[int, str]:
    """Return rows that look shifted by a decimal comma, and the number that it may have parted.

    Parameters
    ----------
    sheet : Sheet
        One that ``has_decimal_commas``.
    columns, values : sequence
        Of each column of the sheet, what it becomes, and its numbers in our unit; None for what is no measured number.

    Returns
    -------
    dict
        Those in which an unusual number of one digit stands behind another whole number.
    """
    found: dict[int, str] = {}
    for place in range(1, len(columns)):
        column, own = columns[place], values[place]
        if columns[place - 1] is None or column is None or column.plausible is None or own is None:
            continue
        if sheet.positions[place] != sheet.positions[place - 1] + 1:
            continue
        for row in rows_where(outside(own, column.plausible)):
            one, other = str(sheet.columns[place - 1][row]), str(sheet.columns[place][row])
            if _WHOLE.fullmatch(one) and _DECIMALS.fullmatch(other):
                found.setdefault(row, f"{one},{other}")
    return found

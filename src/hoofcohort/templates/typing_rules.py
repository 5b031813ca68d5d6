"""What a workbook lets one type into a column: its words, or numbers and dates within the possible limits."""

from __future__ import annotations

import datetime as dt

from openpyxl.worksheet.datavalidation import DataValidation

from hoofcohort.tables import Column
from hoofcohort.tables.declare import DATES_POSSIBLE
from hoofcohort.tables.dictionary import allowed_text


def typing_rule(column: Column) -> DataValidation | None:
    """Return what a workbook checks while a cell of the column is typed, with its messages; None for free text."""
    allowed = allowed_text(column)
    if column.words:
        validation = DataValidation(type="list", formula1=f'"{",".join(column.words)}"')
    elif column.kind == "date":
        first, last = (dt.date.fromisoformat(day) for day in DATES_POSSIBLE)
        validation = _between("date", _serial(first), _serial(last))
        allowed = f"a date from {first} to {last}, such as 2026-03-14"
    elif column.possible and None not in column.possible:
        validation = _between("decimal" if column.kind == "number" else "whole", *map(str, column.possible))
    else:
        return None
    validation.allow_blank = column.nullable
    validation.errorTitle = validation.promptTitle = column.title[:32]
    validation.error = _cut(f"Possible: {allowed}. Leave the cell empty when the value is missing.")
    validation.prompt = _cut(f"{column.meaning} {allowed[0].upper()}{allowed[1:]}. {column.how}")
    validation.showErrorMessage = validation.showInputMessage = True
    return validation


def _between(kind: str, low: str, high: str) -> DataValidation:
    return DataValidation(type=kind, operator="between", formula1=low, formula2=high)  # type: ignore[arg-type]


def _serial(day: dt.date) -> str:
    """Return a day's number in a workbook, from 1 March 1900 on; source: ECMA-376, the 1900 date base."""
    return str((day - dt.date(1899, 12, 30)).days)


def _cut(text: str) -> str:
    """Return text no longer than the 255 characters that a workbook allows in a message."""
    return text if len(text) <= 255 else text[:252] + "..."

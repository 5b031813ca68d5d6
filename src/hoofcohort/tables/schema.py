"""The pandera schemas of the typed frames, made from the declarations. Needs pandera: keep it out of light modules."""

from __future__ import annotations

from typing import Any

import pandas as pd
import pandera.pandas as pa

from hoofcohort.tables.declare import DATES_POSSIBLE, Column, Table

DTYPES: dict[str, Any] = {
    "id": pd.StringDtype(na_value=float("nan")),
    "text": pd.StringDtype(na_value=float("nan")),
    "word": pd.StringDtype(na_value=float("nan")),
    "date": "datetime64[us]",
    "number": "float64",
    "integer": "Int64",
}
"""The type in which each kind of column is kept."""


def schema_of(table: Table) -> pa.DataFrameSchema:
    """Return the schema of a table's typed frame: every declared column and ``line``, nothing else, in that order.

    Parameters
    ----------
    table : Table

    Returns
    -------
    DataFrameSchema
        Strict and ordered. Missing values are allowed where the declaration says so; the key is unique.
        Validate with ``lazy=True`` to get every failure at once.
    """
    columns = {column.name: _column(column) for column in table.columns}
    columns["line"] = pa.Column("Int64", pa.Check.ge(2), nullable=False, unique=True, description="Line in the file.")
    return pa.DataFrameSchema(
        columns, name=table.name, description=table.meaning, strict=True, ordered=True, unique=list(table.key)
    )


def _column(column: Column) -> pa.Column:
    checks = []
    low, high = map(pd.Timestamp, DATES_POSSIBLE) if column.kind == "date" else column.possible or (None, None)
    if low is not None:
        checks.append(pa.Check.ge(low))
    if high is not None:
        checks.append(pa.Check.le(high))
    if column.words:
        checks.append(pa.Check.isin(column.words))
    if column.pattern:
        checks.append(pa.Check.str_matches(f"^(?:{column.pattern})$"))
    nullable = column.nullable and column.default is None
    return pa.Column(DTYPES[column.kind], checks, nullable=nullable, title=column.title, description=column.meaning)

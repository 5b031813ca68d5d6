"""Workbooks and Parquet files as tables of text."""

from __future__ import annotations

import io
from typing import Any, Protocol


class Tables(Protocol):
    """Where tables and their texts are put, with the place at which each was found."""

    texts: list[tuple[str, str]]
    tables: list[tuple[str, dict[str, list[str]]]]


def read_workbook(data: bytes, place: str, found: Tables) -> None:
    """Read a workbook's sheets as tables, so that numbers stand as they are seen, whatever their cells' XML holds."""
    import openpyxl

    for sheet in openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=True).worksheets:
        rows = [[_as_text(cell) for cell in row] for row in sheet.iter_rows(values_only=True)]
        if rows:
            wide = max(map(len, rows))
            columns = [[row[at] for row in rows if at < len(row)] for at in range(wide)]
            inside = f"{place} sheet {sheet.title}".strip()
            found.tables.append((inside, {column[0]: sorted(set(column[1:])) for column in columns}))
            found.texts.append((inside, "\n".join(";".join(row) for row in rows)))


def read_parquet(data: bytes, place: str, found: Tables) -> None:
    """Read a Parquet file's columns, names and notes."""
    import pyarrow as pa
    import pyarrow.parquet as pq

    words = [field.name for field in pq.read_schema(io.BytesIO(data)) if pa.types.is_string(field.type)]
    table = pq.read_table(io.BytesIO(data), read_dictionary=words)
    columns = {name: _distinct(table.column(at)) for at, name in enumerate(table.column_names)}
    notes = [part.decode("utf-8", "replace") for pair in (table.schema.metadata or {}).items() for part in pair]
    schema = table.schema.to_string(truncate_metadata=False, show_field_metadata=True)
    found.tables.append((place, columns))
    found.texts.append((f"{place} schema", "\n".join([schema, *notes])))
    found.texts += [(f"{place} column {name}".strip(), "\n".join(values)) for name, values in columns.items()]


def _distinct(column: Any) -> list[str]:
    """Return a column's different values as text, whole numbers without a point; what is nested, as written out."""
    held = {_as_text(value) for value in column.to_pandas().dropna().tolist()}
    for chunk in column.chunks:
        if hasattr(chunk, "dictionary"):
            held.update(_as_text(value) for value in chunk.dictionary.to_pylist())
    return sorted(held)


def _as_text(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    return value.decode("utf-8", "replace") if isinstance(value, bytes) else str(value)

"""The tables as Table Schema and Data Package descriptors, the open standard for tabular data.

Source: Table Schema and Data Package specifications, Frictionless Standards.
"""

from __future__ import annotations

from typing import Any

from hoofcohort.tables import TABLES, Column, Table
from hoofcohort.tables.declare import DATES_POSSIBLE

_TYPES = {"id": "string", "text": "string", "word": "string", "date": "date", "number": "number", "integer": "integer"}


def table_schema(table: Table) -> dict[str, Any]:
    """Return a table's schema.

    Parameters
    ----------
    table : Table

    Returns
    -------
    dict
        ``fields``, ``missingValues``, ``primaryKey`` and, where the table names horses, ``foreignKeys``. The limits are
        those outside which a row is rejected. Beside the standard's own, a field has the properties ``unit``,
        ``plausible`` (limits outside which a value is kept and flagged), ``howToMeasure`` and ``source``.
    """
    schema: dict[str, Any] = {
        "fields": [_field(column) for column in table.columns],
        "missingValues": [""],
        "primaryKey": list(table.key),
    }
    if table.name != "horses":
        reference = {"resource": "horses", "fields": ["horse_id"]}
        schema["foreignKeys"] = [{"fields": ["horse_id"], "reference": reference}]
    return schema


def data_package() -> dict[str, Any]:
    """Return the descriptor of a package of all tables, each in the CSV file of its name."""
    return {
        "name": "hoofcohort-tables",
        "title": "Horses, their management and their feet",
        "resources": [_resource(table) for table in TABLES.values()],
    }


def _resource(table: Table) -> dict[str, Any]:
    return {
        "name": table.name,
        "type": "table",
        "description": table.meaning,
        "path": f"{table.name}.csv",
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "schema": table_schema(table),
    }


def _field(column: Column) -> dict[str, Any]:
    field: dict[str, Any] = {
        "name": column.name,
        "title": column.title,
        "description": column.meaning,
        "type": _TYPES[column.kind],
        "unit": column.unit,
        "howToMeasure": column.how,
        "source": column.source,
    }
    if column.plausible:
        field["plausible"] = _limits(column.plausible)
    constraints = _constraints(column)
    return {key: value for key, value in field.items() if value} | ({"constraints": constraints} if constraints else {})


def _constraints(column: Column) -> dict[str, Any]:
    found: dict[str, Any] = {}
    if not column.nullable:
        found["required"] = True
    if column.words:
        found["enum"] = list(column.words)
    if column.kind == "date":
        found |= _limits(DATES_POSSIBLE)
    elif column.possible:
        found |= _limits(column.possible)
    if column.pattern:
        found["pattern"] = column.pattern
    return found


def _limits(limits: tuple[Any, Any]) -> dict[str, Any]:
    return {name: value for name, value in zip(("minimum", "maximum"), limits, strict=True) if value is not None}

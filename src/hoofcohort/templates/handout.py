"""Everything that is handed out, by file name."""

from __future__ import annotations

import json
from typing import Any

from hoofcohort.tables import TABLES
from hoofcohort.templates.csv_template import csv_template
from hoofcohort.templates.dictionary_page import dictionary_page
from hoofcohort.templates.examples import sheets
from hoofcohort.templates.table_schema import data_package, table_schema
from hoofcohort.templates.workbook import workbook


def handout() -> dict[str, bytes]:
    """Return the files by name: templates, dictionary and descriptors, always the same bytes."""
    columns = sheets()
    files = {f"{name}.csv": csv_template(sheet).encode() for name, sheet in columns.items()}
    files["tables.xlsx"] = workbook({name: columns[name] for name in TABLES})
    files["flat.xlsx"] = workbook({"flat": columns["flat"]})
    files["dictionary.html"] = dictionary_page().encode()
    files |= {f"{name}.schema.json": _json(table_schema(table)) for name, table in TABLES.items()}
    files["datapackage.json"] = _json(data_package())
    return files


def _json(value: Any) -> bytes:
    return (json.dumps(value, indent=1, ensure_ascii=False) + "\n").encode()

"""Accepted data, held by the frictionless library against the Data Package that we write."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from hoofcohort.intake.run import take_in
from hoofcohort.tables import TABLES
from hoofcohort.templates.handout import handout
from hoofcohort.templates.table_schema import data_package, table_schema

frictionless = pytest.importorskip("frictionless", reason="frictionless is installed from the development lock only")
DEMO = Path(__file__).parents[2] / "synthetic_data"


@pytest.fixture(scope="module")
def accepted():
    """The demo's accepted rows, as they would be exported."""
    frames = take_in({name: DEMO / f"{name}.csv" for name in TABLES}).frames
    return {name: frame.drop(columns="line") for name, frame in frames.items()}


def errors(folder, frames):
    """What frictionless finds, as (table, type, field)."""
    for name, frame in frames.items():
        frame.to_csv(folder / f"{name}.csv", index=False, date_format="%Y-%m-%d")
    (folder / "datapackage.json").write_bytes(handout()["datapackage.json"])
    report = frictionless.Package(str(folder / "datapackage.json")).validate()
    found = [tuple(line) for line in report.flatten(["type", "fieldName"])]
    names = [task.name for task in report.tasks for _ in task.errors]
    return list(zip(names, *zip(*found, strict=True), strict=True)) if found else []


def few(frames):
    """Fewer horses, with all of their readings and stretches."""
    kept = set(frames["horses"]["horse_id"].head(12))
    return {name: frame[frame["horse_id"].isin(kept)] for name, frame in frames.items()}


def test_accepted_rows_are_valid(tmp_path, accepted):
    assert min(map(len, accepted.values())) > 50
    assert errors(tmp_path, accepted) == []


def spoilt(frame, column, value):
    changed = frame.astype({column: object}).copy()
    changed.iloc[3, changed.columns.get_loc(column)] = value
    return changed


@pytest.mark.parametrize(
    ("table", "column", "value", "kind"),
    [
        ("feet", "toe_angle_deg", 4.9, "constraint-error"),
        ("feet", "toe_angle_deg", "52 approx", "type-error"),
        ("feet", "foot", "FL", "constraint-error"),
        ("feet", "replicate", 1.5, "type-error"),
        ("feet", "visit_date", "14/03/2026", "type-error"),
        ("feet", "visit_date", "1979-12-31", "constraint-error"),
        ("feet", "observer_id", None, "constraint-error"),
        ("horses", "ueln", "123", "constraint-error"),
        ("management", "horse_id", "nobody", "foreign-key"),
    ],
)
def test_a_broken_row_is_refused(tmp_path, accepted, table, column, value, kind):
    frames = few(accepted)
    found = errors(tmp_path, frames | {table: spoilt(frames[table], column, value)})
    assert (table, kind, column) in found or (kind == "foreign-key" and (table, kind, None) in found), found


def test_a_reading_given_twice_is_refused(tmp_path, accepted):
    frames = few(accepted)
    feet = frames["feet"]
    found = errors(tmp_path, frames | {"feet": feet.iloc[[*range(len(feet)), 5]]})
    assert [(table, kind) for table, kind, _ in found] == [("feet", "primary-key")]


def test_the_descriptors_say_what_the_tables_say():
    files = handout()
    package = json.loads(files["datapackage.json"])
    assert package == data_package()
    assert [resource["name"] for resource in package["resources"]] == list(TABLES)
    for name, table in TABLES.items():
        schema = json.loads(files[f"{name}.schema.json"])
        assert schema == table_schema(table)
        assert [field["name"] for field in schema["fields"]] == list(table.names)
        frictionless.Schema.from_descriptor(schema)
        for field, column in zip(schema["fields"], table.columns, strict=True):
            assert field.get("unit", "") == column.unit
            assert field.get("constraints", {}).get("enum", []) == list(column.words)

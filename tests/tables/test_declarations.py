"""The declarations hold together, and the schema and the dictionary follow from them."""

from __future__ import annotations

import dataclasses
import subprocess
import sys

import pandas as pd
import pandera.errors
import pytest

from hoofcohort.tables import TABLES
from hoofcohort.tables.dictionary import data_dictionary
from hoofcohort.tables.schema import DTYPES, schema_of

COLUMNS = [(table, column) for table in TABLES.values() for column in table.columns]
EVERY = pytest.mark.parametrize(("table", "column"), COLUMNS, ids=[f"{t.name}.{c.name}" for t, c in COLUMNS])


def one_row(table):
    """A row in which every cell is filled and allowed."""

    def cell(column):
        if column.words:
            return column.words[0]
        if column.possible:
            return column.plausible[0] if column.plausible else column.possible[0]
        return {"date": pd.Timestamp("2026-03-14"), "text": "276000000000000", "id": "A"}[column.kind]

    frame = pd.DataFrame({c.name: pd.Series([cell(c)], dtype=DTYPES[c.kind]) for c in table.columns})
    return frame.assign(line=pd.array([2], dtype="Int64"))


def failures(table, frame):
    try:
        schema_of(table).validate(frame, lazy=True)
    except pandera.errors.SchemaErrors as errors:
        return set(errors.failure_cases["column"]) | set(errors.failure_cases["failure_case"].astype(str))
    return set()


@EVERY
def test_a_column_is_declared_whole(table, column):
    assert column.meaning.endswith(".")
    assert column.source
    assert bool(column.words) == (column.kind == "word")
    if column.kind in ("number", "integer"):
        low, high = column.possible
        assert low < high
        assert column.plausible is None or low <= column.plausible[0] < column.plausible[1] <= high
    if column.name in table.key:
        assert column.required or column.default is not None
    assert {meant for _, meant in column.slips} <= set(column.words)
    assert not {wrong for wrong, _ in column.slips} & set(column.words)


@EVERY
def test_every_column_that_can_name_somebody_is_private(table, column):
    """Codes and free text name; words, dates and numbers are values that many horses share."""
    assert bool(column.private) == (column.kind in ("id", "text"))
    if column.private == "pseudonym":
        assert column.name.endswith("_id")
    if column.private == "remove":
        assert not column.required
        assert column.name not in table.key


def test_names_are_unique_and_relations_name_number_columns():
    for table in TABLES.values():
        assert len(set(table.names)) == len(table.columns)
        for relation in table.relations:
            assert {table.by_name[name].kind for name in (relation.first, relation.second)} == {"number"}
            assert relation.source


@pytest.mark.parametrize(("name", "title"), [("toe_angle_deg", "toe angle"), ("thrush", "thrush")])
def test_titles(name, title):
    assert TABLES["feet"].by_name[name].title == title


def test_measurements_leave_out_what_names_or_describes_a_reading():
    names = [column.name for column in TABLES["feet"].measurements]
    assert names[0] == "toe_angle_deg"
    assert names[-1] == "sole_pigment"
    assert "days_since_trim" not in names


@EVERY
def test_the_schema_follows_the_declaration(table, column):
    good = one_row(table)
    assert failures(table, good) == set()
    assert column.name in failures(table, good.drop(columns=column.name))
    emptied = good.assign(**{column.name: pd.Series([None], dtype=DTYPES[column.kind])})
    assert (column.name in failures(table, emptied)) == (not column.nullable or column.default is not None)
    wrong = {"word": "nonsense", "text": "?", "date": pd.Timestamp("1900-01-01")}.get(column.kind)
    if column.possible:
        wrong = column.possible[1] + 1
    if wrong is not None:
        spoilt = good.assign(**{column.name: pd.Series([wrong], dtype=DTYPES[column.kind])})
        assert column.name in failures(table, spoilt)
    assert column.name in failures(table, good.assign(**{column.name: pd.Series([object()])}))


@pytest.mark.parametrize("table", TABLES.values(), ids=list(TABLES))
def test_the_schema_is_strict_and_its_keys_are_unique(table):
    good = one_row(table)
    assert "shoe_size" in failures(table, good.assign(shoe_size=1))
    twice = pd.concat([good, good.assign(line=pd.array([3], dtype="Int64"))], ignore_index=True)
    assert failures(table, twice) != set()


def test_the_schema_changes_with_the_declaration():
    horses = TABLES["horses"]
    narrow = [dataclasses.replace(c, possible=(30, 50)) if c.name == "body_mass_kg" else c for c in horses.columns]
    assert failures(dataclasses.replace(horses, columns=tuple(narrow)), one_row(horses)) >= {"body_mass_kg"}


@EVERY
def test_the_dictionary_says_what_the_declaration_says(table, column):
    section = data_dictionary().split(f"## {table.name}.csv\n")[1].split("\n## ")[0]
    (line,) = [line for line in section.splitlines() if line.startswith(f"| `{column.name}` |")]
    cells = [cell.strip() for cell in line.strip("|").split(" | ")]
    assert cells[1:3] == [column.kind, column.unit]
    assert cells[3].startswith("required" if column.required else "optional")
    assert all(word in cells[4] for word in column.words)
    for limits, cell in ((column.possible, cells[4]), (column.plausible, cells[5])):
        assert limits is None or f"{limits[0]:g} to {limits[1]:g}" in cell
    assert cells[6] == column.meaning
    assert ("Private:" in cells[7]) == bool(column.private)
    assert cells[8] == column.source


def test_the_dictionary_holds_every_column_once_and_the_relations():
    text = data_dictionary()
    assert sum(line.startswith("| `") for line in text.splitlines()) == len(COLUMNS)
    assert "- toe angle minus heel angle (`toe_angle_deg`, `heel_angle_deg`): plausible -25 to 40 deg; possible" in text


def test_the_declarations_import_nothing_heavy():
    code = "import sys, hoofcohort.tables; print(sorted({'pandas', 'numpy', 'pandera', 'pyarrow'} & set(sys.modules)))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == "[]\n"

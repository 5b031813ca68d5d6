"""Templates are filled in as a member would, and the intake takes what comes back."""

from __future__ import annotations

import csv
import datetime as dt
import io
import re
import shutil
import subprocess
import zipfile

import openpyxl
import pytest

from hoofcohort.cli import main
from hoofcohort.intake.run import take_in
from hoofcohort.tables import TABLES
from hoofcohort.tables.declare import EXAMPLE_CODE
from hoofcohort.templates.csv_template import csv_template
from hoofcohort.templates.examples import example_cell, sheets
from hoofcohort.templates.workbook import ROWS, workbook

FLAT = sheets()["flat"]


def filled(columns, horse):
    """A row as in the example, but of a horse of one's own."""
    return [horse if column.name == "horse_id" else example_cell(column) for column in columns]


def read_back(tmp_path, texts):
    paths = {name: tmp_path / f"{name}.csv" for name in TABLES}
    for name, path in paths.items():
        path.write_text(texts[name], encoding="utf-8")
    return take_in(paths, dt.date(2026, 12, 31))


def as_csv(rows):
    text = io.StringIO(newline="")
    csv.writer(text, lineterminator="\n").writerows(rows)
    return text.getvalue()


def shown(cell):
    """A cell as a spreadsheet writes it to CSV: as it is shown."""
    if cell.value is None:
        return ""
    if isinstance(cell.value, dt.date):
        assert cell.number_format == "yyyy-mm-dd"
        return f"{cell.value:%Y-%m-%d}"
    return f"{cell.value:g}" if isinstance(cell.value, int | float) else cell.value


def typed(column, text):
    if column.kind == "date":
        return dt.date.fromisoformat(text)
    return float(text) if column.kind in ("number", "integer") else text


def test_a_filled_csv_template_is_accepted_and_its_example_is_not(tmp_path):
    texts = {
        name: csv_template(table.columns) + as_csv([filled(table.columns, horse) for horse in ("H1", "H2")])
        for name, table in TABLES.items()
    }
    taken = read_back(tmp_path, texts)
    assert [list(frame["horse_id"]) for frame in taken.frames.values()] == [["H1", "H2"]] * len(TABLES)
    assert taken.flags == []
    assert [(*reject[:3], reject[4]) for reject in taken.rejects] == [
        (f"{name}.csv", 2, "horse_id", "example_row") for name in TABLES
    ]
    assert {reject[5] for reject in taken.rejects} == {"delete the row; nothing is lost by it"}
    assert taken.frames["horses"]["ueln"].iloc[0] == "000001000000001"


def test_without_the_example_a_filled_template_leaves_nothing_to_say(tmp_path):
    texts = {name: as_csv([table.names, filled(table.columns, "H1")]) for name, table in TABLES.items()}
    taken = read_back(tmp_path, texts)
    assert (taken.rejects, taken.flags) == ([], [])
    for name, table in TABLES.items():
        empty = [column for column in table.names if taken.frames[name][column].isna().any()]
        assert empty == [], f"the example of {name} leaves cells empty"


def test_a_filled_workbook_saved_as_csv_is_accepted(tmp_path):
    path = tmp_path / "tables.xlsx"
    path.write_bytes(workbook({name: table.columns for name, table in TABLES.items()}))
    book = openpyxl.load_workbook(path)
    for name, table in TABLES.items():
        book[name].delete_rows(2)
        for row, horse in enumerate(("007", "008"), start=2):
            for place, column in enumerate(table.columns, start=1):
                cell = book[name].cell(row, place, typed(column, filled([column], horse)[0]))
                cell.number_format = book[name].column_dimensions[cell.column_letter].number_format
    book.save(path)
    again = openpyxl.load_workbook(path)
    taken = read_back(tmp_path, {name: as_csv([[shown(c) for c in row] for row in again[name]]) for name in TABLES})
    assert (taken.rejects, taken.flags) == ([], [])
    assert [list(frame["horse_id"]) for frame in taken.frames.values()] == [["007", "008"]] * len(TABLES)


@pytest.mark.skipif(shutil.which("soffice") is None, reason="needs LibreOffice: a spreadsheet program from outside")
def test_a_spreadsheet_program_saves_each_sheet_as_the_csv_template(tmp_path):
    (tmp_path / "tables.xlsx").write_bytes(workbook(sheets()))
    every_sheet = "csv:Text - txt - csv (StarCalc):44,34,76,1,,0,false,true,false,false,false,-1"
    profile = f"-env:UserInstallation={(tmp_path / 'profile').as_uri()}"
    command = ["soffice", "--headless", profile, "--convert-to", every_sheet, "--outdir", tmp_path, "tables.xlsx"]
    subprocess.run(command, cwd=tmp_path, check=True, capture_output=True, timeout=120)
    for name, columns in sheets().items():
        assert (tmp_path / f"tables-{name}.csv").read_text(encoding="utf-8") == csv_template(columns)


def test_the_flat_template_holds_every_column_once_and_parts_into_the_tables(tmp_path):
    names = [column.name for column in FLAT]
    assert len(set(names)) == len(names)
    assert set(names) == {name for table in TABLES.values() for name in table.names}
    header, example = csv.reader(io.StringIO(csv_template(FLAT)))
    assert header == names
    row = dict(zip(header, example, strict=True)) | {"horse_id": "H1"}
    texts = {name: as_csv([table.names, [row[column] for column in table.names]]) for name, table in TABLES.items()}
    taken = read_back(tmp_path, texts)
    assert (taken.rejects, taken.flags) == ([], [])
    assert [len(frame) for frame in taken.frames.values()] == [1, 1, 1]


@pytest.fixture(scope="module")
def book():
    columns = {name: table.columns for name, table in TABLES.items()}
    return openpyxl.load_workbook(io.BytesIO(workbook(columns | {"flat": FLAT})))


@pytest.mark.parametrize("name", [*TABLES, "flat"])
def test_a_sheet_checks_what_is_typed_and_says_why(book, name):
    columns, sheet = sheets()[name], book[name]
    rules = {str(rule.sqref): rule for rule in sheet.data_validations.dataValidation}
    assert [cell.value for cell in sheet[1]] == [column.name for column in columns]
    for cell, column in zip(sheet[1], columns, strict=True):
        rule = rules.get(f"{cell.column_letter}2:{cell.column_letter}{ROWS}")
        if column.words:
            assert (rule.type, rule.formula1) == ("list", f'"{",".join(column.words)}"')
        elif column.possible:
            assert rule.type == {"number": "decimal", "integer": "whole"}[column.kind]
            assert (rule.operator, float(rule.formula1), float(rule.formula2)) == ("between", *column.possible)
            low, high = column.possible
            assert f"Possible: {low:g} to {high:g} {column.unit}".strip() in rule.error
        elif column.kind == "date":
            first = dt.datetime(1899, 12, 30) + dt.timedelta(days=int(rule.formula1))
            assert (rule.type, first) == ("date", dt.datetime(1980, 1, 1))
        else:
            assert rule is None
            assert sheet.column_dimensions[cell.column_letter].number_format == "@"
        if rule is not None:
            assert rule.showErrorMessage
            assert len(rule.error) <= 255
            assert len(rule.prompt) <= 255
            assert not rule.prompt.endswith("...")
        assert column.meaning in cell.comment.text
        assert column.unit in cell.comment.text


def test_the_first_sheet_explains_every_column_and_nothing_is_locked(book):
    said = {(row[0], row[1]) for row in book["How to"].iter_rows(values_only=True)}
    assert {(name, column.name) for name, columns in sheets().items() for column in columns} <= said
    assert not any(sheet.protection.sheet for sheet in book)
    assert book.security is None or not book.security.lockStructure
    assert not [cell for sheet in book for row in sheet for cell in row if cell.data_type == "f"]


def test_a_workbook_has_no_clock_and_names_nobody():
    data = workbook(sheets())
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        assert {entry.date_time for entry in archive.infolist()} == {(1980, 1, 1, 0, 0, 0)}
        properties = archive.read("docProps/core.xml") + archive.read("docProps/app.xml")
    assert not re.search(rb"creator|created|modified|Application", properties)


def test_every_unit_can_be_read_off_the_columns_name():
    endings = {"deg": "deg", "mm": "mm", "cm": "cm", "kg": "kg", "days": "days", "hours per day": "hours"}
    for column in FLAT:
        if column.unit and column.name != "days_since_trim":
            assert column.name.endswith("_" + endings[column.unit])


def test_the_command_writes_the_same_twice_and_replaces_nothing(tmp_path, capsys):
    for folder in ("one", "two"):
        assert main(["templates", "--out", str(tmp_path / folder)]) == 0
    files = sorted(path.name for path in (tmp_path / "one").iterdir())
    assert {"flat.csv", "tables.xlsx", "flat.xlsx", "dictionary.html", "datapackage.json"} < set(files)
    for name in files:
        assert (tmp_path / "one" / name).read_bytes() == (tmp_path / "two" / name).read_bytes()
    for name in files:
        if name != "feet.csv":
            (tmp_path / "one" / name).unlink()
    capsys.readouterr()
    assert main(["templates", "--out", str(tmp_path / "one")]) == 2
    assert "already there, and perhaps filled in: feet.csv; nothing was written" in capsys.readouterr().err
    assert [path.name for path in (tmp_path / "one").iterdir()] == ["feet.csv"]


def test_the_examples_horse_is_named_alike_everywhere():
    for columns in sheets().values():
        rows = list(csv.DictReader(io.StringIO(csv_template(columns))))
        assert [row["horse_id"] for row in rows] == [EXAMPLE_CODE]

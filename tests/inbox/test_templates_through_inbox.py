"""Round trip: a template, filled in as a member would, is accepted whole by the inbox, as CSV and as a workbook."""

from __future__ import annotations

import csv
import datetime as dt

import openpyxl
import pytest

from hoofcohort.inbox.before_sending import settle_before
from hoofcohort.inbox.member import read_parts
from hoofcohort.inbox.run import take_inbox
from hoofcohort.tables import TABLES
from hoofcohort.templates.csv_template import csv_template
from hoofcohort.templates.examples import example_cell, sheets
from hoofcohort.templates.workbook import workbook

AS_OF = dt.date(2026, 12, 31)


def filled(columns, horse):
    return [horse if column.name == "horse_id" else example_cell(column) for column in columns]


def typed(column, text):
    if column.kind == "date" and text:
        return dt.date.fromisoformat(text)
    return float(text) if column.kind in ("number", "integer") and text else text


def fill_csv(folder, name, columns):
    path = folder / f"{name}.csv"
    header = csv_template(columns).splitlines()[0]
    with path.open("w", newline="", encoding="utf-8") as file:
        file.write(header + "\n")
        csv.writer(file, lineterminator="\n").writerow(filled(columns, "H1"))


def fill_book(path, tables):
    path.write_bytes(workbook(tables))
    book = openpyxl.load_workbook(path)
    for name, columns in tables.items():
        for place, (column, text) in enumerate(zip(columns, filled(columns, "H1"), strict=True), start=1):
            book[name].cell(2, place).value = typed(column, text)
    book.save(path)


def whole(inbox, rows):
    total = inbox.ledger["total"]
    assert (total["accepted"], total["rejected"]) == (rows, 0)
    assert [one for part in inbox.pool.parts for one in part.findings if one.severity != "note"] == []
    assert all(inbox.accepted(name)["horse_id"].tolist() == ["H1"] for name in TABLES)


@pytest.mark.parametrize("kind", ["csv", "xlsx"])
def test_three_filled_tables_are_accepted(tmp_path, kind):
    folder = tmp_path / "in/r1/ash"
    folder.mkdir(parents=True)
    tables = {name: table.columns for name, table in TABLES.items()}
    if kind == "csv":
        for name, columns in tables.items():
            fill_csv(folder, name, columns)
    else:
        fill_book(folder / "tables.xlsx", tables)
    whole(take_inbox(tmp_path / "in", AS_OF), 3)
    parts = [part for path in sorted(folder.iterdir()) for part in read_parts(path, as_of=AS_OF)]
    assert settle_before(parts, AS_OF).ledger["total"]["rejected"] == 0


@pytest.mark.parametrize("kind", ["csv", "xlsx"])
def test_a_filled_flat_sheet_is_accepted(tmp_path, kind):
    folder = tmp_path / "in/r1/ash"
    folder.mkdir(parents=True)
    flat = {"flat": sheets()["flat"]}
    if kind == "csv":
        fill_csv(folder, "flat", flat["flat"])
    else:
        fill_book(folder / "flat.xlsx", flat)
    whole(take_inbox(tmp_path / "in", AS_OF), 1)

"""What the reader of files says about a sheet reaches the member: units, dates, cells without a value, legends."""

from __future__ import annotations

import datetime as dt
import io
import json
import os
import re
import zipfile

import openpyxl
import pytest
from openpyxl.utils.datetime import CALENDAR_MAC_1904

from hoofcohort.cli import main
from hoofcohort.errors import InputError
from hoofcohort.inbox.member import read_parts
from hoofcohort.inbox.part import Part
from hoofcohort.inbox.run import settle
from hoofcohort.mapping.convert import convert
from hoofcohort.mapping.draft import draft
from hoofcohort.mapping.mapping import own_mapping
from hoofcohort.sheets.read import read_sheets

HEADER = ["horse_id", "foot", "visit_date", "observer_id", "method", "toe_length_mm"]
FOOT = ["H1", "LF", dt.date(2026, 3, 14), "O1", "gauge", 80.5]


def written(tmp_path, *rows, others=(), early=False):
    book = openpyxl.Workbook()
    book.active.title = "feet"
    if early:
        book.epoch = CALENDAR_MAC_1904
    for row in rows:
        book.active.append(row)
    for name, words in others:
        sheet = book.create_sheet(name)
        for row in words:
            sheet.append(row)
    path = tmp_path / "a.xlsx"
    book.save(path)
    return path


def test_a_legend_is_put_aside_and_no_refusal(tmp_path, capsys):
    legend = [["Words used in this file, please keep them"], ["LF", "left fore"], ["RF", "right fore"]]
    path = written(tmp_path, HEADER, FOOT, others=[("Legend", legend)])
    assert main(["check", str(path)]) == 0
    assert "no table was found on this sheet; it was put aside" in capsys.readouterr().out
    feet, words = read_parts(path)
    assert (feet.refused, words.refused, words.rows_read) == ("", "", 3)
    assert [row.text for row in words.aside] == ["Words used in this file, please keep them", "LF | left fore",
                                                 "RF | right fore"]  # fmt: skip


def test_a_sheet_of_readings_that_nothing_fits_is_still_refused(tmp_path):
    path = written(tmp_path, HEADER, FOOT, others=[("older", [["a", "b", "c"], ["x", 52.5, 50], ["y", 51, 49]])])
    assert [bool(part.refused) for part in read_parts(path)] == [False, True]


def test_the_templates_own_workbooks_leave_only_their_example_to_delete(tmp_path, capsys):
    assert main(["templates", "--out", str(tmp_path)]) == 0
    for name in ("tables.xlsx", "flat.xlsx"):
        capsys.readouterr()
        assert main(["check", str(tmp_path / name)]) == 1
        told = [line for line in capsys.readouterr().out.splitlines() if line.startswith("error")]
        assert told and all("The row is the example of the template." in line for line in told)


def test_days_counted_from_1904_are_read_so(tmp_path):
    path = written(tmp_path, HEADER, FOOT, [*FOOT[:2], (dt.date(2026, 3, 15) - dt.date(1904, 1, 1)).days, *FOOT[3:]],
                   early=True)  # fmt: skip
    (part,) = read_parts(path)
    assert part.tables["feet"]["visit_date"].tolist() == ["2026-03-14", "2026-03-15"]
    assert [finding.reason for finding in part.findings if finding.line == 3 and finding.position == 3] == [
        "serial_date"
    ]


@pytest.mark.parametrize(("value", "reason"), [("=2*40", "formula_without_result"), ("#DIV/0!", "error_in_cell")])
@pytest.mark.parametrize("place", [1, 4, 6])
def test_a_cell_without_a_value_returns_its_row_whatever_its_column(tmp_path, value, reason, place):
    row = [value if at == place else cell for at, cell in enumerate(FOOT, start=1)]
    (part,) = read_parts(written(tmp_path, HEADER, FOOT, row))
    told = [(finding.line, finding.position, finding.reason, finding.value) for finding in part.findings]
    assert told == [(3, place, reason, value)]
    assert part.tables["feet"]["status"].tolist() == ["", "rejected"]


def test_a_formula_with_a_result_is_its_result(tmp_path):
    path = written(tmp_path, HEADER, [*FOOT[:-1], "=2*40"])
    with zipfile.ZipFile(path) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    first = "xl/worksheets/sheet1.xml"
    parts[first] = re.sub(rb"(<f>2\*40</f>)<v ?/>", rb"\1<v>80</v>", parts[first])
    content = io.BytesIO()
    with zipfile.ZipFile(content, "w") as archive:
        for name, data in parts.items():
            archive.writestr(name, data)
    path.write_bytes(content.getvalue())
    (part,) = read_parts(path)
    assert (part.findings, part.tables["feet"]["toe_length_mm"].tolist()) == ([], ["80"])


def test_a_row_of_units_decides_in_a_draft_and_is_never_contradicted(tmp_path):
    drafted = tmp_path / "drafted.csv"
    drafted.write_text("horse,foot,date,observer,method,toe length\n,,,,,cm\nH1,LF,2026-03-14,O1,gauge,8.1\n")
    (sheet,) = read_sheets(drafted)
    (to,) = [guess.to for guess in draft(sheet).guesses if guess.header == "toe length"]
    assert (to.to, to.unit) == ("toe_length_mm", "cm")
    ours = tmp_path / "ours.csv"
    ours.write_text(f"{','.join(HEADER)}\n,,,,,cm\nH1,LF,2026-03-14,O1,gauge,8.1\n")
    (sheet,) = read_sheets(ours)
    with pytest.raises(
        InputError, match=r"column 6 \('toe_length_mm'\): the row of units says 'cm', but the column is"
    ):
        convert(sheet, own_mapping(sheet))


def test_a_row_with_a_broken_quotation_mark_says_so(tmp_path):
    path = tmp_path / "a.csv"
    path.write_text(f'{",".join(HEADER)}\n"Big" Ben,LF,2026-03-14,O1,gauge,80.5\nH2,LF,2026-03-14,O1,gauge,81\n')
    (part,) = read_parts(path)
    (finding,) = [finding for finding in part.findings if finding.severity == "error"]
    assert (finding.line, finding.reason) == (2, "ragged_row")
    assert finding.remedy.startswith("a quotation mark is never closed or stands alone")
    assert part.tables["feet"]["horse_id"].tolist() == ["H2"]


def test_a_file_with_a_name_that_cannot_be_printed_comes_back_and_the_rest_is_read(tmp_path):
    folder = tmp_path / "in" / "1-round" / "ash"
    folder.mkdir(parents=True)
    good = f"{','.join(HEADER)}\nH1,LF,2026-03-14,O1,gauge,80.5\n"
    (folder / "feet.csv").write_text(good)
    (folder / "linked.csv").symlink_to("feet.csv")
    with open(os.fsencode(folder) + b"/\xff\n.csv", "w") as stream:
        stream.write(good)
    assert main(["inbox", str(tmp_path / "in"), "--out", str(tmp_path / "out")]) == 0
    letter = (tmp_path / "out" / "letters" / "ash.html").read_text("utf-8")
    assert "its name holds signs that no file" in letter and "??.csv" in letter
    assert "is a link to another file; put the file itself there" in letter
    ledger = json.loads((tmp_path / "out" / "ledger.json").read_text("utf-8"))
    assert ledger["total"]["rows_read"] == 1


def test_a_sheet_is_named_after_its_file_and_a_lone_one_by_it():
    assert [Part("r1", "ash", "a.xlsx", sheet).name for sheet in ("", "Spring")] == ["a.xlsx", "a.xlsx, sheet Spring"]


def test_a_contradiction_names_the_other_sheet_and_says_that_it_is_hidden(tmp_path):
    path = written(tmp_path, HEADER, FOOT, others=[("old copy", [HEADER, [*FOOT[:-1], 61]])])
    book = openpyxl.load_workbook(path)
    book["old copy"].sheet_state = "hidden"
    book.save(path)
    inbox = settle(read_parts(path, round_name="r1", member="ash"))
    told = [one.remedy for part in inbox.pool.parts for one in part.findings if one.reason == "contradiction"]
    assert any(text.startswith("line 2 of a.xlsx, sheet old copy, which is hidden (r1) is about") for text in told)
    assert any(text.startswith("line 2 of a.xlsx, sheet feet (r1) is about") for text in told)

"""Files as people send them: what is read, on which line it stands, and what is refused."""

from __future__ import annotations

import datetime as dt
import io
import zipfile

import numpy as np
import openpyxl
import pytest
from awkward_files import book_of, repacked, saved
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from examples import examples
from hoofcohort.sheets.errors import UnreadableError
from hoofcohort.sheets.read import read_sheets

PLAIN = "horse_id;foot;toe\nH1;LF;52,5\nH2;RF;51,0\n"


def read(tmp_path, data, name="a.csv"):
    path = tmp_path / name
    path.write_bytes(data if isinstance(data, bytes) else data.encode("utf-8"))
    return read_sheets(path)


def cells(sheet):
    return [list(row) for row in zip(*sheet.columns, strict=True)]


ENCODINGS = [
    ("utf-8", "UTF-8"),
    ("utf-8-sig", "UTF-8"),
    ("utf-16", "UTF-16"),
    ("utf-16-le", "UTF-16"),
    ("cp1252", "1252"),
]


@pytest.mark.parametrize(("codec", "name"), ENCODINGS)
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("separator", [",", ";", "\t", "|"])
def test_encodings_line_ends_and_separators(tmp_path, codec, name, end, separator):
    text = separator.join(["horse", "weide"]) + end + separator.join(["Flöckchen", "12"]) + end
    (sheet,) = read(tmp_path, text.encode(codec))
    assert (sheet.header, cells(sheet)) == (("horse", "weide"), [["Flöckchen", "12"]])
    assert sheet.lines.tolist() == [2]
    assert any(name in said for said in sheet.understood if said.startswith("encoding"))


def test_titles_blanks_repeated_headers_and_totals_are_put_aside_with_their_lines(tmp_path):
    text = (
        "Spring round;;\n\nhorse_id;foot;toe\nH1;LF;52,5\n;;\nhorse_id;foot;toe\nH2;RF;51\n"
        '"H\n3";LH;50\nTotal;;153,5\nH4;LF;1;2\n'
    )
    (sheet,) = read(tmp_path, text)
    assert sheet.header_line == 3
    assert cells(sheet) == [["H1", "LF", "52,5"], ["H2", "RF", "51"], ["H 3", "LH", "50"]]
    assert sheet.lines.tolist() == [4, 7, 8]
    found = [(own.line, own.kind) for own in sheet.aside]
    assert found == [(1, "title"), (2, "blank"), (5, "blank"), (6, "repeated header"), (10, "total")]
    assert [(own.line, own.cells) for own in sheet.ragged] == [(11, ("H4", "LF", "1", "2"))]
    assert "rows above the header, put aside: line 1" in sheet.understood


def test_separator_line_blank_columns_and_odd_blanks(tmp_path):
    (sheet,) = read(tmp_path, "sep=;\nhorse_id;;toe\n\u00a0H1\u200b;;52\n")
    assert (sheet.header, sheet.positions, cells(sheet)) == (("horse_id", "toe"), (1, 3), [["H1", "52"]])
    assert sheet.lines.tolist() == [3]


def test_a_workbook_keeps_dates_numbers_and_its_rows(tmp_path):
    book = openpyxl.Workbook()
    book.active.title = "feet"
    for row in (["Round one"], [], ["horse_id", "visit", "toe", "id"], ["H1", dt.datetime(2026, 4, 3), 52.5, "007"],
                ["H2", dt.date(2026, 4, 13), 51, "008"]):  # fmt: skip
        book.active.append(row)
    book.create_sheet("empty")
    out = io.BytesIO()
    book.save(out)
    (sheet,) = read(tmp_path, out.getvalue(), "a.xlsx")
    assert (sheet.sheet, sheet.typed, sheet.header_line) == ("feet", True, 3)
    assert cells(sheet) == [["H1", "2026-04-03", "52.5", "007"], ["H2", "2026-04-13", "51", "008"]]
    assert sheet.lines.tolist() == [4, 5]


def bomb():
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/worksheets/sheet1.xml", b" " * 30_000_000)
    return out.getvalue()


@pytest.mark.parametrize(
    ("data", "name", "said"),
    [
        (b"", "a.csv", "holds no row"),
        (b"a;b\n\0;2\n", "a.csv", "line 2: holds a NUL"),
        (b'"a;b\nx;2\n', "a.csv", "line 1: a quotation mark is never closed"),
        (b"%PDF-1.7", "a.csv", "is a PDF"),
        (b"\xd0\xcf\x11\xe0rest", "a.xls", "save the table as .xlsx or CSV"),
        (b"PK\x03\x04rest", "a.xlsx", "broken workbook"),
        (bomb(), "a.xlsx", "unpacks to far more"),
        (bomb(), "a.zip", "unpacks to far more"),
    ],
)
def test_what_cannot_be_read_is_refused_with_what_to_do(tmp_path, data, name, said):
    with pytest.raises(UnreadableError, match=said):
        read(tmp_path, data, name)


def test_a_missing_file_and_a_folder_are_refused(tmp_path):
    for path in (tmp_path / "none.csv", tmp_path):
        with pytest.raises(UnreadableError):
            read_sheets(path)


def physical_rows(sheet):
    return len(sheet.lines) + len(sheet.aside) + len(sheet.ragged) + 1


@settings(max_examples=examples(300), deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.binary(max_size=120) | st.text(alphabet='a1;,|\t"\n\r =é', max_size=80).map(lambda text: text.encode()))
def test_any_bytes_are_read_or_refused(tmp_path, data):
    try:
        sheets = read(tmp_path, data)
    except UnreadableError:
        return
    for sheet in sheets:
        lines = [*sheet.lines.tolist(), *(own.line for own in (*sheet.aside, *sheet.ragged)), sheet.header_line]
        assert len(lines) == len(set(lines)) == physical_rows(sheet)
        assert all(len(column) == len(sheet.lines) for column in sheet.columns)


@pytest.mark.parametrize("total", ["=AVERAGE(B2:B3)", "#DIV/0!", 51.5])
def test_a_total_whose_formula_has_no_result_is_put_aside_and_asks_for_nothing(tmp_path, total):
    book = openpyxl.Workbook()
    for row in (["horse_id", "toe", "foot"], ["H1", 52, "LF"], ["=A2", 51, "RF"], ["Mittelwert", total, None]):
        book.active.append(row)
    book.save(tmp_path / "book.xlsx")
    (sheet,) = read_sheets(tmp_path / "book.xlsx")
    assert [(one.line, one.kind) for one in sheet.aside] == [(4, "total")]
    assert [(one.line, one.position) for one in sheet.unread] == [(3, 1)]


def test_a_sign_inside_quoted_cells_of_every_row_is_not_taken_for_the_separator(tmp_path):
    (sheet,) = read(tmp_path, "horse_id,foot,toe\n" + 'a;b,"x\r\ny",a;b\n' * 2)
    assert sheet.header == ("horse_id", "foot", "toe")
    assert cells(sheet) == [["a;b", "x y", "a;b"]] * 2


@settings(max_examples=examples(200), deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(st.lists(st.sampled_from(["", "H1", "52,5", "Total", "horse_id", "foot"]), min_size=3, max_size=3)))
def test_every_row_is_found_again_exactly_once(tmp_path, rows):
    text = "horse_id;foot;toe\n" + "".join(";".join(row) + "\n" for row in rows)
    (sheet,) = read(tmp_path, text)
    seen = [sheet.header_line, *sheet.lines.tolist(), *(own.line for own in (*sheet.aside, *sheet.ragged))]
    assert sorted(seen) == list(range(1, len(rows) + 2))
    assert np.all(np.diff(sheet.lines) > 0)


def test_entities_are_refused_in_a_part_of_any_name(tmp_path):
    plain = saved(book_of(["horse_id", "foot"], ["H1", "LF"]))
    path = tmp_path / "a.xlsx"
    path.write_bytes(repacked(plain, {"xl/worksheets/sheet1.dat": b'<!DOCTYPE x [<!ENTITY a "b">]><x>&a;</x>'}))
    with pytest.raises(UnreadableError, match=r"its part 'xl/worksheets/sheet1\.dat' declares entities"):
        read_sheets(path)

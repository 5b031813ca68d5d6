"""What other programs write and read: Python's csv writer, pandas and openpyxl agree with this reader about cells."""

from __future__ import annotations

import csv
import io

import numpy as np
import openpyxl
import pandas as pd
import pytest
from awkward_files import CORPUS, HEADER, book_of, saved
from awkward_files import cases as corpus_cases
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from examples import examples
from hoofcohort.errors import HoofcohortError
from hoofcohort.sheets import worksheet
from hoofcohort.sheets.blanks import tidy
from hoofcohort.sheets.read import read_sheets

PROPERTY = settings(
    max_examples=examples(120), deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
CELL = st.sampled_from(
    [
        "H1",
        "LF",
        "52,5",
        "1.5",
        'so "called"',
        'a "',
        "a;b",
        "c,d|e",
        "up\nand down",
        "two  blanks",
        " edge ",
        "é",
        "",
        "x\r\ny",
    ]
)
ROWS = st.lists(st.lists(CELL, min_size=3, max_size=3).filter(lambda row: tidy(row[0]) != ""), min_size=1, max_size=12)


def cells(sheet):
    return [list(row) for row in zip(*sheet.columns, strict=True)]


@PROPERTY
@given(
    ROWS,
    st.sampled_from(",;\t|"),
    st.sampled_from([csv.QUOTE_MINIMAL, csv.QUOTE_ALL]),
    st.sampled_from(["\n", "\r\n", "\r"]),
)
def test_what_a_csv_writer_writes_is_read_cell_by_cell(tmp_path, rows, separator, quoting, end):
    assume(
        end != "\r" or quoting == csv.QUOTE_ALL
    )  # else the writer leaves a line feed in a cell without quotation marks
    written = io.StringIO(newline="")
    csv.writer(written, delimiter=separator, quoting=quoting, lineterminator=end).writerows([HEADER, *rows])
    path = tmp_path / "a.csv"
    path.write_bytes(written.getvalue().encode())
    (sheet,) = read_sheets(path)
    assert (list(sheet.header), sheet.ragged, sheet.aside) == (HEADER, (), ())
    assert cells(sheet) == [[tidy(cell) for cell in row] for row in rows]
    by_pandas = pd.read_csv(path, sep=separator, dtype=str, keep_default_na=False)
    assert cells(sheet) == [[tidy(cell) for cell in row] for row in by_pandas.to_numpy().tolist()]
    text = written.getvalue()
    starts = [text.index(end) + len(end)]
    for row in rows[:-1]:
        line = io.StringIO(newline="")
        csv.writer(line, delimiter=separator, quoting=quoting, lineterminator=end).writerow(row)
        starts.append(starts[-1] + len(line.getvalue()))
    assert sheet.lines.tolist() == [len(io.StringIO(text[:start], newline="").readlines()) + 1 for start in starts]


VALUE = (
    st.none() | st.integers(-9999, 10**15 - 1) | st.floats(-1e6, 1e6, width=32) | st.sampled_from(["007", "x y", "é"])
)


@PROPERTY
@given(st.lists(st.lists(VALUE, min_size=3, max_size=3), min_size=1, max_size=6))
def test_the_numbers_of_a_workbook_are_those_that_openpyxl_stored(tmp_path, rows):
    path = tmp_path / "a.xlsx"
    path.write_bytes(saved(book_of(HEADER, *[["H1", *row[1:]] for row in rows])))
    (sheet,) = read_sheets(path)
    stored = [list(row) for row in openpyxl.load_workbook(path).active.iter_rows(min_row=2, values_only=True)]
    assert sheet.lines.tolist() == list(range(2, len(rows) + 2))
    for got, own in zip(cells(sheet), stored, strict=True):
        for text, value in zip(got, [*own, *[None] * (3 - len(own))], strict=True):
            if isinstance(value, int | float):
                assert np.isclose(float(text), value, rtol=1e-14, atol=0)
            else:
                assert text == (value or "")


@pytest.mark.parametrize("name", sorted(name for name, (_, told) in corpus_cases().items() if "sheets" in told))
def test_usual_cells_are_read_as_the_library_reads_them(name, monkeypatch):
    quick = read_sheets(CORPUS / name)
    monkeypatch.setattr(worksheet._Parser, "_plain", lambda self, element: None)
    for one, other in zip(quick, read_sheets(CORPUS / name), strict=True):
        assert cells(one) == cells(other)
        assert (one.header, one.aside, one.unread, one.understood) == (
            other.header,
            other.aside,
            other.unread,
            other.understood,
        )


def test_numbers_of_every_form_are_read_as_the_library_reads_them(tmp_path, monkeypatch):
    numbers = [1, -1, 0.1, -0.25, 1e-7, 123456789012345, 1.5e300, 99.999, 0.1 + 0.2, 2**53, -40000.5]
    path = tmp_path / "a.xlsx"
    path.write_bytes(saved(book_of(HEADER, *[["H1", number, f" {number} "] for number in numbers])))
    (quick,) = read_sheets(path)
    monkeypatch.setattr(worksheet._Parser, "_plain", lambda self, element: None)
    (slow,) = read_sheets(path)
    assert cells(quick) == cells(slow) and len(quick.lines) == len(numbers)


@pytest.mark.parametrize(
    "text",
    [
        '"horse_id" "foot" "toe"\n"1" "H 1" "LF" 50.5\n"2" "H 2" "RF" NA\n',
        "horse_id foot toe\n1 H1 LF 50.5\n2 H2 RF NA\n",
        "horse  foot   toe\nH1     LF     50.5\n\nH2     RF     51\n",
    ],
)
def test_cells_parted_by_blanks_are_refused_and_it_is_said_how_to_save_them(tmp_path, text):
    """As R's ``write.table`` writes them by default, quoted and not, and as people type them."""
    path = tmp_path / "feet.txt"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(HoofcohortError, match=r"the cells are parted by blanks.*commas, semicolons or tabs"):
        read_sheets(path)

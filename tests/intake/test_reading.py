"""Line numbers as in the original, ragged rows, and files that cannot be read."""

from __future__ import annotations

import csv

import pytest

from hoofcohort.errors import InputError
from hoofcohort.intake.reading import read_table
from hoofcohort.tables import TABLES

HEADER = "horse_id,yard_id,owner_id"


def read(tmp_path, content):
    path = tmp_path / "horses.csv"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return read_table(path, TABLES["horses"], path.name)


def fault(tmp_path, content):
    _, faults = read(tmp_path, content)
    (text,) = faults
    return text


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_lines_are_those_of_the_original(tmp_path, end):
    lines = [
        "\ufeff" + HEADER,
        "",
        "H1,Y1,W1",
        '"H',
        '2",Y1,W1',
        "",
        " , ,",
        "H3,Y1",
        'H4,Y1,"W"',
        '"H""5",Y1,W1,',
        "H6,,",
    ]
    raw, faults = read(tmp_path, end.join(lines))
    assert faults == []
    assert raw.lines.tolist() == [3, 4, 9, 11]
    assert [(row.line, row.cells) for row in raw.ragged] == [(8, ("H3", "Y1")), (10, ('H"5', "Y1", "W1", ""))]
    assert (raw.rows_read, raw.blank_lines) == (6, 3)
    assert [raw.text(row, "horse_id") for row in range(4)] == ["H1", f"H{end}2", "H4", "H6"]


def test_a_header_after_blank_lines_and_with_blanks_around_its_names(tmp_path):
    raw, faults = read(tmp_path, "\n\n horse_id ,yard_id, owner_id\nH1,Y1,W1\n")
    assert faults == []
    assert raw.header == ("horse_id", "yard_id", "owner_id")
    assert (raw.lines.tolist(), raw.blank_lines) == ([4], 2)


def test_a_header_alone_is_a_table_without_rows(tmp_path):
    raw, faults = read(tmp_path, HEADER)
    assert (faults, raw.rows_read, len(raw.lines)) == ([], 0, 0)
    assert set(raw.columns) == {"horse_id", "yard_id", "owner_id"}


def test_rows_are_joined_across_chunks(tmp_path, monkeypatch):
    monkeypatch.setattr("hoofcohort.intake.reading._CHUNK", 3)
    ids = ["a", "b", "a", "c", "b", "d", "a"]
    raw, _ = read(tmp_path, "\n".join([HEADER, *(f"{name},Y,{name}" for name in ids)]))
    assert [raw.text(row, "owner_id") for row in range(7)] == ids
    assert sorted(raw.columns["yard_id"].texts) == ["Y"]


@pytest.mark.parametrize(
    ("content", "text"),
    [
        (b"", "the file is empty; its first line must hold the names of the columns"),
        (b"\xef\xbb\xbf\n\n", "the file is empty; its first line must hold the names of the columns"),
        (b"horse_id\n\xe9,1\n", "line 2 is not UTF-8; save the file as CSV, UTF-8"),
        ("horse_id\nü".encode("utf-16"), "line 1 holds a NUL byte, so this is no text file; save it as CSV, UTF-8"),
        (
            f'{HEADER}\nH1,Y1,W1\nH2,"Y1,W1\nH3,Y1,W1\n',
            "the row that begins on line 3 has a quotation mark that is never closed; close or remove it",
        ),
        (
            f'{HEADER}\nH1,"Y"1,W1\n',
            "the row that begins on line 2 is not valid CSV (',' expected after '\"'); "
            "write a quotation mark inside a cell twice",
        ),
        (HEADER.replace(",", ";"), "cells seem to be separated by semicolons; save the file as CSV with commas"),
    ],
)
def test_unreadable_files_say_why(tmp_path, content, text):
    assert fault(tmp_path, content) == text


def test_an_endless_cell_is_named(tmp_path):
    text = fault(tmp_path, f'{HEADER}\n"{"x" * (csv.field_size_limit() + 1)}",Y,W\n')
    assert text.startswith("the row that begins on line 2 has a cell of more than ")


def test_missing_files_and_folders(tmp_path):
    assert read_table(tmp_path / "no.csv", TABLES["horses"], "no.csv")[1] == [
        "there is no such file; check the name and the folder"
    ]
    assert read_table(tmp_path, TABLES["horses"], "x")[1] == ["this is a folder; name the CSV file in it"]


def test_the_header_tells_all_its_faults(tmp_path):
    _, faults = read(tmp_path, "horse_id,yard,sex,sex,,zzz,Owner_ID\n")
    known = ", ".join(TABLES["horses"].names)
    assert faults == [
        "unknown column 'yard'; did you mean 'yard_id'?",
        f"unknown column 'zzz'; delete it, or rename it to one of {known}",
        "unknown column 'Owner_ID'; did you mean 'owner_id'?",
        "column 5 has no name; name it or delete it",
        "column 'sex' stands 2 times in the header; keep one",
        "column 'yard_id' is missing; add it: Code of the premises where the horse is kept.",
        "column 'owner_id' is missing; add it: Code of the owner.",
    ]


def test_the_faults_of_all_files_come_together(take, tmp_path):
    with pytest.raises(InputError) as caught:
        take(horses=b"", management="horse_id,from_date,diet,terain\n", feet="\0")
    assert str(caught.value) == "\n  ".join(
        [
            "4 things must be put right first; nothing was written",
            f"{tmp_path}/horses.csv: the file is empty; its first line must hold the names of the columns",
            f"{tmp_path}/management.csv: unknown column 'terain'; did you mean 'terrain'?",
            f"{tmp_path}/management.csv: column 'terrain' is missing; add it: Ground the horse mostly walks on.",
            f"{tmp_path}/feet.csv: line 1 holds a NUL byte, so this is no text file; save it as CSV, UTF-8",
        ]
    )

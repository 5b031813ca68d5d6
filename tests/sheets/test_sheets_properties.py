"""Whatever is done to a file, each of its rows is found again or the file is refused; nothing else is raised."""

from __future__ import annotations

import os
import random
import time
import zipfile
from collections import Counter
from pathlib import Path

import numpy as np
import pytest
from awkward_files import CORPUS, HEADER, book_of, cases, repacked, saved
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from examples import examples
from hoofcohort.sheets.errors import UnreadableError
from hoofcohort.sheets.read import read_sheets
from hoofcohort.sheets.rows import sheet_of
from hoofcohort.sheets.sheet import Aside
from hoofcohort.sheets.text_rows import careful_rows, physical_lines, rows_of

CASES = {name: content for name, (content, _) in cases().items()}
TEXTS = sorted(name for name in CASES if name.endswith((".csv", ".txt")) and len(CASES[name]) < 2000)
WORKBOOKS = ("values.xlsx", "formulas.xlsx", "hidden-and-merged.xlsx", "legend.xlsx")
PROPERTY = settings(
    max_examples=examples(200), deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)


def read_or_refuse(path: Path, content: bytes):
    path.write_bytes(content)
    try:
        return read_sheets(path)
    except UnreadableError as error:
        assert str(error).startswith(str(path))
        return []


def lines_of(sheet):
    return [
        sheet.header_line,
        *sheet.lines.tolist(),
        *(row.line for row in sheet.aside),
        *(row.line for row in sheet.ragged),
    ]


def hold_together(sheet):
    lines = lines_of(sheet)
    assert len(lines) == len(set(lines))
    assert len(sheet.columns) == len(sheet.header) == len(sheet.positions)
    assert all(len(column) == len(sheet.lines) for column in sheet.columns)
    assert all(isinstance(cell, str) for column in sheet.columns for cell in column)
    assert np.all(np.diff(sheet.lines) > 0)


def mutated(seed: int, content: bytes, pieces: list[bytes]) -> bytes:
    draw = random.Random(seed)
    data = bytearray(content)
    for _ in range(draw.randint(1, 6)):
        at = draw.randint(0, len(data))
        match draw.randint(0, 3):
            case 0:
                data[at:at] = draw.choice(pieces)
            case 1:
                del data[at : at + draw.randint(1, 12)]
            case 2:
                data[at : at + 1] = bytes([draw.randint(0, 255)])
            case _:
                end = at + draw.randint(1, 40)
                data[at:at] = data[at:end]
    return bytes(data)


PIECES = [b'"', b";", b",", b"\t", b"|", b"\n", b"\r", b"\r\n", b"\xe9", b"\xc3\xa9", b"\xa0", b"\0", b"Total;", b'""']


@PROPERTY
@given(st.sampled_from(TEXTS), st.integers(0, 2**32))
def test_every_line_of_a_damaged_text_is_found_again(tmp_path, name, seed):
    content = mutated(seed, CASES[name], PIECES)
    for sheet in read_or_refuse(tmp_path / "a.csv", content):
        hold_together(sheet)
        assert max(lines_of(sheet)) <= len(content.splitlines()) + content.count(b"\r") + content.count(b"\n") + 1


LINE = st.lists(st.sampled_from(["", "H1", "LF", "52,5", "Total", "x y", "é", "’", "\u00a0"]), min_size=1, max_size=5)


@PROPERTY
@given(
    st.lists(LINE, max_size=30),
    st.sampled_from([";", "\t", "|"]),
    st.sampled_from(["\n", "\r\n", "\r"]),
    st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "utf-16-be"]),
)
def test_no_cell_is_lost_in_any_dialect(tmp_path, rows, separator, end, codec):
    lines = [separator.join(HEADER), *(separator.join(row) for row in rows)]
    (sheet,) = read_or_refuse(tmp_path / "a.txt", (end.join(lines) + end).encode(codec))
    hold_together(sheet)
    assert sorted(lines_of(sheet)) == list(range(1, len(lines) + 1))
    kept = Counter(sheet.header)
    kept.update(cell for column in sheet.columns for cell in column)
    kept.update(cell for row in sheet.ragged for cell in row.cells)
    kept.update(cell for row in sheet.aside for cell in row.text.split(" | "))
    sent = Counter(cell.replace("’", "'").strip() for row in [HEADER, *rows] for cell in row)
    del kept[""], sent[""]
    assert kept == sent


@PROPERTY
@given(st.text(alphabet='aé1;"\n\r =', max_size=120))
def test_the_quick_and_the_careful_way_cut_alike(text):
    lines = physical_lines(text)
    quick, careful = rows_of(lines, ";"), careful_rows(lines, ";")
    assert (quick.lines, quick.cells, quick.faults) == (careful.lines, careful.cells, careful.faults)
    assert "".join(lines) == text


@PROPERTY
@given(st.lists(st.lists(st.sampled_from(["H1", "52,5", "Total", "a-b", "0"]), min_size=3, max_size=3), max_size=20))
def test_tidy_cells_give_the_same_sheet_whether_known_to_be_tidy_or_not(rows):
    found = rows_of([";".join(row) + "\n" for row in [HEADER, *rows]], ";")
    quick, careful = (sheet_of(Path("a.csv"), "", found, (), clean=clean) for clean in (True, False))
    assert quick.aside == careful.aside and quick.ragged == careful.ragged and quick.header == careful.header
    assert all(np.array_equal(*pair) for pair in zip(quick.columns, careful.columns, strict=True))


@PROPERTY
@given(st.lists(st.lists(st.sampled_from(["H1", "52,5", "mm", "Total", "foot"]), min_size=3, max_size=3), max_size=9))
def test_a_blank_row_at_the_end_changes_nothing_but_itself(rows):
    lines = [";".join(row) + "\n" for row in [HEADER, *rows]]
    alone, ended = (sheet_of(Path("a.csv"), "", rows_of([*lines, *more], ";"), ()) for more in ((), (";;\n",)))
    assert ended.aside == (*alone.aside, Aside(len(lines) + 1, "blank", ""))
    assert np.array_equal(alone.lines, ended.lines) and alone.ragged == ended.ragged and alone.units == ended.units
    assert all(np.array_equal(*pair) for pair in zip(alone.columns, ended.columns, strict=True))


@settings(max_examples=examples(150), deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.sampled_from(WORKBOOKS), st.integers(0, 2**32), st.booleans())
def test_a_damaged_workbook_is_read_or_refused(tmp_path, name, seed, inside):
    content = CASES[name]
    pieces = [b"<c>", b"</row>", b'<row r="1">', b'r="A1"', b"<f>", b"&x;", b"\0", b'hidden="1"', b"-1", b"1e999"]
    if inside:
        with zipfile.ZipFile(CORPUS / name) as archive:
            parts = sorted(part for part in archive.namelist() if part.endswith((".xml", ".rels")))
        part = random.Random(seed).choice(parts)
        content = repacked(content, {part: lambda xml: mutated(seed, xml, pieces)})
    else:
        content = mutated(seed, content, pieces)
    for sheet in read_or_refuse(tmp_path / "a.xlsx", content):
        hold_together(sheet)


@settings(max_examples=examples(40), deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(st.lists(st.sampled_from([None, "H1", 52.5, 7, "Total", True]), max_size=3), max_size=20))
def test_every_row_of_a_workbook_is_found_again(tmp_path, rows):
    (sheet,) = read_or_refuse(tmp_path / "a.xlsx", saved(book_of(HEADER, *rows)))
    hold_together(sheet)
    filled = [line for line, row in enumerate([HEADER, *rows], 1) if any(cell is not None for cell in row)]
    assert sorted(lines_of(sheet)) == list(range(1, filled[-1] + 1))


LARGE = {
    "open quotes": b"horse_id;foot;toe\n" + b'"H1;LF;52\n' * 20_000,
    "nested lines": b"horse_id;foot;toe\n" + b'"a\n' * 60_000,
    "quotes": b'"' * 400_000,
    "blank lines": b"\n" * 400_000,
    "empty cells": (b";" * 900 + b"\n") * 800,
    "one line": "é".encode("cp1252") * 300_000,
    "long cells": b"a" * 200_000 + b"," + b"b" * 200_000,
    "long quoted": b'horse_id,"' + b"b" * 200_000 + b'"\n',
    "many cells": b";" * 20_000_001,
    "many lines": b";\n" * 1_100_000,
}


@pytest.mark.parametrize("content", LARGE.values(), ids=LARGE)
def test_no_content_takes_long(tmp_path, content):
    started = time.process_time()
    read_or_refuse(tmp_path / "a.csv", content)
    assert time.process_time() - started < 8


def test_links_pipes_and_odd_names_are_refused_at_once(tmp_path):
    real = tmp_path / "real.csv"
    real.write_text("horse_id;foot\nH1;LF\n")
    (tmp_path / "link.csv").symlink_to(real)
    os.mkfifo(tmp_path / "pipe.csv")
    (tmp_path / "a\nb.csv").write_text("x")
    (tmp_path / "..\\up.csv").write_text("x")
    for name, said in (
        ("link.csv", "is a link to another file"),
        ("pipe.csv", "is no ordinary file but a pipe or a device"),
        ("a\nb.csv", "its name holds signs"),
        ("..\\up.csv", "its name holds signs"),
        ("none.csv", "there is no such file"),
        (".", "is a folder"),
    ):
        with pytest.raises(UnreadableError, match=said):
            read_sheets(tmp_path / name)
    with pytest.raises(UnreadableError, match="device"):
        read_sheets(Path(os.devnull))


def test_a_file_beyond_the_limit_is_refused(tmp_path):
    path = tmp_path / "a.csv"
    with path.open("wb") as stream:
        stream.truncate(64_000_001)
    with pytest.raises(UnreadableError, match="holds 64000001 bytes, more than the 64000000 allowed"):
        read_sheets(path)

"""Every awkward file of the corpus is understood as a person wrote down that it must be."""

from __future__ import annotations

import json
from dataclasses import asdict
from pathlib import Path

import pytest
from awkward_files import CORPUS, cases

from hoofcohort.sheets import limits
from hoofcohort.sheets.errors import UnreadableError
from hoofcohort.sheets.read import read_sheets

FILES = sorted(path.name.removesuffix(".expected.json") for path in CORPUS.glob("*.expected.json"))


def found(sheet):
    rows = zip(sheet.lines.tolist(), zip(*sheet.columns, strict=True), strict=True)
    return asdict(sheet) | {
        "header": list(sheet.header),
        "rows": [[line, *cells] for line, cells in rows],
        "aside": [[row.line, row.kind] for row in sheet.aside],
        "ragged": [row.line for row in sheet.ragged],
        "unread": [[cell.line, cell.position, cell.kind] for cell in sheet.unread],
        "positions": list(sheet.positions),
        "units": list(sheet.units),
    }


def hold(sheet, expected):
    got = found(sheet)
    silent = {"aside": [], "ragged": [], "unread": [], "units": []} if "rows" in expected else {}
    for key, value in (silent | expected).items():
        if key != "said":
            assert got[key] == value, key
    for sentence in expected.get("said", ()):
        assert any(own.startswith(sentence) for own in sheet.understood), (sentence, sheet.understood)


@pytest.mark.parametrize("name", FILES)
def test_a_file_is_understood_as_written_beside_it(name):
    expected = json.loads((CORPUS / f"{name}.expected.json").read_text("utf-8"))
    path = CORPUS / name
    if "refused" in expected:
        with pytest.raises(UnreadableError) as refused:
            read_sheets(path)
        assert str(refused.value).startswith(str(path))
        assert expected["refused"] in str(refused.value)
        return
    sheets = read_sheets(path)
    wanted = expected.get("sheets", [expected])
    assert len(sheets) == len(wanted)
    for sheet, own in zip(sheets, wanted, strict=True):
        hold(sheet, own)


def test_the_corpus_is_what_its_program_writes():
    made = cases()
    assert sorted(made) == FILES
    for name, (content, expected) in made.items():
        assert json.loads((CORPUS / f"{name}.expected.json").read_text("utf-8")) == expected
        if not name.endswith(("x", "m")):
            assert (CORPUS / name).read_bytes() == content


def test_the_readme_states_the_limits():
    text = " ".join((Path(__file__).parents[2] / "README.md").read_text("utf-8").split())
    stated = (
        f"up to {limits.LARGEST_FILE // 1_000_000} MB, {limits.MOST_ROWS:,} rows, {limits.MOST_COLUMNS:,} columns and "
        f"{limits.LONGEST_CELL:,} characters in a cell"
    )
    assert stated in text

"""The commands ``inbox`` and ``check``, with a reader that stands in for the files' own."""

from __future__ import annotations

import json
import sys
from types import SimpleNamespace

import pytest
from inbox_sheets import FEET, HORSES, sheet_of

from hoofcohort.cli import main
from hoofcohort.errors import InputError

LOST = "what cannot be read"


@pytest.fixture(autouse=True)
def reader(monkeypatch):
    """Files of words parted by blanks, as ``sheet_of`` has them."""

    def read_sheets(path):
        header, *rows = path.read_text().splitlines()
        if header == LOST:
            raise InputError(f"{path}: cannot be read")
        return [sheet_of(header, *rows, file=path.name)]

    monkeypatch.setitem(sys.modules, "hoofcohort.sheets.read", SimpleNamespace(read_sheets=read_sheets))


def put(folder, name, *lines):
    path = folder / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text("\n".join(lines))
    return path


GOOD = "H1 LF 2026-01-01 A gauge 50 45"


@pytest.mark.parametrize(
    ("lines", "status"), [((FEET, GOOD), 0), ((FEET, GOOD, GOOD.replace("50", "fifty")), 1), ((LOST,), 2)]
)
def test_check_says_how_it_went_by_its_status(tmp_path, capsys, lines, status):
    assert main(["check", str(put(tmp_path, "a.csv", *lines))]) == status
    said = capsys.readouterr()
    if status == 1:
        assert "error: a.csv, line 3, column 6 ('toe_angle_deg'): found 'fifty'." in said.out
        assert "a.csv: 2 rows of data, 1 comes back" in said.out
    if status == 2:
        assert said.err == "a.csv: cannot be read\n"


def test_check_refuses_another_table_than_asked(tmp_path, capsys):
    assert main(["check", str(put(tmp_path, "a.csv", FEET, GOOD)), "--table", "horses"]) == 2
    assert "the file holds the table 'feet', asked for was 'horses'" in capsys.readouterr().err


def test_headers_that_leave_a_doubt_are_not_guessed(tmp_path, capsys):
    assert main(["check", str(put(tmp_path, "a.csv", "x y", "1 2"))]) == 2
    assert "the headers leave a doubt (not known for certain: 'x', 'y'" in capsys.readouterr().err


def test_one_bad_file_never_stops_the_rest(tmp_path):
    put(tmp_path, "in/r1/ash/a.csv", LOST)
    put(tmp_path, "in/r1/ash/h.csv", HORSES, "H1 Y1 W1 2010 mare _ _")
    put(tmp_path, "in/r1/elm/a.csv", FEET, GOOD)
    put(tmp_path, "in/r1/elm/b.csv", FEET, GOOD.replace("LF", "RF"))
    put(tmp_path, "in/r1/elm/b.csv.mapping.yaml", "table: nonsense")
    assert main(["inbox", str(tmp_path / "in"), "--out", str(tmp_path / "out")]) == 0
    ledger = json.loads((tmp_path / "out/ledger.json").read_text())
    assert ledger["total"]["accepted"] == 2
    assert [(one["rows_read"], one["rejected"]) for one in ledger["files"] if one["file"] == "b.csv"] == [(1, 1)]
    refused = {one["file"]: one["refused"] for one in ledger["files"] if one["refused"]}
    assert refused["a.csv"] == "cannot be read"
    assert refused["b.csv"].startswith("the coordinator's mapping must be put right first; there is nothing to do for")
    letters = sorted(path.name for path in (tmp_path / "out/letters").iterdir())
    assert letters == ["ash.csv", "ash.html", "elm.csv", "elm.html"]


def test_a_mapping_of_an_earlier_round_still_holds(tmp_path):
    mapping = "table: feet\ncolumns:\n" + "".join(f"  {name}: {{to: {name}}}\n" for name in FEET.split()[1:])
    put(tmp_path, "in/r1/ash/mapping.yaml", mapping + "  nag: {to: horse_id}\n")
    put(tmp_path, "in/r1/ash/h.csv", HORSES, "H1 Y1 W1 2010 mare _ _")
    put(tmp_path, "in/r2/ash/f.csv", FEET.replace("horse_id", "nag"), GOOD)
    assert main(["inbox", str(tmp_path / "in"), "--out", str(tmp_path / "out")]) == 0
    assert json.loads((tmp_path / "out/ledger.json").read_text())["total"]["accepted"] == 2


def test_a_broken_mapping_is_named_as_it_lies_in_the_inbox(tmp_path, monkeypatch):
    put(tmp_path, "in/r1/ash/mapping.yaml", "table: [")
    put(tmp_path, "in/r2/ash/f.csv", FEET, GOOD)
    put(tmp_path, "in/r2/elm/f.csv.mapping.yaml", "table: [")
    put(tmp_path, "in/r2/elm/f.csv", FEET, GOOD)
    monkeypatch.chdir(tmp_path)
    for place, folder in (("a", "in"), ("b", str(tmp_path / "in"))):
        assert main(["inbox", folder, "--out", place]) == 0
    written = {place: sorted(path for path in (tmp_path / place).rglob("*") if path.is_file()) for place in "ab"}
    for one, other in zip(written["a"], written["b"], strict=True):
        assert one.read_bytes() == other.read_bytes()
        assert str(tmp_path) not in one.read_text(encoding="utf-8-sig")
    for member, name in (("ash", "r1/ash/mapping.yaml"), ("elm", "r2/elm/f.csv.mapping.yaml")):
        assert f": {name}" in (tmp_path / "a/letters" / f"{member}.html").read_text()


def test_a_file_that_is_as_bad_as_its_mapping_is_told_of_both(tmp_path):
    put(tmp_path, "in/r1/ash/mapping.yaml", "table: nonsense")
    put(tmp_path, "in/r1/ash/a.csv", LOST)
    assert main(["inbox", str(tmp_path / "in"), "--out", str(tmp_path / "out")]) == 0
    (file,) = json.loads((tmp_path / "out/ledger.json").read_text())["files"]
    assert file["refused"].startswith("cannot be read; the coordinator's mapping must be put right first")
    assert file["rows_read"] == 0


def test_what_is_said_of_each_member_adds_up(tmp_path, capsys):
    put(
        tmp_path, "in/r1/ash/h.csv", HORSES, "H1 Y1 W1 2010 mare _ _", "H1 Y1 W1 2010 mare _ _", "H2 Y1 W1 2010 cow _ _"
    )
    put(tmp_path, "in/r1/ash/f.csv", FEET, GOOD)
    put(tmp_path, "in/r2/ash/f.csv", FEET, GOOD.replace("50", "51"))
    put(tmp_path, "in/r1/elm/h.csv", HORSES, "H9 Y9 W9 2010 mare _ _")
    assert main(["inbox", str(tmp_path / "in"), "--out", str(tmp_path / "out")]) == 0
    said = capsys.readouterr().err
    assert "ash: 5 rows read: 2 accepted, 1 rejected, 1 superseded, 1 duplicate\n" in said
    assert "elm: 1 row read: 1 accepted, 0 rejected\n" in said


def test_the_outputs_cannot_lie_in_the_inbox(tmp_path, capsys):
    put(tmp_path, "in/r1/ash/h.csv", HORSES, "H1 Y1 W1 2010 mare _ _")
    assert main(["inbox", str(tmp_path / "in"), "--out", str(tmp_path / "in/out")]) == 2
    assert "lies in the inbox" in capsys.readouterr().err
    assert not (tmp_path / "in/out").exists()

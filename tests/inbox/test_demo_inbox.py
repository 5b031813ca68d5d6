"""The demo inbox is as its program writes it; every row has a fate, and the intake takes the accepted ones whole."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from hoofcohort.cli import main
from hoofcohort.intake.run import take_in
from hoofcohort.simulate.demo_inbox import inbox_files

DEMO = Path(__file__).parents[2] / "synthetic_data/inbox"
TABLES = ("horses", "management", "feet")


def test_the_committed_files_are_the_programs():
    held = {path.relative_to(DEMO).as_posix(): path.read_bytes() for path in DEMO.rglob("*") if path.is_file()}
    assert held == inbox_files()


@pytest.fixture(scope="module")
def out(tmp_path_factory):
    folder = tmp_path_factory.mktemp("inbox")
    for name in ("one", "two"):
        assert main(["inbox", str(DEMO), "--out", str(folder / name)]) == 0
    return folder


def test_the_ledger_adds_up_and_every_kind_of_fate_occurs(out):
    ledger = json.loads((out / "one/ledger.json").read_text(encoding="utf-8"))
    total = ledger["total"]
    assert len(ledger["members"]) >= 12
    assert total["rows_read"] == sum(count for fate, count in total.items() if fate != "rows_read")
    assert [total["superseded"], total["withdrawn"], total["rejected"]] == [2, 10, 22]
    assert [one["file"] for one in ledger["files"] if one["refused"]] == ["photo of the yard.csv"]


def test_the_intake_takes_what_was_accepted_whole(out):
    intake = take_in({table: out / f"one/{table}.csv" for table in TABLES})
    ledger = json.loads((out / "one/ledger.json").read_text(encoding="utf-8"))
    assert intake.rejects == []
    # ivy's flat sheet also gives one horse and two stretches that are no rows of their own
    assert sum(map(len, intake.frames.values())) == ledger["total"]["accepted"] + 3


def test_the_same_inbox_gives_the_same_bytes(out):
    one, two = (
        {path.relative_to(out / name): path.read_bytes() for path in (out / name).rglob("*") if path.is_file()}
        for name in ("one", "two")
    )
    assert one == two


def test_a_withdrawn_horse_is_named_nowhere(out):
    texts = {path.name: path.read_bytes() for path in (out / "one").rglob("*") if path.is_file()}
    assert [name for name, text in texts.items() if b"PIN-2" in text or b"W-PIN2" in text] == []
    assert b"PIN-1" in texts["feet.csv"]

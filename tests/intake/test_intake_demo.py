"""On the demo's files every planted mistake is found for the right reason, and no good row is rejected."""

from __future__ import annotations

import datetime as dt
import json
from pathlib import Path

import pytest

from hoofcohort.intake.run import take_in

DEMO = Path(__file__).parents[2] / "synthetic_data"
FILES = {name: DEMO / f"{name}.csv" for name in ("horses", "management", "feet")}
REASON_OF = {
    "text in a number cell": "not_a_number",
    "unknown word": "unknown_word",
    "unknown foot code": "unknown_word",
    "decimal comma": "decimal_comma",
    "typed in inches": "wrong_unit",
    "typed in cm": "wrong_unit",
    "negative length": "impossible_value",
    "horse not registered": "horse_not_registered",
    "impossible date": "impossible_date",
    "day and month exchanged": "day_month_exchanged",
    "date in the future": "future_date",
    "visit before birth year": "before_birth",
    "toe and heel angle exchanged": "cells_exchanged",
    "duplicate reading": "duplicate_row",
    "horse listed twice": "duplicate_row",
    "overlapping management interval": "overlap",
    "interval ends before it starts": "ends_before_start",
}


@pytest.fixture(scope="module")
def truth():
    return json.loads((DEMO / "truth.json").read_text())


@pytest.fixture(scope="module")
def intake(truth):
    return take_in(FILES, dt.date.fromisoformat(truth["as_of"]))


def test_every_planted_mistake_is_rejected_for_its_reason_and_nothing_else_is(intake, truth):
    planted = [mistake for mistake in truth["mistakes"] if mistake["expected"] == "rejected"]
    expected = {(m["file"], m["line"], m["column"], m["value"], REASON_OF[m["kind"]]) for m in planted}
    fallen = [(c["file"], c["line"]) for mistake in planted for c in mistake.get("consequences", [])]
    found = {reject[:5] for reject in intake.rejects}
    assert {mistake["kind"] for mistake in planted} == set(REASON_OF)
    assert expected <= found
    assert {place[:2] + place[4:] for place in found - expected} == {(*place, "horse_rejected") for place in fallen}
    assert len(intake.rejects) == len(planted) + len(fallen)


def test_remedies_name_what_was_meant(intake, truth):
    remedies = {reject[:3]: reject[5] for reject in intake.rejects}
    meant = {"unknown foot code": "'LF'", "day and month exchanged": "2026-08-22", "negative length": "write 42"}
    seen = [mistake for mistake in truth["mistakes"] if mistake["kind"] in meant]
    assert {mistake["kind"] for mistake in seen} == set(meant)
    for mistake in seen:
        assert meant[mistake["kind"]] in remedies[mistake["file"], mistake["line"], mistake["column"]]


def test_planted_implausible_values_are_the_flags(intake, truth):
    planted = {(m["file"], m["line"], m["column"], m["value"]) for m in truth["mistakes"] if m["expected"] == "flagged"}
    assert planted
    assert {flag[:4] for flag in intake.flags} == planted


def test_the_ledger_agrees_with_the_truth(intake, truth):
    account = {entry["file"]: entry for entry in intake.ledger["files"].values()}
    assert set(truth["rows"]) == set(account) == {path.name for path in FILES.values()}
    for file, rows in truth["rows"].items():
        assert (account[file]["rows_read"], account[file]["rejected"]) == (rows["written"], rows["rejected"])


def test_clean_files_pass_whole(tmp_path):
    from hoofcohort.simulate import simulate_cohort
    from hoofcohort.simulate.cohort import FILES as NAMES

    cohort = simulate_cohort(64, seed=7, mistakes=False)
    for name in NAMES:
        (tmp_path / name).write_text(cohort.csv_text(name), encoding="utf-8", newline="")
    intake = take_in({name: tmp_path / f"{name}.csv" for name in FILES})
    assert intake.rejects == []

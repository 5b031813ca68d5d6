"""Every planted mistake is where the truth file says, and nothing else differs from the clean files."""

from __future__ import annotations

import csv
import datetime as dt
import io
from collections import Counter

import pytest

from hoofcohort.simulate import simulate_cohort
from hoofcohort.simulate.cohort import FILES

PARSED: dict[tuple[int, str], list[list[str]]] = {}


def rows_of(cohort, file):
    key = (id(cohort), file)
    if key not in PARSED:
        PARSED[key] = list(csv.reader(io.StringIO(cohort.csv_text(file))))
    return PARSED[key]


@pytest.fixture(scope="module", params=[(64, 20260301), (64, 5), (640, 1)])
def pair(request):
    horses, seed = request.param
    PARSED.clear()
    return simulate_cohort(horses, seed=seed), simulate_cohort(horses, seed=seed, mistakes=False)


def test_planted_cells_are_where_the_truth_says(pair):
    dirty, clean = pair
    for mistake in dirty.truth["mistakes"]:
        rows, before = rows_of(dirty, mistake["file"]), rows_of(clean, mistake["file"])
        column = rows[0].index(mistake["column"])
        assert rows[mistake["line"] - 1][column] == mistake["value"]
        assert mistake["added_row"] == (mistake["line"] > len(before))
        if mistake["added_row"]:
            assert len(rows[mistake["line"] - 1]) == len(rows[0])
        elif mistake["kind"] != "toe and heel angle exchanged":
            assert before[mistake["line"] - 1][column] == mistake["intended"]


def test_nothing_else_differs_from_the_clean_files(pair):
    dirty, clean = pair
    for file in FILES:
        planted = {mistake["line"] for mistake in dirty.truth["mistakes"] if mistake["file"] == file}
        rows, before = rows_of(dirty, file), rows_of(clean, file)
        different = {line for line, (row, old) in enumerate(zip(rows, before, strict=False), start=1) if row != old}
        assert different | set(range(len(before) + 1, len(rows) + 1)) == planted
        assert dirty.truth["rows"][file]["written"] == len(rows) - 1
        assert clean.truth["rows"][file] == {"written": len(before) - 1, "rejected": 0}


def test_every_mistake_has_a_horse_of_its_own(pair):
    dirty, clean = pair
    horses = []
    for mistake in dirty.truth["mistakes"]:
        table = rows_of(dirty if mistake["added_row"] else clean, mistake["file"])
        horses.append(table[mistake["line"] - 1][0])
    assert len(set(horses)) == len(horses)


def test_kinds_and_their_number(pair):
    dirty, clean = pair
    sets = len(clean.horses) // 64
    kinds = Counter(mistake["kind"] for mistake in dirty.truth["mistakes"])
    assert clean.truth["mistakes"] == []
    assert kinds["typed in cm"] == 2 * sets
    assert kinds["implausible but possible"] == 4 * sets
    for kind in (
        "typed in inches",
        "toe and heel angle exchanged",
        "unknown foot code",
        "duplicate reading",
        "impossible date",
        "day and month exchanged",
        "date in the future",
        "visit before birth year",
        "decimal comma",
        "text in a number cell",
        "negative length",
        "overlapping management interval",
        "interval ends before it starts",
        "horse listed twice",
    ):
        assert kinds[kind] == sets, kind
    assert kinds["horse not registered"] == 2 * sets
    assert kinds["unknown word"] == 2 * sets + 1


def one(pair, kind):
    dirty = pair[0]
    mistake = next(mistake for mistake in dirty.truth["mistakes"] if mistake["kind"] == kind)
    rows = rows_of(dirty, mistake["file"])
    return mistake, dict(zip(rows[0], rows[mistake["line"] - 1], strict=True)), rows


def test_dates_are_wrong_in_the_way_the_kind_says(pair):
    for kind in ("impossible date", "day and month exchanged"):
        with pytest.raises(ValueError):
            dt.date.fromisoformat(one(pair, kind)[0]["value"])
    early, row, _ = one(pair, "visit before birth year")
    born = pair[1].horses.set_index("horse_id").at[row["horse_id"], "birth_year"]
    assert int(early["value"][:4]) < born
    assert one(pair, "date in the future")[0]["value"] > pair[0].truth["as_of"]


def test_lengths_are_off_by_the_unit(pair):
    for kind, factor, tolerance in (("typed in cm", 10, 0.5), ("typed in inches", 25.4, 1.3)):
        mistake = one(pair, kind)[0]
        assert float(mistake["value"]) * factor == pytest.approx(float(mistake["intended"]), abs=tolerance)
    assert float(one(pair, "negative length")[0]["value"]) < 0


def test_exchanged_angles_are_beyond_the_limit_that_a_check_can_use(pair):
    _, row, _ = one(pair, "toe and heel angle exchanged")
    difference = float(row["toe_angle_deg"]) - float(row["heel_angle_deg"])
    assert difference == -28
    feet = pair[1].feet
    assert (feet["toe_angle_deg"] - feet["heel_angle_deg"]).dropna().between(-25, 40).all()


def test_upright_foot_keeps_its_underrun(pair):
    mistake = next(mistake for mistake in pair[0].truth["mistakes"] if mistake["value"] == "77.5")
    clean = pair[1].feet.iloc[mistake["line"] - 2]
    before = clean["toe_angle_deg"] - clean["heel_angle_deg"]
    assert 77.5 - float(mistake["cells"]["heel_angle_deg"]) == pytest.approx(before, abs=1e-9)
    assert mistake["expected"] == "flagged"


def test_duplicate_repeats_its_original(pair):
    for kind in ("duplicate reading", "horse listed twice"):
        mistake, _, rows = one(pair, kind)
        original = int(mistake["note"].rsplit(" ", 1)[1])
        assert original < mistake["line"]
        assert rows[original - 1] == rows[mistake["line"] - 1]


def test_overlap_lies_inside_an_open_interval_of_the_same_horse(pair):
    mistake, row, rows = one(pair, "overlapping management interval")
    original = dict(zip(rows[0], rows[int(mistake["note"].rsplit(" ", 1)[1]) - 1], strict=True))
    assert original["horse_id"] == row["horse_id"]
    assert original["to_date"] == ""
    assert original["from_date"] < row["from_date"] < row["to_date"]


def test_strangers_are_not_among_the_horses(pair):
    known = set(pair[1].horses["horse_id"])
    for mistake in pair[0].truth["mistakes"]:
        assert (mistake["kind"] == "horse not registered") == (
            mistake["column"] == "horse_id" and mistake["value"] not in known
        )


def test_consequences_list_every_row_of_the_horse_that_falls(pair):
    dirty, clean = pair
    mistake = next(mistake for mistake in dirty.truth["mistakes"] if mistake["value"] == "filly")
    horse = clean.horses["horse_id"].iloc[mistake["line"] - 2]
    expected = {
        (file, line)
        for file in ("management.csv", "feet.csv")
        for line, row in enumerate(rows_of(dirty, file), start=1)
        if row[0] == horse
    }
    assert {(row["file"], row["line"]) for row in mistake["consequences"]} == expected
    assert {file for file, _ in expected} == {"management.csv", "feet.csv"}
    for file in FILES:
        direct = sum(m["file"] == file and m["expected"] == "rejected" for m in dirty.truth["mistakes"])
        fallen = sum(name == file for name, _ in expected)
        assert dirty.truth["rows"][file]["rejected"] == direct + fallen


def test_a_single_horse_gets_a_single_mistake_at_most():
    assert len(simulate_cohort(1, seed=2).truth["mistakes"]) <= 1

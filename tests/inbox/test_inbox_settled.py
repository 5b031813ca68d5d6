"""Between files, members and rounds: identity, corrections, repeats, moves and withdrawals; every row keeps a fate."""

from __future__ import annotations

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from inbox_sheets import FEET, HORSES, STRETCHES, part

from examples import examples
from hoofcohort.inbox.consent import Withdrawal
from hoofcohort.inbox.ledger import FATES, account
from hoofcohort.inbox.run import settle

NOBODY = ()
MARE = "H1 Y1 W1 2010 mare _ _"


def counted(inbox, key="total"):
    held = inbox.ledger[key]
    return {fate: held[fate] for fate in FATES if held[fate]}


def told(inbox, number):
    return [(one.line, one.severity, one.reason, one.remedy) for one in inbox.pool.parts[number].findings]


def test_good_rows_are_accepted_and_a_bad_one_comes_back():
    parts = [
        part("r1", "ash", HORSES, MARE, file="horses.csv"),
        part("r1", "ash", FEET, "H1 LF 2026-01-01 A gauge 50 45", "H1 RF 2026-01-01 A gauge fifty 45", aside=2),
    ]
    inbox = settle(parts, NOBODY)
    assert counted(inbox) == {"accepted": 2, "rejected": 1, "aside": 2}
    assert [(line, reason) for line, _, reason, _ in told(inbox, 1)] == [(3, "not_a_number")]
    assert inbox.accepted("feet")["foot"].tolist() == ["LF"]


def test_a_file_of_the_same_name_in_a_later_round_replaces_the_earlier():
    parts = [
        part("r1", "ash", HORSES, "H1 Y1 W1 1066 mare _ _", "H2 Y1 W1 2012 mare _ _"),
        part("r2", "ash", HORSES, "H1 Y1 W1 2006 mare _ _", ragged=("H2 Y1",)),
    ]
    inbox = settle(parts, NOBODY)
    assert counted(inbox) == {"accepted": 2, "rejected": 1, "superseded": 1}
    assert told(inbox, 0) == []
    assert inbox.accepted("horses")["birth_year"].tolist() == ["2012", "2006"]


def test_a_file_that_cannot_be_used_replaces_nothing():
    parts = [part("r1", "ash", HORSES, MARE), part("r2", "ash", "x y", "1 2")]
    inbox = settle(parts, NOBODY)
    assert counted(inbox) == {"accepted": 1, "rejected": 1}


def test_same_keys_in_a_later_round_replace_the_row_alone():
    parts = [
        part("r1", "ash", HORSES, MARE, file="h.csv"),
        part("r1", "ash", FEET, "H1 LF 2026-01-01 A gauge 50 45", "H1 RF 2026-01-01 A gauge x 45", file="a.csv"),
        part("r2", "ash", FEET, "H1 LF 2026-01-01 A gauge 51 45", "H1 RF 2026-01-01 A gauge 52 45", file="b.csv"),
    ]
    inbox = settle(parts, NOBODY)
    assert counted(inbox) == {"accepted": 3, "superseded": 2}
    assert inbox.accepted("feet")["toe_angle_deg"].tolist() == ["51", "52"]


def test_readings_that_disagree_both_come_back_and_equal_ones_count_once():
    row = "H1 LF 2026-01-01 A gauge 50 45"
    parts = [
        part("r1", "ash", HORSES, MARE, file="h.csv"),
        part("r1", "ash", FEET, row, row, "H1 RF 2026-01-01 A gauge 50 45", "H1 RF 2026-01-01 A gauge 60 45"),
    ]
    inbox = settle(parts, NOBODY)
    assert counted(inbox) == {"accepted": 2, "duplicate": 1, "rejected": 2}
    remedy = "line {} is about the same thing but differs in toe_angle_deg; write the right values, or number a "
    assert told(inbox, 1) == [
        (3, "note", "said_twice", "the same as line 2; nothing to do"),
        (4, "error", "contradiction", remedy.format(5) + "repeated reading in replicate"),
        (5, "error", "contradiction", remedy.format(4) + "repeated reading in replicate"),
    ]


def test_a_microchip_makes_two_codes_one_horse():
    chip = "999000000000001"
    parts = [
        part("r1", "ash", HORSES, f"H1 Y1 W1 2010 mare _ {chip}", file="h.csv"),
        part("r2", "elm", HORSES, f"Bella Y2 W2 2010 mare _ {chip}", file="h.csv"),
        part("r2", "elm", FEET, "Bella LF 2026-01-01 A gauge 50 45"),
    ]
    inbox = settle(parts, NOBODY)
    assert inbox.accepted("feet")["horse_id"].tolist() == ["H1"]
    assert inbox.accepted("horses")[["horse_id", "yard_id", "owner_id"]].to_numpy().tolist() == [["H1", "Y2", "W2"]]
    assert counted(inbox) == {"accepted": 2, "superseded": 1}
    assert [reason for _, _, reason, _ in told(inbox, 1)] == ["moved", "same_horse"]


def test_two_birth_years_are_faults_on_both_and_tell_nothing_of_the_other_member():
    parts = [part("r1", "ash", HORSES, MARE), part("r2", "elm", HORSES, "H1 Y9 W9 2011 mare _ _")]
    inbox = settle(parts, NOBODY)
    assert counted(inbox) == {"rejected": 2}
    for number in (0, 1):
        ((_, severity, reason, remedy),) = told(inbox, number)
        assert (severity, reason) == ("error", "contradiction")
        assert remedy.startswith("a row of another member is about the same horse but differs in birth_year")


def test_empty_cells_are_filled_from_the_earlier_registration():
    parts = [part("r1", "ash", HORSES, MARE), part("r2", "ash", HORSES, "H1 Y2 W1 _ mare _ _", file="b.csv")]
    inbox = settle(parts, NOBODY)
    assert inbox.accepted("horses")[["yard_id", "birth_year"]].to_numpy().tolist() == [["Y2", "2010"]]
    assert told(inbox, 1) == [
        (2, "warning", "moved", "yard_id differs from an earlier registration; the latest is taken")
    ]


def test_codes_that_look_alike_are_only_suggested():
    parts = [part("r1", "ash", HORSES, "HO1 Y1 W1 2010 mare _ _"), part("r1", "elm", HORSES, "h01 Y1 W1 2010 mare _ _")]
    inbox = settle(parts, NOBODY)
    assert counted(inbox) == {"accepted": 2}
    assert inbox.suggestions == [
        ("the codes look alike", "HO1", "ash", "a.csv", "2", "h01", "elm", "a.csv", "2"),
    ]


@pytest.mark.parametrize("by", [("owner_id", "W1"), ("horse_id", "H1")])
def test_a_withdrawn_horse_is_in_no_output(by):
    withdrawn = [Withdrawal(2, "2026-06-30", (by,))]
    parts = [
        part("r1", "ash", HORSES, MARE, "H2 Y1 W2 2010 mare _ _", ragged=("H1 Y1",), file="h.csv"),
        part("r1", "ash", FEET, "H1 LF 2026-01-01 A gauge x 45", "H2 LF 2026-01-01 A gauge 50 45"),
        part("r1", "ash", STRETCHES, "H1 2025-01-01 _ hay soft", file="m.csv"),
    ]
    inbox = settle(parts, withdrawn)
    assert counted(inbox) == {"accepted": 2, "withdrawn": 4}
    assert all(not part.findings for part in inbox.pool.parts)
    assert all("H1" not in set(inbox.accepted(table)["horse_id"]) for table in ("horses", "management", "feet"))


def test_a_horse_that_came_back_takes_its_readings_with_it():
    parts = [
        part("r1", "ash", HORSES, "H1 Y1 W1 1066 mare _ _", file="h.csv"),
        part("r1", "ash", FEET, "H1 LF 2026-01-01 A gauge 50 45", "H7 LF 2026-01-01 A gauge 50 45"),
    ]
    inbox = settle(parts, NOBODY)
    first = "put the horse's own row right first: line 2 of h.csv (r1)"
    assert told(inbox, 1) == [
        (2, "error", "horse_rejected", f"{first}; nothing is known to be wrong with this row"),
        (3, "error", "horse_not_registered", "send the horse's row for the table of horses, or correct the code"),
    ]


def test_overlapping_stretches_are_told_with_the_members_own_lines():
    parts = [
        part("r1", "ash", HORSES, MARE, file="h.csv"),
        part("r1", "ash", STRETCHES, "H1 2025-01-01 2025-06-30 hay soft", file="m.csv"),
        part("r1", "ash", STRETCHES, "H1 2025-06-01 2025-12-31 hay hard", file="n.csv"),
    ]
    inbox = settle(parts, NOBODY)
    assert told(inbox, 2) == [
        (2, "error", "overlap", "correct the dates: line 2 of m.csv (r1) covers 2025-01-01 to 2025-06-30")
    ]


def test_a_broken_ledger_is_a_bug():
    with pytest.raises(RuntimeError, match="1 rows were read"):
        account([part("r1", "ash", HORSES, MARE)], [{"accepted": 2}])


CELL = st.sampled_from(["H1", "H2", "2010", "2011", "mare", "LF", "2026-01-01", "hay", "soft", "gauge", "50", "x", "_"])


@st.composite
def parts_of_anything(draw):
    made = []
    for round_name in ("r1", "r2"):
        for member in ("ash", "elm"):
            header = draw(st.sampled_from([HORSES, FEET, STRETCHES]))
            width = len(header.split())
            rows = draw(st.lists(st.lists(CELL, min_size=width, max_size=width).map(" ".join), max_size=5))
            file = draw(st.sampled_from(["a.csv", "b.csv"]))
            made.append(part(round_name, member, header, *rows, file=file, aside=draw(st.integers(0, 2))))
    return made


@settings(max_examples=examples(40), deadline=None)
@given(parts_of_anything())
def test_nothing_is_lost(parts):
    read = sum(one.rows_read for one in parts)
    inbox = settle(parts, NOBODY)
    assert inbox.ledger["total"]["rows_read"] == read == sum(inbox.ledger["total"][fate] for fate in FATES)
    frames = [frame[~frame["derived"] & (frame["status"] == "rejected")] for frame in inbox.pool.frames.values()]
    back = pd.concat(frames)
    for number, one in enumerate(inbox.pool.parts):
        explained = {finding.line for finding in one.findings if finding.severity == "error"}
        assert set(back.loc[back["part"] == number, "line"]) == explained

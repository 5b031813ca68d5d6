"""What only the other members' rows make doubtful is told, to the member and to the coordinator; nothing is removed."""

from __future__ import annotations

import datetime as dt

import pytest
from inbox_sheets import FEET, HORSES, STRETCHES, part

from hoofcohort.inbox.coordinator_items import items
from hoofcohort.inbox.letters import html_letter
from hoofcohort.inbox.part import Finding
from hoofcohort.inbox.run import settle

CHIP = "999000000000001"


def reading(code="H1", day="2026-01-01", toe=50):
    return f"{code} LF {day} A gauge {toe} 45"


def found(inbox, number, reason):
    return [one.remedy for one in inbox.pool.parts[number].findings if one.reason == reason]


def told(inbox, kind):
    return [one[1:] for one in items(inbox.pool, inbox.ledger) if one[0] == kind]


def test_readings_of_a_horse_that_only_another_member_registered():
    parts = [
        part("r1", "rose", HORSES, "Rex Y1 W1 2010 mare _ _", file="h.csv"),
        part("r1", "rose", FEET, reading("Rex")),
        part("r1", "tim", FEET, reading("Rex", "2026-02-01"), reading("Rex", "2026-03-01"), file="t.csv"),
    ]
    inbox = settle(parts)
    assert inbox.ledger["total"]["accepted"] == 4
    assert found(inbox, 1, "others_horse") == []
    assert found(inbox, 2, "others_horse") == [
        "2 rows of this file went to it; if yours is another horse, give it another code in all your files"
    ]
    assert told(inbox, "others") == [("Rex: 2 rows of feet", "r1", "tim", "t.csv", "2", "r1", "rose", "h.csv", "2")]
    assert "rose" not in html_letter(inbox.pool, inbox.ledger, "tim")
    later = part("r2", "rose", HORSES, "Rex Y2 W1 2010 mare _ _", file="h.csv")
    assert [one[5:7] for one in told(settle([*parts, later]), "others")] == [("r2", "rose")]
    own = part("r1", "tim", HORSES, "Rex Y1 W1 2010 mare _ _", file="h.csv")
    assert told(settle([*parts, own]), "others") == []


def test_a_correction_in_a_file_of_another_name_is_told_with_both_values():
    parts = [
        part("r1", "ash", HORSES, "H1 Y1 W1 2010 mare _ _", file="h.csv"),
        part("r1", "ash", FEET, reading(), "H1 RF 2026-01-01 A gauge fifty 45"),
        part("r2", "ash", FEET, reading(toe=52), "H1 RF 2026-01-01 A gauge 51 45", file="b.csv"),
    ]
    inbox = settle(parts)
    assert found(inbox, 2, "replaces_row") == [
        "line 2 of a.csv (r1): toe_angle_deg 50, now 52; nothing to do if that was meant",
        "line 3 of a.csv (r1), which had come back; nothing to do",
    ]
    what = "feet, H1 LF 2026-01-01 A gauge: toe_angle_deg 50, now 52"
    assert told(inbox, "corrected")[0] == (what, "r1", "ash", "a.csv", "2", "r2", "ash", "b.csv", "2")


def test_two_horses_of_one_name_each_point_to_the_members_own_row_and_to_another_code():
    parts = [
        part("r1", "rose", HORSES, "Rex Y1 W1 2005 mare _ _"),
        part("r1", "sven", HORSES, "Rex Y2 W2 2015 gelding _ _", file="h.csv"),
        part("r1", "sven", FEET, reading("Rex")),
    ]
    inbox = settle(parts)
    for number in (0, 1):
        (remedy,) = found(inbox, number, "contradiction")
        assert remedy.endswith("if it is another horse, give it another code in all your files")
    (remedy,) = found(inbox, 2, "horse_rejected")
    assert "line 2 of h.csv" in remedy and "another member" not in remedy


@pytest.mark.parametrize(("days", "yard"), [(("2026-01-01", "2026-03-01"), "Y2"), (("2026-03-01", "2026-01-01"), "Y1")])
def test_a_horse_that_moved_within_a_round_is_kept_with_whom_it_was_seen_last(days, yard):
    parts = [
        part("r1", "ash", HORSES, f"H1 Y1 W1 2010 mare _ {CHIP}", file="h.csv"),
        part("r1", "ash", FEET, reading(day=days[0])),
        part("r1", "elm", HORSES, f"Bella Y2 W2 2010 mare _ {CHIP}", file="h.csv"),
        part("r1", "elm", FEET, reading("Bella", days[1])),
    ]
    inbox = settle(parts)
    assert inbox.accepted("horses")[["horse_id", "yard_id"]].to_numpy().tolist() == [["H1", yard]]
    assert sorted(inbox.accepted("feet")["visit_date"]) == ["2026-01-01", "2026-03-01"]
    assert inbox.ledger["total"]["rejected"] == 0
    taken = [found(inbox, number, "registered_twice")[0] for number in (0, 2)]
    assert ["yours is taken" in remedy for remedy in taken] == [yard == "Y1", yard == "Y2"]
    assert len(told(inbox, "moved")) == 1
    without = [part("r1", name, HORSES, f"H1 {name} W1 2010 mare _ _") for name in ("ash", "elm")]
    assert settle(without).ledger["total"]["rejected"] == 2


@pytest.mark.parametrize(("code", "near"), [("fl1", "FL1"), ("Fl2", "Fl 2"), ("7", "007"), ("O9", "09"), ("Zed", "")])
def test_a_code_that_is_written_otherwise_is_offered_among_any_number(code, near):
    parts = [
        part("r1", "ash", HORSES, *(f"N-{number} Y1 W1 2010 mare _ _" for number in range(1000, 1200)), file="n.csv"),
        part("r1", "ash", HORSES, *(f"{own} Y1 W1 2010 mare _ _" for own in ("FL1", "Fl-2", "007", "09"))),
        part("r1", "ash", FEET, reading(code), file="f.csv"),
    ]
    (remedy,) = found(settle(parts), 2, "horse_not_registered")
    assert remedy.endswith(f"did you mean '{near.replace(' ', '-')}'?" if near else "correct the code")


def members(*newest, **other):
    parts = []
    for place, days in enumerate(newest):
        code = f"H{place}"
        parts.append(part("r1", f"m{place}", HORSES, f"{code} Y1 W1 2010 mare _ _", file="h.csv"))
        parts.append(part("r1", f"m{place}", FEET, *(reading(code, day) for day in days)))
    return settle(parts, (), **other)


def test_dates_far_after_everybody_elses_are_told_without_a_clock():
    newest = [("2026-01-01",), ("2026-03-01", "2031-03-01"), ("2026-02-01", "2099-01-01"), ("2026-01-02",)]
    inbox = members(*newest)
    assert [found(inbox, number, "far_ahead") for number in (1, 3, 5)] == [
        [],
        ["look at the year"],
        ["look at the year"],
    ]
    assert [one[0] for one in told(inbox, "ahead")] == ["H1: 2031-03-01", "H2: 2099-01-01"]
    assert inbox.ledger["total"]["rejected"] == 0
    assert told(members(*newest, as_of=dt.date(2026, 11, 25)), "ahead") == []
    assert told(members(("2024-01-01",), ("2026-01-01",), ("2026-03-01",)), "ahead") == []
    assert told(members(("2031-01-01",)), "ahead") == []


def test_a_file_named_like_another_members_row_is_still_the_members_own():
    name = "a row of another member.csv"
    rows = ("H1 2026-01-01 2026-03-01 hay paddock", "H1 2026-02-01 2026-04-01 hay paddock")
    inbox = settle(
        [
            part("r1", "ash", HORSES, "H1 Y1 W1 2010 mare _ _", file="h.csv"),
            part("r1", "ash", FEET, "H1 LF 2026-01-01 A gauge 50 45", file=name),
            part("r1", "ash", FEET, "H1 LF 2026-01-01 A gauge 52 45"),
            part("r1", "ash", STRETCHES, rows[0], file=name),
            part("r1", "ash", STRETCHES, rows[1], file="m.csv"),
        ]
    )
    contradiction = inbox.pool.parts[2].findings[0].remedy
    assert f"line 2 of {name}" in contradiction
    assert "write the right values" in contradiction and "the coordinator asks" not in contradiction
    overlap = [one.remedy for number in (3, 4) for one in inbox.pool.parts[number].findings]
    assert overlap and not any("ask the coordinator" in remedy for remedy in overlap)


def test_a_finding_is_not_compared_with_all_others_of_its_file(monkeypatch):
    compared, equal = [], Finding.__eq__
    monkeypatch.setattr(Finding, "__eq__", lambda one, other: compared.append(one) or equal(one, other))
    days = [str(dt.date(2031, 1, 1) + dt.timedelta(days=day)) for day in range(300)]
    assert len(told(members(days, ("2026-01-01",), ("2026-01-02",)), "ahead")) == 300
    assert len(compared) < 3 * 300

"""A horse whose row may stand in a file of the same member that could not be used."""

from __future__ import annotations

from inbox_sheets import FEET, HORSES, part

from hoofcohort.inbox.run import settle

READING = "H1 LF 2026-01-01 A gauge 50 45"
PLAIN = "send the horse's row for the table of horses, or correct the code"
FIRST = "could not be used: put that right first when the horse's row is in it; else"


def unusable(round_name, member, file="horses.csv"):
    return part(round_name, member, "Pferd Stall", "H1 Y1", file=file)


def asked(*parts):
    held = settle(list(parts), {}).pool.parts
    return [
        one.remedy
        for own in held
        if own.member == "ash"
        for one in own.findings
        if one.reason == "horse_not_registered"
    ]


def test_the_unusable_file_of_the_same_or_an_earlier_round_is_named():
    feet = part("1", "ash", FEET, READING, file="feet.csv")
    assert asked(feet, unusable("1", "ash")) == [f"'horses.csv' {FIRST} {PLAIN}"]
    later = part("2", "ash", FEET, READING, file="feet.csv")
    assert asked(unusable("1", "ash"), later) == [f"'horses.csv (1)' {FIRST} {PLAIN}"]


def test_no_file_of_another_member_or_a_later_round_is_named():
    feet = part("1", "ash", FEET, READING, file="feet.csv")
    assert asked(feet, unusable("1", "elm")) == [PLAIN]
    assert asked(feet, unusable("2", "ash")) == [PLAIN]


def test_a_file_whose_place_another_has_taken_is_not_named():
    feet = part("2", "ash", FEET, READING, file="feet.csv")
    again = part("2", "ash", HORSES, "H2 Y1 W1 2010 mare _ _", file="horses.csv")
    (said,) = asked(unusable("1", "ash"), feet, again)
    assert said.startswith(PLAIN)

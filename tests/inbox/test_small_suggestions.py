"""Suggestions for a short year of birth, degrees with minutes and a code that a program made a number."""

from __future__ import annotations

import pytest
from inbox_sheets import FEET, HORSES, part

from hoofcohort.inbox.run import settle


def remedies(*parts):
    return {one.column: one.remedy for own in settle(list(parts), {}).pool.parts for one in own.findings}


def of_angle(text):
    (one,) = part("1", "ash", FEET, f"H1 LF 2026-01-01 A gauge {text} 45").findings
    return one.remedy


@pytest.mark.parametrize(("text", "degrees"), [("50°30'", "50.5"), ("50°15′", "50.25"), ("50°20'", "50.33")])
def test_degrees_and_minutes_are_suggested_as_degrees(text, degrees):
    assert of_angle(text).startswith(f"if it is degrees and minutes, write {degrees};")
    assert part("1", "ash", FEET, f"H1 LF 2026-01-01 A gauge {degrees} 45").findings == []


@pytest.mark.parametrize("text", ["50°61'", "150°30'"])
def test_no_impossible_angle_is_suggested(text):
    assert "minutes" not in of_angle(text)


@pytest.mark.parametrize(("written", "years"), [("10", "2010"), ("85", "1985"), ("00", "2000")])
def test_a_short_year_of_birth_is_suggested_whole(written, years):
    (one,) = part("1", "ash", HORSES, f"H1 Y1 W1 {written} mare _ _").findings
    assert f"if the year is short for {years}, write that" in one.remedy


@pytest.mark.parametrize("written", ["69", "79"])
def test_a_short_year_that_is_not_possible_is_not_suggested(written):
    (one,) = part("1", "ash", HORSES, f"H1 Y1 W1 {written} mare _ _").findings
    assert "short" not in one.remedy


def test_a_code_that_a_program_made_a_number_is_suggested_as_registered():
    horses = part("1", "ash", HORSES, "008 Y1 W1 2010 mare _ _", file="h.csv")
    feet = part("1", "ash", FEET, "8.0 LF 2026-01-01 A gauge 50 45", file="f.csv")
    (one,) = [found for own in settle([horses, feet], {}).pool.parts for found in own.findings]
    assert one.remedy.endswith("; did you mean '008'?")

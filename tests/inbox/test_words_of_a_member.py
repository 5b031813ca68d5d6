"""A file with the study's headers and words of the member's own in every row."""

from __future__ import annotations

import pytest
from inbox_sheets import FEET, part

from hoofcohort.mapping.mapping import Mapping, To


def refused(*feet):
    return part("r1", "ash", FEET, *(f"H1 {foot} 2026-01-01 A gauge 50 45" for foot in feet)).refused


def test_a_file_without_a_mapping_is_not_told_of_one_that_does_not_fit_but_what_to_write():
    assert refused("VL", "VR", "HL", "HR") == (
        "a column holds no word that is known: a.csv, line 2, column 2 ('foot'): none of its words is known: 'HL', "
        "'HR', 'VL', 'VR'; write one of LF, RF, LH, RH in every row (most likely LH for 'HL', RH for 'HR', LF for "
        "'VL', RF for 'VR'), or have each given under 'words' of this column in a mapping"
    )


def test_words_of_which_nothing_is_known_get_no_suggestion():
    assert "write one of LF, RF, LH, RH in every row, or have each given" in refused("Q", "W")


def test_numbers_that_a_statistics_program_wrote_for_words_are_asked_for_as_words():
    told = "; if a statistics program wrote numbers for words, export the words"
    assert refused("1", "2", "3", "4").endswith(f"in a mapping{told}")
    assert told not in refused("1", "Q")
    one = part("r1", "ash", FEET, *(f"H1 {foot} 2026-01-01 A 1 50 45" for foot in ("LF", "RF")))
    assert [found.remedy.endswith(told) for found in one.findings] == [True, True]


@pytest.mark.parametrize("headers", ["horse_id foot", "a b c d e f g h i j k l m n o p"])
def test_why_a_file_is_refused_is_one_line(headers):
    mapping = Mapping(table="feet", columns={"Toe": To(to="toe_length_mm"), "Heel": To(to="heel_angle_deg")})
    text = part("r1", "ash", headers, " ".join("x" for _ in headers.split()), mapping=mapping).refused
    assert text.startswith(
        "the coordinator's mapping does not fit the file; there is nothing to do for the member unless the headers "
        "changed: a.csv, line 1: the mapping's column 'Toe'"
    )
    assert "\n" not in text
    assert text.count("; a.csv") >= 2


def test_one_word_of_ones_own_among_known_ones_is_told_what_to_write_instead():
    feet = ("LF", "Left_front", "LFx", "Q")
    one = part("r1", "ash", FEET, *(f"H1 {foot} 2026-01-01 A gauge 50 45" for foot in feet))
    told = {found.value: found.remedy for found in one.findings if found.reason == "unknown_word"}
    end = "given under 'words' of this column in a mapping"
    assert told == {
        "Left_front": f"write one of LF, RF, LH, RH (most likely LF), or have 'Left_front' {end}",
        "LFx": f"write one of LF, RF, LH, RH, or have 'LFx' {end}; did you mean 'LF'?",
        "Q": f"write one of LF, RF, LH, RH, or have 'Q' {end}",
    }


def test_headers_of_the_study_without_a_mapping_are_not_the_coordinators_fault():
    text = refused("VL", "VR")
    assert "coordinator" not in text

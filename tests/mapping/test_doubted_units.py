from __future__ import annotations

import numpy as np
import pytest
from mapped_sheets import one_column, sheet, told

from hoofcohort.mapping import slips
from hoofcohort.mapping.convert import convert
from hoofcohort.mapping.draft import draft
from hoofcohort.mapping.mapping import Mapping, To
from hoofcohort.mapping.unit_of_column import lone_small
from hoofcohort.tables import TABLES

HORSE = {"horse_id": "H1", "yard_id": "Y", "owner_id": "W"}


def doubted(cells, **to):
    converted = one_column(cells, **to)
    slips.check(converted)
    return [(line, reason) for line, reason, _ in told(converted)], converted


@pytest.mark.parametrize(
    ("to", "cells", "instead"),
    [
        ("medial_heel_height_mm", ["3.3", "2.9", "5.2"], "if it was written in centimetres, write 33"),
        ("heel_setback_mm", ["2.1", "2.9", "3.4", "0"], "if it was written in centimetres, write 21"),
        ("lateral_heel_length_mm", ["5.2", "5.1", "6.4"], "if it was written in centimetres, write 52"),
        ("trim_interval_days", ["7", "8", "10"], "if it was written in weeks, write 49"),
    ],
)
def test_a_column_of_small_numbers_is_doubted_cell_by_cell(to, cells, instead):
    found, converted = doubted(cells, to=to)
    filled = [cell for cell in cells if cell != "0"]
    assert found == [(line, "likely_unit") for line in range(2, 2 + len(filled))]
    assert not converted.faults
    assert instead in told(converted)[0][2]
    assert any("say it in the mapping" in sentence for sentence in converted.understood)


@pytest.mark.parametrize(
    ("to", "cells"),
    [
        ("medial_heel_height_mm", ["33", "29", "52"]),
        ("medial_heel_height_mm", ["3.3", "29", "52"]),
        ("medial_heel_height_mm", ["3.3", "3.9"]),
        ("heel_setback_mm", ["0", "8", "4", "12", "20"]),
        ("trim_interval_days", ["42", "56", "35"]),
        ("body_mass_kg", ["480", "610", "555"]),
    ],
)
def test_usual_columns_are_not_doubted(to, cells):
    assert doubted(cells, to=to)[0] == []


def test_a_mapping_that_says_the_unit_is_believed():
    assert doubted(["3.3", "3.9", "5.2"], to="medial_heel_height_mm", unit="mm")[0] == []


def horses(rows):
    mapping = Mapping(
        table="horses",
        columns={name: To(to=name) for name in ("body_mass_kg", "height_cm")},
        constants=HORSE,
    )
    converted = convert(sheet(["body_mass_kg", "height_cm"], rows), mapping)
    slips.check(converted)
    return [(line, reason) for line, reason, _ in told(converted)], converted


def test_masses_in_pounds_are_seen_beside_the_heights():
    found, converted = horses([["980", "166"], ["1150", "158"], ["1065", "162"]])
    assert found == [(2, "likely_unit"), (3, "likely_unit"), (4, "likely_unit")]
    assert "if it was written in pounds, write 444.5" in told(converted)[0][2]
    assert horses([["520", "160"], ["1150", "158"]])[0] == [(3, "likely_unit")]


def test_heavy_breeds_and_broad_ponies_are_left():
    """Masses and heights of heavy horses and of small broad ponies, invented within what breed societies give."""
    assert horses([["900", "172"], ["980", "175"], ["1050", "180"]])[0] == []
    assert horses([["200", "98"], ["180", "90"], ["240", "106"]])[0] == []


def test_masses_of_a_whole_column_in_pounds_without_heights():
    assert [reason for _, reason in doubted(["980", "1150", "1065"], to="body_mass_kg")[0]] == ["likely_unit"] * 3


def test_a_draft_is_less_sure_of_such_a_column():
    def guess(header, cells):
        rows = [[f"H{number}", cell, height] for number, (cell, height) in enumerate(cells, start=1)]
        return draft(sheet(["Horse", header, "Height (cm)"], rows)).guesses[1]

    pounds = [("980", "166"), ("1150", "158"), ("1065", "162")]
    unsure = guess("Weight", pounds)
    assert (unsure.to.to, unsure.confidence) == ("body_mass_kg", "medium")
    assert "check whether they are pounds" in unsure.why[-1]
    assert guess("Weight (kg)", pounds).confidence == "high"
    assert guess("Weight", [("480", "160"), ("520", "158"), ("560", "166")]).confidence == "high"


HEIGHTS = ["31", "28", "33", "3.1", "36", "30", "25", "29"]
SMALLER = "the column's other numbers are much larger"


def test_a_lone_length_in_centimetres_is_named_with_what_it_would_be():
    assert told(doubted(HEIGHTS, to="medial_heel_height_mm")[1]) == [
        (5, "likely_unit", f"{SMALLER}; if it was written in centimetres, write 31; if it is right, leave it")
    ]
    in_cm = ["3.1", "2.8", "3.3", "0.31", "3.6", "3.0", "2.5", "2.9"]
    assert told(doubted(in_cm, to="medial_heel_height_mm", unit="cm")[1]) == [
        (5, "decimal_slip", f"{SMALLER}; if the decimal point slipped, write 3.1 cm; if it is right, leave it")
    ]


def test_a_lone_length_beyond_what_is_possible_has_that_finding_alone():
    (found,) = told(doubted(["52", "55", "51", "5.2", "58", "53", "54", "56"], to="toe_length_mm")[1])
    assert found[:2] == (5, "wrong_unit")
    assert "if it was written in centimetres, write 52" in found[2]


@pytest.mark.parametrize(
    "cells",
    [
        ["31", "28", "33", "9", "36", "30", "25", "20"],
        [*HEIGHTS[:4], "9", *HEIGHTS[5:]],
        HEIGHTS[:7],
        ["31", "28", "33", "5", "36", "30", "25", "29"],
    ],
    ids=["near the others", "a step towards it", "few numbers", "unlike the others in centimetres too"],
)
def test_small_lengths_that_may_well_be_so_are_left(cells):
    numbers = np.array(cells, dtype=float)
    assert not lone_small(TABLES["feet"].by_name["medial_heel_height_mm"], numbers).any()

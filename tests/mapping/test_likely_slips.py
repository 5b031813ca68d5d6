from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
from mapped_sheets import FEET_CONSTANTS, one_column, sheet, told

from hoofcohort.mapping import slips
from hoofcohort.mapping.convert import convert
from hoofcohort.mapping.mapping import Mapping, To
from hoofcohort.mapping.reasons import SENTENCES, SEVERITY
from hoofcohort.mapping.robust import group_medians

AGAIN = "measure again or correct it, or leave the cell empty"
SLIPPED = "if the decimal point slipped, write "
LOOK = "look again, and leave it as it is if it is right"
VISITS = [f"2026-{month:02d}-20" for month in range(1, 8)]


def feet(rows, header):
    constants = {key: value for key, value in FEET_CONSTANTS.items() if key not in header}
    mapping = Mapping(table="feet", columns={name: To(to=name) for name in header}, constants=constants)
    converted = convert(sheet(header, rows), mapping)
    slips.check(converted)
    return converted


def checked(cells, as_of=None, **to):
    converted = one_column(cells, **to)
    slips.check(converted, as_of)
    return told(converted)


@pytest.mark.parametrize(
    ("to", "cell", "reason", "remedy"),
    [
        ("toe_length_mm", "8.3", "wrong_unit", "possible are 20 to 250 mm; if it was written in centimetres, write 83"),
        ("toe_length_mm", "3.25", "wrong_unit", "possible are 20 to 250 mm; if it was written in inches, write 82.55"),
        ("toe_length_mm", "830", "impossible_value", f"possible are 20 to 250 mm; {AGAIN}; {SLIPPED}83"),
        ("heel_angle_deg", "450", "impossible_value", f"possible are 5 to 110 deg; {AGAIN}; {SLIPPED}45"),
        ("height_cm", "15.2", "wrong_unit", "possible are 40 to 230 cm; if it was written in hands, write 157.5"),
        (
            "height_cm",
            "15.5",
            "wrong_unit",
            "possible are 40 to 230 cm; if it was written in hands with a decimal fraction, write 157.5",
        ),
        ("toe_angle_deg", "6.1", "decimal_slip", "usual are 30 to 75 deg; if the decimal point slipped, write 61"),
        ("heel_setback_mm", "120", "decimal_slip", "usual are 0 to 80 mm; if the decimal point slipped, write 12"),
        ("toe_angle_deg", "80", "implausible_value", f"usual are 30 to 75 deg; {LOOK}"),
        ("toe_angle_deg", "29", "implausible_value", f"usual are 30 to 75 deg; {LOOK}"),
    ],
)  # fmt: skip
def test_one_value(to, cell, reason, remedy):
    assert checked([cell], to=to) == [(2, reason, remedy)]


@pytest.mark.parametrize(
    ("to", "unit", "cell", "reason", "remedy"),
    [
        ("toe_length_mm", "cm", "0.88", "impossible_value", f"possible are 2 to 25 cm; {AGAIN}; {SLIPPED}8.8"),
        (
            "toe_length_mm",
            "cm",
            "88",
            "wrong_unit",
            "possible are 2 to 25 cm; if it was written in millimetres, write 8.8",
        ),
        ("toe_length_mm", "cm", "-8.8", "impossible_value", f"possible are 2 to 25 cm; {AGAIN}"),
        (
            "lateral_heel_height_mm",
            "cm",
            "0,2",
            "likely_unit",
            f"usual are 0.3 to 10 cm; if it was written in inches, write 0.508; {SLIPPED}2",
        ),
        (
            "height_cm",
            "hands",
            "157",
            "wrong_unit",
            "possible are 40 to 230 cm; if it was written in centimetres, write 157 cm",
        ),
        (
            "body_mass_kg",
            "lb",
            "110",
            "likely_unit",
            f"usual are 132 to 2650 lb; if it was written in kilograms, write 242.5; {SLIPPED}1100",
        ),
        (
            "trim_interval_days",
            "weeks",
            "80",
            "likely_unit",
            f"usual are 1 to 52.1 weeks; if it was written in days, write 80 days; {SLIPPED}8",
        ),
    ],
)
def test_what_to_write_is_in_the_units_of_the_member(to, unit, cell, reason, remedy):
    assert checked([cell], to=to, unit=unit) == [(2, reason, remedy)]


@pytest.mark.parametrize(
    ("to", "unit", "cell", "instead"),
    [
        ("toe_length_mm", "cm", "0.88", "8.8"),
        ("toe_length_mm", "cm", "88", "8.8"),
        ("height_cm", "hands", "157", "157 cm"),
        ("trim_interval_days", "weeks", "80", "80 days"),
        ("body_mass_kg", "lb", "110", "242.5"),
    ],
)
def test_what_is_to_be_written_is_then_without_a_doubt(to, unit, cell, instead):
    assert f"write {instead}" in checked([cell], to=to, unit=unit)[0][2]
    converted = one_column([instead], to=to, unit=unit)
    slips.check(converted)
    assert not converted.faults
    assert {reason for _, reason, _ in told(converted)} <= {"unit_in_cell"}


def test_a_unit_in_the_cell_goes_before_that_of_the_column():
    found = {reason: remedy for _, reason, remedy in checked(["880 mm"], to="toe_length_mm", unit="cm")}
    assert found["impossible_value"] == f"possible are 20 to 250 mm; {AGAIN}; {SLIPPED}88"


def test_a_column_in_another_unit_is_said_once_besides_its_cells():
    converted = one_column(["8.3", "8.5", "84", "8.1"], to="toe_length_mm")
    slips.check(converted)
    assert [reason for _, reason, _ in told(converted)] == ["wrong_unit"] * 3
    assert converted.understood[-1] == (
        "'theirs': most of its numbers would be usual in centimetres; if so, say it in the mapping"
    )


def test_a_fore_and_a_hind_foot_have_limits_of_their_own():
    source = "(Schade, Cienc Rural 2013;43:456-461: 44 cart horses, mean 4 SD either side)"
    converted = feet([["LF", "32"], ["LH", "32"], ["LF", "72"]], ["foot", "toe_angle_deg"])
    assert told(converted) == [
        (3, "unlike_foot", f"usual of a hind foot are 34.6 to 69 deg; look again {source}"),
        (4, "unlike_foot", f"usual of a fore foot are 28.7 to 69.5 deg; look again {source}"),
    ]


def test_toe_length_is_held_to_the_horses_size_in_a_flat_sheet():
    header = ["horse_id", "body_mass_kg", "toe_length_mm", "foot", "visit_date"]
    constants = {key: value for key, value in FEET_CONSTANTS.items() if key not in header}
    mapping = Mapping(table="flat", columns={name: To(to=name) for name in header}, constants=constants)
    rows = [["pony", "200", "120", "LF", "2026-01-20"], ["horse", "550", "120", "LF", "2026-01-20"]]
    converted = convert(sheet(header, rows), mapping)
    slips.check(converted)
    (note,) = converted.notes
    assert (note.line, note.reason) == (2, "unlike_foot")
    assert note.remedy.startswith("usual at 200 kg are 30 to 100 mm; look again (")


def test_angles_exchanged_are_an_error_when_impossible_and_a_warning_beside_the_others():
    header = ["visit_date", "toe_angle_deg", "heel_angle_deg"]
    impossible = feet([[VISITS[0], "35", "62"]], header)
    assert told(impossible) == [
        (
            2,
            "cells_exchanged",
            "toe angle minus heel angle is -27 deg: toe and heel angle look exchanged; if so, write 62 in the first "
            "and 35 in the second, else correct them",
        )
    ]
    rows = [[day, "52", "41"] for day in VISITS[:4]] + [[VISITS[4], "41", "52"]]
    assert told(feet(rows, header)) == [
        (
            6,
            "angles_exchanged",
            "the foot's other readings are about 52 and 41 deg; if exchanged, toe angle is 52 and heel angle 41",
        )
    ]


def test_an_outlier_within_the_horse_is_flagged_and_kept():
    rows = [[day, length] for day, length in zip(VISITS, ["83", "84", "82", "83", "120", "83", "84"], strict=True)]
    converted = feet(rows, ["visit_date", "toe_length_mm"])
    assert told(converted) == [(6, "outlier", "the median of the foot's 7 readings is 83 mm; look again")]
    assert converted.frame["toe_length_mm"].iloc[4] == "120"
    assert not converted.bad.any()
    few = feet(rows[2:6], ["visit_date", "toe_length_mm"])
    assert told(few) == []


def test_a_decimal_slip_that_is_plausible_by_itself_is_seen_beside_the_others():
    rows = [[day, value] for day, value in zip(VISITS, ["61", "62", "6.2", "61", "60", "61", "62"], strict=True)]
    assert told(feet(rows, ["visit_date", "heel_setback_mm"])) == [
        (
            4,
            "decimal_slip",
            "the median of the foot's 7 readings is 61 mm; look again; if the decimal point slipped, it is 62 mm",
        )
    ]


def test_left_and_right_exchanged_at_one_visit():
    header = ["foot", "visit_date", "toe_angle_deg", "toe_length_mm", "hoof_width_mm"]
    rows = []
    for number, day in enumerate(VISITS[:5]):
        sides = (["55", "80", "130"], ["48", "92", "120"])
        for foot, cells in zip(("LF", "RF"), sides[::-1] if number == 3 else sides, strict=True):
            rows.append([foot, day, *cells])
    converted = feet(rows, header)
    remedy = (
        "at the horse's other visits the differences between left and right are the other way round; if the feet were "
        "exchanged, this row is "
    )
    assert told(converted)[:2] == [(8, "sides_exchanged", remedy + "RF"), (9, "sides_exchanged", remedy + "LF")]
    even = [[foot, day, "52", "83", "125"] for day in VISITS for foot in ("LF", "RF")]
    assert told(feet(even, header)) == []


def test_medial_and_lateral_exchanged():
    header = ["visit_date", "medial_heel_length_mm", "lateral_heel_length_mm"]
    rows = [[day, "40", "49"] for day in VISITS[:4]] + [[VISITS[4], "49", "40"]]
    remedy = (
        "in the foot's other readings the differences between lateral and medial are the other way round; "
        "look again, and exchange them if they were exchanged"
    )
    assert (6, "medial_lateral_exchanged", remedy) in told(feet(rows, header))
    assert told(feet([[day, "40", "49"] for day in VISITS], header)) == []


def test_a_visit_whose_day_and_month_are_exchanged():
    rows = [[foot, "2026-03-04", "83"] for foot in ("LF", "RF", "LH")] + [["RH", "2026-04-03", "83"]]
    assert told(feet(rows, ["foot", "visit_date", "toe_length_mm"])) == [
        (
            5,
            "day_month_slip",
            "the horse's other feet were measured on 2026-03-04; if day and month were exchanged, write that",
        )
    ]
    two_visits = [["LF", "2026-03-04", "83"], ["RF", "2026-03-04", "83"], ["LF", "2026-04-03", "83"]]
    assert told(feet(two_visits, ["foot", "visit_date", "toe_length_mm"])) == []


def test_a_date_in_the_future():
    assert checked(["2026-12-03"], dt.date(2026, 11, 25), to="visit_date") == [
        (
            2,
            "future_date",
            "write a date no later than 2026-11-25; check the year; with day and month exchanged it is 2026-03-12",
        )
    ]


def test_group_medians_are_numpys():
    rng = np.random.default_rng(1)
    values = rng.normal(size=(200, 3))
    values[rng.random(values.shape) < 0.3] = np.nan
    groups = rng.integers(0, 30, 200)
    medians, counts = group_medians(values, groups)
    for row in range(200):
        same = values[groups == groups[row]]
        for column in range(3):
            known = same[:, column][~np.isnan(same[:, column])]
            assert counts[row, column] == len(known)
            np.testing.assert_equal(medians[row, column], np.median(known) if len(known) else np.nan)


def test_every_reason_has_a_sentence_and_a_severity():
    assert SENTENCES.keys() == SEVERITY.keys()
    assert all(sentence.endswith(".") for sentence in SENTENCES.values())

from __future__ import annotations

import re
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from mapped_sheets import one_column, told

from hoofcohort.mapping.decimal_marks import find_marks
from hoofcohort.mapping.mapping import FLAT_COLUMNS
from hoofcohort.mapping.numbers import read_number
from hoofcohort.mapping.slips import check
from hoofcohort.mapping.units import FACTORS, HANDS, to_ours

MISSING = "leave the cell empty when the value is missing"


def cells(converted, column="toe_length_mm"):
    return converted.frame[column].tolist()


@pytest.mark.parametrize(
    ("text", "value", "reason", "remedy"),
    [
        ("52", "52", "", ""),
        ("52.50", "52.50", "", ""),
        ("52 approx", "52", "approximate", "'52 approx' is kept as 52 mm; correct it if it was measured"),
        ("~50", "50", "approximate", "'~50' is kept as 50 mm; correct it if it was measured"),
        ("ca. 50", "50", "approximate", "'ca. 50' is kept as 50 mm; correct it if it was measured"),
        ("50?", "50", "approximate", "'50?' is kept as 50 mm; correct it if it was measured"),
        ("-", "", "taken_as_missing", "'-' is taken as empty; nothing to do if so"),
        ("k.A.", "", "taken_as_missing", "'k.A.' is taken as empty; nothing to do if so"),
        ("52 mm", "52", "unit_in_cell", "'52 mm' is read as 52 mm"),
        ("5.2cm", "52", "unit_in_cell", "'5.2cm' is read as 52 mm"),
        ('3 1/4"', "82.55", "unit_in_cell", "'3 1/4\"' is read as 82.55 mm"),
        ("fifty", "", "not_a_number", f"write one number and nothing else; {MISSING}"),
        ("50-52", "", "range_of_values", "write one value, such as the mean 51, or one row for each reading"),
        ("52 kg", "", "unit_does_not_fit", "kg is no unit of toe length; allowed: mm, cm, m, in"),
        ("52 old", "", "not_a_number", "write the number alone: 52"),
    ],
)
def test_one_cell(text, value, reason, remedy):
    converted = one_column([text], to="toe_length_mm")
    assert cells(converted) == [value]
    assert told(converted) == ([(2, reason, remedy)] if reason else [])


@pytest.mark.parametrize(
    ("text", "value"), [("88½", "88.5"), ("88 ¼", "88.25"), ("88¾ mm", "88.75"), ("8.8 (cm)", "88"), ("88 1/2", "88.5")]
)
def test_fractions_and_units_in_brackets_are_read(text, value):
    assert cells(one_column([text], to="toe_length_mm")) == [value]


@pytest.mark.parametrize(
    ("text", "to", "unit", "remedy"),
    [
        ("8.8 (in cm)", "toe_length_mm", "", "write 88"),
        ("8.8 in cm", "toe_length_mm", "cm", "write the number alone: 8.8"),
        ("88 (measured in mm)", "toe_length_mm", "cm", "write 88 mm"),
        ("88⅓", "toe_length_mm", "", f"write one number and nothing else; {MISSING}"),
        ("8.8 (old kg)", "toe_length_mm", "", f"write one number and nothing else; {MISSING}"),
        ("8,8-9,0 cm", "toe_length_mm", "", "write one value, such as the mean 89, or one row for each reading"),
        ("88-90", "toe_length_mm", "cm", "write one value, or one row for each reading"),
        ("50%", "toe_angle_deg", "", f"write it without per cent, in deg; {MISSING}"),
        ("4830 ok", "toe_angle_deg", "", f"write one number and nothing else; {MISSING}"),
        ("8.8-9 cm or so", "toe_length_mm", "cm", "write one value, such as the mean 8.9, or one row for each reading"),
        ("88-90 zm", "toe_length_mm", "", "write one value, or one row for each reading"),
        ("88,5/2", "toe_length_mm", "", "write one value, or one row for each reading"),
        (
            "15-2",
            "height_cm",
            "hands",
            "if it is 15 hands and 2 inches, write 15.2; else write one value, or one row for each reading",
        ),
        ("15/16", "height_cm", "hands", "write one value, or one row for each reading"),
        (
            "15½",
            "height_cm",
            "hands",
            "after the point stand inches, 0 to 3; if it is a decimal fraction, 15.5 is written 15.2",
        ),
        (
            "15.7",
            "height_cm",
            "hands",
            "after the point stand inches, 0 to 3; if it is a decimal fraction, write 159.5 cm",
        ),
        (
            "1.57",
            "height_cm",
            "hands",
            "after the point stand inches, 0 to 3; if it was written in metres, write 1.57 m",
        ),
        (
            "157.5",
            "height_cm",
            "hands",
            "after the point stand inches, 0 to 3; if it was written in centimetres, write 157.5 cm",
        ),
    ],
)
def test_a_suggestion_drops_no_fraction_and_no_unit(text, to, unit, remedy):
    converted = one_column([text], to=to, unit=unit)
    assert cells(converted, to) == [""]
    assert told(converted)[0][2] == remedy


@settings(max_examples=300, deadline=None)
@given(
    st.sampled_from(["{}", "{} cm", "{} ok", "{}%", "{}-{}", "{}°", "{} or so", "{} in", "{} kg", "{},{}", "~{}"]),
    st.lists(st.decimals(0, 5000, places=1) | st.integers(0, 5000), min_size=2, max_size=2),
    st.sampled_from([("toe_length_mm", ""), ("toe_length_mm", "cm"), ("toe_angle_deg", ""), ("height_cm", "hands"),
                     ("body_mass_kg", "lb"), ("body_mass_kg", "")]),
)  # fmt: skip
def test_whatever_a_letter_says_to_write_is_taken(form, numbers, target):
    to, unit = target
    converted = one_column([form.format(*numbers)], to=to, unit=unit)
    if cells(converted, to) != [""]:
        return
    remedy = told(converted)[0][2]
    for written in re.findall(r"(?:write|mean|alone:|or) ([0-9.]+(?: [a-z]+)?)(?=[,;]| or |$)", remedy):
        again = one_column([written], to=to, unit=unit)
        assert cells(again, to) != [""], (remedy, written)
        low, high = FLAT_COLUMNS[to].possible
        assert low <= float(cells(again, to)[0]) <= high, (remedy, written)


def test_a_number_that_can_mean_two_comes_back_unless_something_decides():
    alone = one_column(["1.234", "80"], to="toe_length_mm")
    assert cells(alone) == ["", "80"]
    asked = "neither 1.234 nor 1234 is possible; correct it, or leave the cell empty when the value is missing"
    assert told(alone) == [(2, "ambiguous_number", asked)]

    comma = one_column(["1.234", "52,5"], to="toe_length_mm")
    assert cells(comma) == ["1234", "52.5"]
    assert "'theirs': decimal comma, because of the cell '52,5'" in comma.understood

    point = one_column(["1.234", "52.5"], to="toe_length_mm")
    assert cells(point) == ["1.234", "52.5"]

    both = one_column(["1.234", "52,5", "52.5"], to="toe_length_mm")
    assert cells(both) == ["", "52.5", "52.5"]
    assert "both decimal points and decimal commas occur" in both.understood[0]

    mapped = one_column(["1.234", "80"], to="toe_length_mm", decimal=",")
    assert cells(mapped) == ["1234", "80"]
    assert cells(one_column(["1.234"], to="toe_length_mm", thousands=",")) == ["1.234"]


def test_a_spreadsheets_own_number_has_a_point():
    assert cells(one_column(["83.125", "80"], typed=True, to="toe_length_mm")) == ["83.125", "80"]
    assert cells(one_column(["83.125", "80,5"], typed=True, to="toe_length_mm")) == ["83125", "80.5"]


def test_another_mark_than_the_mapping_says_is_read_when_it_can_mean_only_one_value():
    converted = one_column(["52.5"], to="toe_length_mm", decimal=",")
    assert cells(converted) == ["52.5"]
    assert told(converted) == [(2, "other_mark", "'52.5' is read as 52.5 mm; write one decimal mark throughout")]


@pytest.mark.parametrize("text", ["1.234,5", "1 234,5", "1'234,5", "1234,5"])
def test_thousands(text):
    assert find_marks([text]).decimal == ","
    assert read_number(text, ",").value == Decimal("1234.5")


@pytest.mark.parametrize(
    "text", ["1.2.3", "1,23,456", "..", "--5", "5 1/0", "5.5 1/4", "12.34,5.6", "9" * 30, "9" * 5000, f"1/{'9' * 30}"]
)
def test_what_only_resembles_a_number_is_none(text):
    for mark in (".", ",", ""):
        assert (read_number(text, mark, "mm").value, read_number(text, mark, "mm").code) == (None, "not_a_number")


@pytest.mark.parametrize(("ours", "theirs"), [(o, t) for o, units in FACTORS.items() for t in units if t != HANDS])
@pytest.mark.parametrize("value", ["1", "52.25", "150"])
def test_every_unit_there_and_back(ours, theirs, value):
    factor = FACTORS[ours][theirs]
    back = to_ours(Decimal(value), theirs, ours) / factor
    assert abs(back - Decimal(value)) <= Decimal("0.005") / factor


@pytest.mark.parametrize(
    ("hands", "cm"), [("15.2", "157.48"), ("15", "152.40"), ("14.3", "149.86"), ("9.1", "93.98"), ("17.0", "172.72")]
)
def test_hands_are_four_inches_each_and_an_inch_2_54_cm(hands, cm):
    assert to_ours(Decimal(hands), HANDS, "cm") == Decimal(cm)


def test_hands_with_more_than_three_inches_come_back():
    converted = one_column(["15.2", "15.5", "15,1"], to="height_cm", unit="hands")
    assert converted.frame["height_cm"].tolist() == ["157.48", "", "154.94"]
    assert told(converted)[0] == (
        3,
        "hands_fraction",
        "after the point stand inches, 0 to 3; if it is a decimal fraction, 15.5 is written 15.2",
    )


def test_weeks_pounds_and_whole_numbers():
    assert one_column(["6", "8"], to="trim_interval_days", unit="weeks").frame["trim_interval_days"].tolist() == [
        "42",
        "56",
    ]
    assert one_column(["1100"], to="body_mass_kg", unit="lb").frame["body_mass_kg"].tolist() == ["498.95"]
    converted = one_column(["3", "3.0", "3.5"], to="wall_cracks")
    assert converted.frame["wall_cracks"].tolist() == ["3", "3", ""]
    assert told(converted) == [(4, "not_whole", "write a whole number")]


@pytest.mark.parametrize(("text", "value"), [("9" * 20, "9" * 20 + "000"), ("9" * 21, ""), ("9" * 5000, "")])
def test_a_number_longer_than_any_measure_comes_back_here_or_by_its_limits(text, value):
    converted = one_column([text], to="toe_length_mm", unit="m")
    assert cells(converted) == [value]
    check(converted)
    assert [fault.reason for fault in converted.faults] == ["impossible_value" if value else "not_a_number"]

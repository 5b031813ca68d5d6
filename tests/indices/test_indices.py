"""The indices: values worked by hand, and for every one of them: missing in, missing out."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
import pytest

from hoofcohort.indices import CATALOGUE
from hoofcohort.indices.derive import derive
from hoofcohort.planning.vocabulary import units
from hoofcohort.tables import TABLES

# One reading in round numbers. Expected values worked by hand from the definitions.
READING = {
    "horse_id": "H1",
    "foot": "LF",
    "visit_date": pd.Timestamp("2026-03-02"),
    "observer_id": "OBS-A",
    "method": "gauge",
    "replicate": 1,
    "toe_angle_deg": 52.0,
    "heel_angle_deg": 45.5,
    "pastern_angle_deg": 54.0,
    "toe_length_mm": 92.0,
    "medial_heel_length_mm": 40.0,
    "lateral_heel_length_mm": 52.0,
    "hoof_length_mm": 130.0,
    "hoof_width_mm": 128.0,
    "heel_buttress_width_mm": 80.0,
    "heel_setback_mm": 26.0,
    "frog_length_mm": 100.0,
    "frog_width_mm": 64.0,
    "coronet_circumference_mm": 338.5,
    "coronet_height_medial_mm": 70.0,
    "coronet_height_lateral_mm": 67.5,
    "horn_new": 3,
    "horn_old": 1,
}
PARTNER = READING | {"foot": "RF", "toe_angle_deg": 49.75}
EXPECTED = {
    "heel_underrun_deg": 6.5,
    "heel_toe_length_ratio": 0.5,
    "heel_forward_fraction": 0.2,
    "frog_ratio": 0.64,
    "frog_hoof_width_ratio": 0.5,
    "heel_spread_ratio": 0.625,
    "heel_imbalance_mm": 12.0,
    "heel_imbalance_abs_mm": 12.0,
    "coronet_tilt_mm": -2.5,
    "axis_break_deg": -2.0,
    "pair_difference_deg": 2.25,
    "toe_angle_class": "medium",
    "toe_length_excess_mm": 92 - 82.5,
    "horn_change": 2.0,
}
HORSES = pd.DataFrame({"horse_id": ["H1"], "body_mass_kg": [450.0]})
RATIOS = {
    "heel_toe_length_ratio": "toe_length_mm",
    "heel_forward_fraction": "hoof_length_mm",
    "frog_ratio": "frog_length_mm",
    "frog_hoof_width_ratio": "hoof_width_mm",
    "heel_spread_ratio": "hoof_width_mm",
    "load_kpa": "coronet_circumference_mm",
}


def derived(*rows: dict, body_mass_kg: float | None = 450.0) -> pd.DataFrame:
    frame = pd.DataFrame(list(rows)).astype(
        {"foot": "str", "replicate": "Int64", "horn_new": "Int64", "horn_old": "Int64"}
    )
    return derive(frame, HORSES.assign(body_mass_kg=body_mass_kg))


def value(name: str, *, body_mass_kg: float | None = 450.0, **changes: object):
    return derived(READING | changes, PARTNER, body_mass_kg=body_mass_kg)[name].iloc[0]


@pytest.mark.parametrize(("name", "expected"), EXPECTED.items())
def test_value_worked_by_hand(name, expected):
    assert value(name) == (expected if isinstance(expected, str) else pytest.approx(expected, rel=1e-14))


def test_every_index_has_a_worked_value():
    assert EXPECTED.keys() | {"load_kpa"} == CATALOGUE.keys()


@pytest.mark.parametrize(
    ("name", "column"), [(index.name, column) for index in CATALOGUE.values() for column in index.needs]
)
def test_missing_in_missing_out(name, column):
    assert not pd.isna(value(name))
    if column == "body_mass_kg":
        assert pd.isna(value(name, body_mass_kg=float("nan")))
    else:
        assert pd.isna(value(name, **{column: None}))


@pytest.mark.parametrize("name", CATALOGUE)
def test_a_column_absent_from_the_file_is_missing(name):
    lengths = [
        column for column in CATALOGUE[name].needs if column.endswith(("_mm", "_deg")) or column.startswith("horn")
    ]
    for column in lengths:
        frame = pd.DataFrame([READING, PARTNER]).drop(columns=column)
        assert derive(frame, HORSES)[name].isna().all()


@pytest.mark.parametrize(("name", "column"), RATIOS.items())
def test_a_zero_divisor_gives_missing(name, column):
    assert pd.isna(value(name, **{column: 0.0}))


def test_names_units_and_columns_agree_with_the_tables():
    known = {column.name for table in ("feet", "horses") for column in TABLES[table].columns}
    for name, index in CATALOGUE.items():
        assert name == index.name
        assert set(index.needs) <= known, name
        assert name not in known, "an index must not hide a column"
        ending = name.rpartition("_")[2]
        if ending in ("deg", "mm"):
            assert index.unit == ending
        marks = ("published", "from memory, not verified", "common practice, no source", "study-defined")
        assert any(mark in index.source for mark in marks), name
    assert units()["load_kpa"] == "kPa"


# Turner's limit is 78 lb/in2. 1 lbf/in2 = 6.894757 kPa (NIST SP 811), so 537.8 kPa; a horse of 500 kg reaches it on a
# circle of 338.5 mm: 500 * 9.80665 / (338.5^2 / 4 pi mm2) = 537.75 kPa, and goes beyond it on one of 338.4 mm.
def test_load_of_500_kg_reaches_the_limit_at_338_5_mm():
    limit = 78 * 6.894757
    assert limit == pytest.approx(537.8, abs=0.05)
    assert value("load_kpa", body_mass_kg=500.0) == pytest.approx(500 * 9.80665 / (338.5**2 / (4 * math.pi)) * 1000)
    assert (
        value("load_kpa", body_mass_kg=500.0)
        < limit
        < value("load_kpa", body_mass_kg=500.0, coronet_circumference_mm=338.4)
    )


@pytest.mark.parametrize(
    ("mass", "expected"),
    [(360, 76), (400, 76), (425, 82.5), (475, 82.5), (525, 89), (575, 89)],
)
def test_toe_length_excess_within_the_mass_ranges(mass, expected):
    assert value("toe_length_excess_mm", body_mass_kg=mass) == 92 - expected


@pytest.mark.parametrize("mass", [359.9, 400.1, 412, 424.9, 475.1, 500, 524.9, 575.1])
def test_toe_length_excess_is_missing_between_and_outside_the_ranges(mass):
    assert pd.isna(value("toe_length_excess_mm", body_mass_kg=mass))


@pytest.mark.parametrize(("angle", "word"), [(49.9, "flat"), (50.0, "medium"), (55.0, "medium"), (55.1, "upright")])
def test_toe_angle_classes_of_fore_feet(angle, word):
    assert value("toe_angle_class", toe_angle_deg=angle) == word
    assert pd.isna(value("toe_angle_class", toe_angle_deg=angle, foot="LH"))


def test_the_imbalance_keeps_its_sign_and_loses_it():
    got = derived(READING | {"medial_heel_length_mm": 52.0, "lateral_heel_length_mm": 40.0})
    assert got["heel_imbalance_mm"].iloc[0] == -12
    assert got["heel_imbalance_abs_mm"].iloc[0] == 12


def test_a_pair_is_left_minus_right_and_stands_on_the_left_foot_once():
    hind = [READING | {"foot": foot, "toe_angle_deg": angle} for foot, angle in (("RH", 54.0), ("LH", 53.0))]
    got = derived(PARTNER, *hind, READING)["pair_difference_deg"]
    assert got.isna().tolist() == [True, True, False, False]
    assert got.iloc[2:].tolist() == [-1.0, 2.25]


@pytest.mark.parametrize(
    "change",
    [
        {"horse_id": "H2"},
        {"visit_date": pd.Timestamp("2026-03-03")},
        {"observer_id": "OBS-B"},
        {"method": "photo"},
        {"replicate": 2},
        {"foot": "RH"},
        {"toe_angle_deg": None},
    ],
)
def test_the_partner_is_of_the_same_horse_visit_observer_method_and_replicate(change):
    assert derived(READING, PARTNER | change)["pair_difference_deg"].isna().all()


def test_derive_keeps_rows_columns_and_index_and_does_not_change_its_input():
    frame = pd.DataFrame([PARTNER, READING, READING | {"horse_id": "unknown"}]).set_axis([5, 2, 9])
    before = frame.copy()
    got = derive(frame, HORSES)
    pd.testing.assert_frame_equal(frame, before)
    pd.testing.assert_frame_equal(got[frame.columns.tolist()], frame)
    assert list(got.columns) == [*frame.columns, *CATALOGUE]
    assert pd.isna(got["load_kpa"].loc[9])


def test_a_linear_index_is_one_whose_mean_is_that_of_its_parts_means():
    draw = np.random.default_rng(5)
    for index in CATALOGUE.values():
        if index.kind != "number" or index.level != "reading":
            assert not index.linear
            continue
        frame = pd.DataFrame({name: draw.uniform(100, 120, 50) for name in index.needs})
        means = index.compute(frame.mean().to_frame().T).iloc[0]
        same = index.compute(frame).mean() == pytest.approx(means, rel=1e-9)
        assert same == index.linear or np.isnan(means), index.name

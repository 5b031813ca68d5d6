"""The report's tables and figures leave out what rests on few owners."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from hoofcohort.planning.cutoffs import load_cutoffs
from hoofcohort.privacy.small_numbers import WITHHELD
from hoofcohort.report.figures import raw
from hoofcohort.report.sheets.cohort import NUMBERS, publishable
from hoofcohort.report.sheets.measures import BEYOND, STATISTICS, cutoffs_sheet, measured_by_few, measures_sheet
from hoofcohort.report.text.cohort import small_cohort_sentences


def horses(owners):
    """One horse for each letter, which is its owner."""
    return pd.DataFrame(
        {"yard_id": "Y", "owner_id": list(owners), "feet": 4, "readings": 8, "age": 10.0, "body_mass_kg": 500.0}
    ).replace({"owner_id": {"?": None}})


def shown(records):
    return [None if row["horses"] == WITHHELD else row["horses"] for row in records]


def published(fewest, **exposures):
    """Return the records of exposures of the same horses, each given as groups' names in the order of the horses."""
    (owners,) = {"".join(own.values()) for own in exposures.values()}
    frame, places = horses(owners), {}
    for name, own in exposures.items():
        ends = np.cumsum([len(part) for part in own.values()])
        places[name] = {
            group: (np.arange(len(owners)) < end) & (np.arange(len(owners)) >= end - len(own[group]))
            for group, end in zip(own, ends, strict=True)
        }
    whole, *records = publishable(frame, places, fewest)
    assert whole["horses"] == len(owners)
    return records


def test_a_group_of_few_owners_goes_with_all_its_numbers_and_takes_another_along():
    groups = {"hay": "aab", "pasture": "cdef", "concentrate": "ghijk"}
    records = published(3, diet=groups)
    assert [row["group"] for row in records] == list(groups)
    assert shown(records) == [None, None, 5]
    assert all(records[0][name] == WITHHELD for name in NUMBERS)
    assert shown(published(2, diet=groups)) == [3, 4, 5]


def test_groups_that_cannot_be_protected_are_not_even_named():
    records = published(2, diet={"hay": "a", "pasture": "b"})
    assert [row["group"] for row in records] == [WITHHELD]
    assert shown(records) == [None]


def test_horses_without_an_owner_do_not_make_a_group_safe():
    groups = {"hay": "??c", "pasture": "defg", "soft": "hijkl"}
    assert shown(published(3, diet=groups)) == [None, None, 5]


def test_another_exposure_does_not_give_away_what_one_withholds():
    records = published(
        3, diet={"hay": "abcdefgh", "pasture": "ii", "none": "jklm"}, terrain={"soft": "abcdefghii", "none": "jklm"}
    )
    assert [(row["exposure"], row["group"]) for row in records] == [
        ("diet", WITHHELD),
        ("terrain", "soft"),
        ("terrain", "none"),
    ]
    assert shown(records) == [None, 10, 4]


def test_a_mean_of_the_few_whose_value_is_known_is_withheld():
    frame = horses("abcdefghij").assign(body_mass_kg=[500.0, 510.0, *[None] * 8])
    everything = np.ones(10, dtype=bool)
    whole, hay = publishable(frame, {"diet": {"hay": everything}}, 3)
    assert {whole[f"mass_{key}"] for key in ("mean", "sd", "missing")} == {WITHHELD}
    assert (whole["age_mean"], hay["horses"], hay["mass_mean"]) == (10.0, 10, WITHHELD)
    known = frame.assign(body_mass_kg=[500.0, 510.0, None, None, None, *[500.0] * 5])
    groups = {"hay": np.arange(10) < 5, "pasture": np.arange(10) >= 5}
    assert shown(publishable(known, {"diet": groups}, 3)[1:]) == [None]


@pytest.mark.parametrize(("beyond", "gone"), [(1, True), (2, True), (3, False), (9, False), (10, True), (12, False)])
def test_counts_beyond_a_cutoff_are_withheld_where_they_or_the_rest_are_few(beyond, gone):
    names = [f"h{n}" for n in range(12)]
    readings = pd.DataFrame(
        {"horse_id": names, "foot": "LF", "heel_underrun_deg": [9.0] * beyond + [1.0] * (12 - beyond)}
    )
    run = SimpleNamespace(
        readings=readings,
        horses=pd.DataFrame({"horse_id": names, "owner_id": [f"w{n}" for n in range(12)]}),
        cutoffs=[own for own in load_cutoffs("config/cutoffs.yaml") if own.index == "heel_underrun_deg"],
        plan=SimpleNamespace(fewest_owners=3),
    )
    sheet = cutoffs_sheet(run)
    (record,) = sheet.records
    assert (record["horses_beyond"] == WITHHELD) == gone
    assert all((record[name] == WITHHELD) == gone for name in BEYOND)
    assert (WITHHELD in sheet.to_csv()) == gone
    assert (WITHHELD in sheet.rows()[0][1]) == gone
    assert "fewer than 3 owners" in sheet.note


def run_of(readings, cutoffs=()):
    names = sorted(set(readings["horse_id"]))
    return SimpleNamespace(
        readings=readings,
        horses=pd.DataFrame({"horse_id": names, "owner_id": [f"w{name}" for name in names]}),
        cutoffs=list(cutoffs),
        plan=SimpleNamespace(fewest_owners=3),
    )


def test_cutoffs_of_one_index_do_not_tell_of_each_other():
    contracted = [own for own in load_cutoffs("config/cutoffs.yaml") if own.index == "frog_ratio"]
    assert [own.value for own in contracted] == [0.67, 0.6, 0.5]
    names = [f"h{n:02}" for n in range(20)]
    values = [0.7] * 5 + [0.65] * 1 + [0.55] * 8 + [0.4] * 6
    readings = pd.DataFrame({"horse_id": names, "foot": "LF", "frog_ratio": values})
    for chosen in ([0], [1]):
        alone = cutoffs_sheet(run_of(readings, [contracted[at] for at in chosen])).records
        assert WITHHELD not in [row["horses_beyond"] for row in alone]
    together = cutoffs_sheet(run_of(readings, contracted)).records
    assert [row["horses_beyond"] for row in together] == [15, WITHHELD, 6]


def test_readings_that_one_owner_alone_lacks_are_not_told():
    cutoffs = [own for own in load_cutoffs("config/cutoffs.yaml") if own.index == "heel_underrun_deg"]
    readings = pd.DataFrame(
        {
            "horse_id": [f"h{n}" for n in range(10)] * 2,
            "foot": ["LF"] * 10 + ["RF"] * 10,
            "heel_underrun_deg": [9.0] * 18 + [1.0] * 2,
        }
    )
    assert [row["readings_beyond"] for row in cutoffs_sheet(run_of(readings, cutoffs)).records] == [WITHHELD]


def test_a_measurement_of_few_owners_is_not_described():
    readings = pd.DataFrame(
        {
            "horse_id": list("abcdefgh"), "foot": "LF", "toe_angle_deg": 50.0,
            "toe_length_mm": [80.0, 81.0, *[float("nan")] * 6],
        }
    )  # fmt: skip
    run = run_of(readings)
    assert measured_by_few(run) == ["toe_length_mm"]
    sheet = measures_sheet(run)
    length = next(row for row in sheet.records if row["name"] == "toe_length_mm")
    angle = next(row for row in sheet.records if row["name"] == "toe_angle_deg")
    assert {length[key] for key in ("n", "missing", *STATISTICS)} == {WITHHELD}
    assert (angle["n"], angle["mean"]) == (8, 50.0)
    assert "fewer than 3 owners" in sheet.note
    assert any(WITHHELD in cells for _, cells in sheet.rows())


def test_no_mean_is_left_when_the_parts_of_a_difference_are_taken_off():
    draw = np.random.default_rng(3)
    readings = pd.DataFrame({"horse_id": list("abcdefgh"), "foot": "LF", "heel_angle_deg": draw.normal(46, 3, 8),
                             "toe_angle_deg": draw.normal(51, 3, 8), "pastern_angle_deg": 50.0})  # fmt: skip
    readings.loc[:1, "toe_angle_deg"] = np.nan
    readings = readings.assign(
        heel_underrun_deg=readings["toe_angle_deg"] - readings["heel_angle_deg"],
        hoof_pastern_break_deg=readings["toe_angle_deg"] - readings["pastern_angle_deg"],
    )
    run = run_of(readings)
    of = {row["name"]: row for row in measures_sheet(run).records}
    heel, toe, between = (of[name] for name in ("heel_angle_deg", "toe_angle_deg", "heel_underrun_deg"))
    sum_of_two = heel["n"] * heel["mean"] - (toe["n"] * toe["mean"] - readings["heel_underrun_deg"].sum())
    assert sum_of_two / 2 == pytest.approx(readings["heel_angle_deg"][:2].mean())
    assert between["mean"] == WITHHELD
    assert between["median"] == pytest.approx(readings["heel_underrun_deg"].median())
    assert "beside the means of its parts" in measures_sheet(run).note
    readings.loc[2, ["toe_angle_deg", "heel_underrun_deg", "hoof_pastern_break_deg"]] = np.nan
    assert WITHHELD not in [row["mean"] for row in measures_sheet(run_of(readings)).records]


def test_the_readings_of_few_owners_are_not_counted_beside_a_cutoff_either():
    cutoffs = [own for own in load_cutoffs("config/cutoffs.yaml") if own.index == "heel_underrun_deg"]
    values = [1.0, 1.0, *[np.nan] * 8]
    readings = pd.DataFrame({"horse_id": list("abcdefghij"), "foot": "LF", "heel_underrun_deg": values})
    sheet = cutoffs_sheet(run_of(readings, cutoffs))
    (record,) = sheet.records
    assert {record[name] for name in (*BEYOND, "readings_with_value", "horses_with_value")} == {WITHHELD}
    assert sheet.rows()[0][1].count(WITHHELD) == 3


@pytest.mark.parametrize("withheld", [[], ["hay", "pasture"]])
def test_single_horses_are_drawn_nowhere_when_a_word_is_withheld(monkeypatch, withheld):
    owners, words = list("abcdefghijk"), ["hay", "pasture", "concentrate"]
    group = [0, 0, 1, 1, 1, 1, 2, 2, 2, 2, 2]
    values = [float(n) for n in range(11)]
    analysis = pd.DataFrame(
        {"horse_id": owners, "y": values, "diet": [words[k] for k in group], "trim_interval_days": values}
    ).assign(fixed_fitted=1.0)
    rows = [
        {"name": "diet", "role": "exposure", "values": words, "form": "", "withheld": withheld},
        {"name": "trim_interval_days", "role": "exposure", "values": [], "per": 7, "form": "", "withheld": []},
    ]
    model = {
        "outcome": {"name": "y", "title": "y", "unit": "deg"}, "variables": rows, "adjusted": {"means": []},
        "settings": {"confidence": 0.95}, "effects": [],
    }  # fmt: skip
    other = {"variables": [row | {"withheld": []} for row in rows]}
    drawn = []
    monkeypatch.setattr(raw, "_dots", lambda axes, x, y: drawn.append(list(y)))
    dots = raw.dots_shown([other, model])
    assert dots == (not withheld)
    figure = raw.raw_figure(model, analysis, 3, dots=dots)
    assert drawn == ([[], [], [], []] if withheld else [values[:2], values[2:6], values[6:], values])
    label = figure.panels[0].label
    assert ("hay 2, pasture 4, concentrate 5" in label) == (not withheld)
    assert ("hay withheld, pasture withheld, concentrate 5" in label) == bool(withheld)
    assert (WITHHELD in figure.panels[0].svg) == ("Single horses are not drawn" in figure.caption) == bool(withheld)


def test_a_cohort_of_few_owners_is_not_for_publication():
    counts = {"owners": 2, "horses": 30, "yards": 9}
    assert "not for publication" in small_cohort_sentences(counts, 3)[0]
    assert not [line for line in small_cohort_sentences(counts, 2) if "publication" in line]

"""What the record of an outcome tells its reader in sentences."""

from __future__ import annotations

import pandas as pd
import pytest
from cohorts import cohort_frames
from small_study import settings_of

from hoofcohort.study.outcome import study_outcome

OUTCOME = "heel_underrun_deg"
LIGHT = {"adjustments": ["fore_hind"], "references": {}}


@pytest.fixture(scope="module")
def frames():
    return cohort_frames(20260301, horses=24)


def messages_of(frames, **changes):
    return study_outcome(settings_of(OUTCOME, **LIGHT, **changes), **frames).record["messages"]


def test_repeated_readings_of_a_foot_are_counted(frames):
    readings = frames["readings"]
    single = ~readings.duplicated(["horse_id", "foot", "visit_date"])
    assert not any("repeat a foot" in text for text in messages_of(frames | {"readings": readings[single]}))
    record = study_outcome(settings_of(OUTCOME, **LIGHT), **frames)
    repeats = record.analysis.duplicated(["horse_id", "foot", "visit_date"]).sum()
    assert repeats > 0
    assert any(text.startswith(f"{repeats} readings repeat a foot") for text in record.record["messages"])


@pytest.mark.parametrize(
    ("horses", "said"),
    [
        (1, "Only 1 of the horses has terrain hard: what is said of it rests on that horse."),
        (3, "Only 3 of the horses have terrain hard: what is said of it rests on them."),
    ],
)
def test_a_word_that_few_horses_have_is_pointed_out(frames, horses, said):
    used = study_outcome(settings_of(OUTCOME, **LIGHT), **frames).analysis["horse_id"].unique()[:horses]
    management = frames["management"].assign(terrain="mixed")
    management.loc[management["horse_id"].isin(used), "terrain"] = "hard"
    assert said in messages_of(frames | {"management": management}, fewest_owners=1)


def of_one_owner(frames):
    """Give two horses an owner of their own and a terrain of their own."""
    used = study_outcome(settings_of(OUTCOME, **LIGHT), **frames).analysis["horse_id"].unique()[:2]
    management, horses = frames["management"].assign(terrain="mixed"), frames["horses"].copy()
    management.loc[management["horse_id"].isin(used), "terrain"] = "hard"
    management.loc[management["horse_id"].isin(sorted(set(horses["horse_id"]) - set(used))[:8]), "terrain"] = "soft"
    horses.loc[horses["horse_id"].isin(used), "owner_id"] = ["Field", "FIELD."]
    return frames | {"management": management, "horses": horses}


@pytest.mark.parametrize("fewest", [1, 2, 3])
def test_what_one_owner_s_horses_have_is_counted_nowhere(frames, fewest):
    record = study_outcome(settings_of(OUTCOME, **LIGHT, fewest_owners=fewest), **of_one_owner(frames)).record
    terrain = next(row for row in record["variables"] if row["name"] == "terrain")
    gone = set(terrain["withheld"])
    assert ("hard" in gone) == (fewest > 1)
    assert len(gone) in ((0,) if fewest == 1 else (2, 3))
    for key in ("horses", "mean_share"):
        assert {word for word, number in terrain[key].items() if number is None} == gone
    told = "Only 2 of the horses have terrain hard: what is said of it rests on them."
    assert (told in record["messages"]) == (fewest == 1)
    said = [text for text in record["messages"] if text.startswith("How many horses have terrain ")]
    assert len(said) == (fewest > 1)
    compared = {
        row["word"]
        for level in record["spread"]
        for variable in level["variables"]
        if variable["variable"] == "terrain"
        for row in variable["words"]
    }
    assert not compared & gone
    assert fewest > 1 or "hard" in compared


def test_a_word_that_one_horse_had_for_a_few_days_is_pointed_out_and_no_share_told(frames):
    seen = study_outcome(settings_of(OUTCOME, **LIGHT), **frames).analysis
    horse, visit = seen[["horse_id", "visit_date"]].iloc[0]
    management = frames["management"].assign(terrain="mixed")
    others = sorted(set(management["horse_id"]) - {horse})[::2]
    management.loc[management["horse_id"].isin(others), "terrain"] = "soft"
    own, start = management[management["horse_id"] == horse].iloc[[0]], visit - pd.Timedelta(days=10)
    parts = [
        own.assign(from_date=start - pd.Timedelta(days=400), to_date=start - pd.Timedelta(days=1)),
        own.assign(terrain="hard", from_date=start, to_date=visit),
        own.assign(from_date=visit + pd.Timedelta(days=1), to_date=pd.NaT),
    ]
    changed = pd.concat([management[management["horse_id"] != horse], *parts], ignore_index=True)
    record = study_outcome(settings_of(OUTCOME, **LIGHT, fewest_owners=3), **frames | {"management": changed}).record
    terrain = next(row for row in record["variables"] if row["name"] == "terrain")
    assert (terrain["withheld"], terrain["horses"]["hard"]) == ([], None)
    assert set(terrain["mean_share"].values()) == {None}
    assert any(text.startswith("How many horses have any day of terrain hard") for text in record["messages"])


def test_a_few_owners_readings_are_said_not_to_be_for_publication(frames):
    owned = frames | {"horses": frames["horses"].assign(owner_id="Field")}
    assert any("not for publication" in text for text in messages_of(owned))
    assert not any("not for publication" in text for text in messages_of(frames))


def test_a_level_left_out_is_said_once(frames):
    horses = frames["horses"].assign(yard_id="Y01")
    found = messages_of(frames | {"horses": horses})
    assert [text for text in found if "'yard'" in text] == [
        "The level 'yard' was left out of the models: level 'yard' has a single group, so its variance cannot be told "
        "from the intercept."
    ]


def test_an_exposure_that_does_not_vary_leaves_the_comparison_unanswered(frames):
    management = frames["management"].assign(diet="hay")
    wanted = {OUTCOME: {"role": "primary", "comparison": {"exposure": "diet", "first": "concentrate", "second": "hay"}}}
    record = study_outcome(
        settings_of(OUTCOME, **LIGHT, outcomes=wanted), **(frames | {"management": management})
    ).record
    assert "The diet is the same in all rows used; it was left out." in record["messages"]
    label = "concentrate v hay (all days v all days)"
    assert f"The comparison '{label}' could not be estimated from these rows." in record["messages"]
    assert record["influence"]["skipped_reason"] == "the effect could not be estimated"
    assert [row["label"] for row in record["effects"] if row["of_interest"]] == [label]
    assert list(record["unadjusted"]) == ["terrain", "trim_interval_days"]


def test_influence_is_on_the_comparison_of_interest_or_else_the_first_effect(frames):
    comparison = {"exposure": "terrain", "first": "hard", "second": "mixed"}
    asked = settings_of(OUTCOME, **LIGHT, outcomes={OUTCOME: {"role": "primary", "comparison": comparison}})
    assert study_outcome(asked, **frames).record["influence"]["of"] == "hard v mixed (all days v all days)"
    first = study_outcome(settings_of(OUTCOME, **LIGHT), **frames).record["influence"]["of"]
    assert first == "pasture v hay (all days v all days)"

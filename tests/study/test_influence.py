"""Leaving out one horse at a time."""

from __future__ import annotations

import numpy as np
import pytest
from cohorts import cohort_frames, demo_plan

from hoofcohort.study import influence as module
from hoofcohort.study.effects import estimate_effects, planned_effects
from hoofcohort.study.fits import fit_models
from hoofcohort.study.influence import influence
from hoofcohort.study.table import build_table
from hoofcohort.study.terms import build_terms

OUTCOME = "heel_underrun_deg"
SETTINGS = demo_plan().for_outcome(OUTCOME)


def study(frames):
    table = build_table(SETTINGS, **frames)
    terms = build_terms(SETTINGS, table)
    effect = next(effect for effect in planned_effects(SETTINGS, terms) if effect.of_interest)
    return table.frame, fit_models(SETTINGS, table, terms), effect


@pytest.fixture(scope="module")
def frames():
    return cohort_frames(20260301, horses=24)


def test_a_horse_far_off_is_shown_and_its_refit_is_the_study_without_it(frames):
    all_concentrate = build_table(SETTINGS, **frames).frame.query("diet__concentrate == 1")["horse_id"]
    odd = all_concentrate.iloc[0]
    readings = frames["readings"].copy()
    readings.loc[readings["horse_id"] == odd, OUTCOME] += 25.0
    frame, models, effect = study(frames | {"readings": readings})
    record = influence(frame, OUTCOME, models, effect)
    horses = frame["horse_id"].nunique()
    assert (record["level"], record["n"], record["failed"], record["skipped_reason"]) == ("horse", horses, 0, "")
    assert record["of"] == "concentrate v hay (all days v all days)"
    own = next(row for row in record["rows"] if row["label"] == odd)
    assert len(record["rows"]) == 10
    sizes = [abs(row["change_in_se"]) for row in record["rows"]]
    assert sizes == sorted(sizes, reverse=True)
    _, without, _ = study(frames | {"readings": readings[readings["horse_id"] != odd]})
    alone = estimate_effects(without.adjusted, [effect])[0]
    whole = estimate_effects(models.adjusted, [effect])[0]
    assert own["estimate_without"] == pytest.approx(alone["estimate"], rel=1e-6)
    change = (alone["estimate"] - whole["estimate"]) / whole["std_error"]
    assert own["change_in_se"] == pytest.approx(change, rel=1e-6)


def test_yards_are_left_out_where_horses_are_too_many(frames, monkeypatch):
    frame, models, effect = study(frames)
    horses, yards = frame["horse_id"].nunique(), frame["yard_id"].nunique()
    assert 2 < yards < 10 < horses
    monkeypatch.setattr(module, "MOST_REFITS", 10)
    record = influence(frame, OUTCOME, models, effect)
    assert (record["level"], record["n"]) == ("yard", yards)
    assert record["skipped_reason"] == (
        f"{horses} horses are more than the 10 refits allowed; yards were left out instead"
    )
    assert {row["label"] for row in record["rows"]} <= set(frame["yard_id"])
    monkeypatch.setattr(module, "MOST_REFITS", 2)
    record = influence(frame, OUTCOME, models, effect)
    assert record["rows"] == [] and "neither can be left out" in record["skipped_reason"]


def test_a_horse_that_alone_carries_a_word_cannot_be_left_out(frames):
    """Without the only horse on concentrate the comparison is gone: counted, not hidden."""
    management = frames["management"].copy()
    known = management["diet"].notna()
    management.loc[known, "diet"] = np.where(
        management["horse_id"][known].str[-1].isin(list("13579")), "hay", "pasture"
    )
    kept = build_table(SETTINGS, **(frames | {"management": management})).frame["horse_id"].iloc[0]
    management.loc[management["horse_id"] == kept, "diet"] = "concentrate"
    frame, models, effect = study(frames | {"management": management})
    record = influence(frame, OUTCOME, models, effect)
    assert record["failed"] == 1
    assert kept not in {row["label"] for row in record["rows"]}

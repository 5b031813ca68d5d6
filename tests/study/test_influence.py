"""Leaving out one horse, or one yard, at a time."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from cohorts import cohort_frames, demo_plan

from hoofcohort.models import deletions as module
from hoofcohort.models import fit_mixed_model
from hoofcohort.study.effects import estimate_effects, planned_effects
from hoofcohort.study.fits import fit_models
from hoofcohort.study.influence import influence
from hoofcohort.study.levels import group
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


@pytest.fixture(scope="module")
def odd(frames):
    """A cohort in which one horse, all its life on concentrate, has heels far off."""
    horse = build_table(SETTINGS, **frames).frame.query("diet__concentrate == 1")["horse_id"].iloc[0]
    readings = frames["readings"].copy()
    readings.loc[readings["horse_id"] == horse, OUTCOME] += 25.0
    return horse, frames | {"readings": readings}


def refitted(frame, models, effect, keep):
    """Fit the same columns to some of the rows: knots and means stay those of all rows."""
    keep = keep.to_numpy()
    design = replace(models.adjusted.design, matrix=models.adjusted.design.matrix[keep])
    fit = fit_mixed_model(frame[OUTCOME].to_numpy()[keep], design, group(frame[keep], models.levels))
    return vars(fit.linear(effect.function(models.adjusted.design)[None, :])[0])


def test_a_horse_far_off_is_shown_and_its_deletion_is_the_study_without_it(odd):
    horse, frames = odd
    frame, models, effect = study(frames)
    record = influence(frame, models, effect)
    horses, yards = record["levels"]
    assert record["of"] == "concentrate v hay (all days v all days)" and record["skipped_reason"] == ""
    assert (horses["level"], horses["n"], horses["failed"]) == ("horse", frame["horse_id"].nunique(), 0)
    assert (yards["level"], yards["n"], yards["failed"]) == ("yard", frame["yard_id"].nunique(), 0)
    assert len(horses["rows"]) == 10 and len(yards["rows"]) == min(10, yards["n"])
    for level in record["levels"]:
        sizes = [abs(row["change_in_se"]) for row in level["rows"]]
        assert sizes == sorted(sizes, reverse=True)
    own = next(row for row in horses["rows"] if row["label"] == horse)
    assert own["distance"] == max(row["distance"] for row in horses["rows"])
    alone = refitted(frame, models, effect, frame["horse_id"] != horse)
    whole = estimate_effects(models.adjusted, [effect])[0]
    assert record["whole"] == whole
    for name in ("estimate", "low", "high"):
        assert own[f"{name}_without"] == pytest.approx(alone[name], rel=1e-6)
    change = (alone["estimate"] - whole["estimate"]) / whole["std_error"]
    assert own["change_in_se"] == pytest.approx(change, rel=1e-6)


def test_a_yard_is_left_out_with_all_its_horses(odd):
    _, frames = odd
    frame, models, effect = study(frames)
    first = influence(frame, models, effect)["levels"][1]["rows"][0]
    alone = refitted(frame, models, effect, frame["yard_id"] != first["label"])
    assert first["estimate_without"] == pytest.approx(alone["estimate"], rel=1e-6)
    assert first["high_without"] == pytest.approx(alone["high"], rel=1e-6)


def test_deletions_after_which_the_interval_says_otherwise_are_counted(odd, monkeypatch):
    _, frames = odd
    frame, models, effect = study(frames)
    monkeypatch.setattr("hoofcohort.study.influence.SHOWN", 1000)
    record = influence(frame, models, effect)
    apart = record["whole"]["low"] > 0 or record["whole"]["high"] < 0
    for level in record["levels"]:
        says = [(row["low_without"] > 0 or row["high_without"] < 0) != apart for row in level["rows"]]
        assert len(says) == level["n"] and level["turned"] == sum(says)
    assert sum(level["turned"] for level in record["levels"]) > 0


def test_a_level_that_the_model_has_not_is_said_to_be_missing(frames):
    yardless = SETTINGS.model_copy(update={"levels": ["horse", "foot"]})
    table = build_table(yardless, **frames)
    terms = build_terms(yardless, table)
    record = influence(table.frame, fit_models(yardless, table, terms), planned_effects(yardless, terms)[0])
    horses, yards = record["levels"]
    assert horses["rows"] and not yards["rows"]
    assert yards["skipped_reason"] == "the yard is no level of this model"


def test_what_cannot_be_worked_out_is_said(frames, monkeypatch):
    frame, models, effect = study(frames)
    monkeypatch.setattr(module.Removals, "of", refuse)
    monkeypatch.setattr(module, "MOST_REFITS", 2)
    record = influence(frame, models, effect)
    assert [level["skipped_reason"] for level in record["levels"]] == ["cannot be set apart"] * 2


def refuse(*_):
    raise module.ModelError("cannot be set apart")


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
    horses, yards = influence(frame, models, effect)["levels"]
    assert horses["failed"] == 1 and yards["failed"] == 1
    assert kept not in {row["label"] for row in horses["rows"]}

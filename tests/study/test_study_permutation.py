"""The permutation test of an outcome's comparison: which units exchange, and within what."""

from __future__ import annotations

import pytest
from cohorts import cohort_frames, demo_plan

from hoofcohort.study.effects import planned_effects
from hoofcohort.study.fits import fit_models
from hoofcohort.study.permutation import permutation_record
from hoofcohort.study.table import build_table
from hoofcohort.study.terms import build_terms

OUTCOME = "heel_underrun_deg"
SETTINGS = demo_plan().for_outcome(OUTCOME)


@pytest.fixture(scope="module")
def study():
    table = build_table(SETTINGS, **cohort_frames(20260301, horses=64))
    terms = build_terms(SETTINGS, table)
    return table.frame, fit_models(SETTINGS, table, terms), planned_effects(SETTINGS, terms)


def of_exposure(effects, name):
    return next(effect for effect in effects if effect.exposure == name)


def test_an_outcome_that_is_the_exposure_is_hardly_ever_matched(study):
    frame, models, effects = study
    effect = of_exposure(effects, "diet")
    made = frame.assign(**{OUTCOME: frame[f"diet__{effect.first}"] + 1e-3 * frame[OUTCOME]})
    record = permutation_record(made, OUTCOME, models, effect)
    assert record["p"] < 0.005
    assert 0.99 < record["correlation"] <= 1


def test_level_and_strata_follow_where_the_exposure_varies(study):
    frame, models, effects = study
    record = permutation_record(frame, OUTCOME, models, of_exposure(effects, "diet"))
    share = frame.groupby("horse_id")[f"diet__{of_exposure(effects, 'diet').first}"].mean()
    assert share.std() > 0
    assert (record["level"], record["within"]) in {("yard", None), ("horse", "yard"), ("horse:visit", "horse")}
    by_yard = frame.assign(yard_id="Y1")
    one_yard = permutation_record(by_yard, OUTCOME, models, of_exposure(effects, "diet"))
    assert (one_yard["level"], one_yard["within"], one_yard["strata"]) == ("horse", "yard", 1)
    assert one_yard["units"] == frame["horse_id"].nunique()


def test_same_seed_same_answer(study):
    frame, models, effects = study
    effect = of_exposure(effects, "terrain")
    first, second = (permutation_record(frame, OUTCOME, models, effect) for _ in range(2))
    assert first == second and 0 < first["p"] <= 1

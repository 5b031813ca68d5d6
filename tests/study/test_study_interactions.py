"""F tests of exposures that interact, on the demo's tables, against R."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from cohorts import cohort_frames

from hoofcohort.indices.derive import derive
from hoofcohort.intake.run import take_in
from hoofcohort.plan import load_plan
from hoofcohort.study.effects import planned_effects
from hoofcohort.study.fits import adjusted_record, fit_models
from hoofcohort.study.outcome import study_outcome
from hoofcohort.study.table import build_table
from hoofcohort.study.terms import build_terms

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def tables():
    paths = {name: ROOT / "synthetic_data" / f"{name}.csv" for name in ("horses", "management", "feet")}
    frames = take_in(paths, date(2026, 9, 30)).frames
    return derive(frames["feet"], frames["horses"]), frames["horses"], frames["management"]


def f_tests_with(tables, interactions):
    plan = load_plan(ROOT / "config" / "demo.yaml")
    settings = plan.for_outcome("heel_underrun_deg").model_copy(update={"interactions": interactions, "shapes": {}})
    table = build_table(settings, *tables)
    terms = build_terms(settings, table)
    models = fit_models(settings, table, terms)
    record = adjusted_record(models, planned_effects(settings, terms), terms)
    engine = {test["term"]: test for test in models.adjusted.to_dict()["tests"]}
    return {test["term"]: test for test in record["tests"]}, engine


def test_an_exposure_that_interacts_with_a_number_is_tested_at_its_mean(tables):
    """R: body mass centred at its mean (474 kg), lmer and pbkrtest: F(2, 91.2) = 3.453, p = 0.0359; at 0 kg 3.709."""
    tests, engine = f_tests_with(tables, [["diet", "body_mass_kg"]])
    assert engine["diet"]["f"] == pytest.approx(3.7094, abs=5e-4)
    assert tests["diet"]["num_df"] == 2
    assert tests["diet"]["f"] == pytest.approx(3.453, abs=5e-4)
    assert tests["diet"]["den_df"] == pytest.approx(91.2, abs=0.05)
    assert tests["diet"]["p"] == pytest.approx(0.0359, abs=5e-5)
    assert tests["diet:body_mass_kg"] == engine["diet:body_mass_kg"]


def test_without_numbers_in_the_interaction_it_is_the_type_three_test(tables):
    tests, engine = f_tests_with(tables, [["diet", "fore_hind"]])
    assert tests["diet"] == pytest.approx(engine["diet"])


def test_a_model_with_an_interaction_that_cannot_be_fitted_is_refused_by_its_terms_names():
    plan = load_plan(ROOT / "config" / "demo.yaml")
    settings = plan.for_outcome("heel_underrun_deg").model_copy(update={"interactions": [["diet", "fore_hind"]]})
    record = study_outcome(settings, **cohort_frames(3, horses=4, yards=2)).record
    assert "diet × fore or hind foot could not be fitted: the fixed terms leave nothing" in record["not_analysed"]

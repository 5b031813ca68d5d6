"""Unadjusted beside adjusted, on the same rows; and what leaving the visit out costs."""

from __future__ import annotations

from dataclasses import replace

import pytest
from cohorts import cohort_frames
from small_study import settings_of

from hoofcohort.models import build_design, fit_mixed_model
from hoofcohort.study.effects import planned_effects
from hoofcohort.study.fits import adjusted_record, effects_record, fit_models, without_also_record
from hoofcohort.study.levels import Levels, group
from hoofcohort.study.table import build_table
from hoofcohort.study.terms import build_terms

OUTCOME = "heel_underrun_deg"


@pytest.fixture(scope="module")
def frames():
    return cohort_frames(20260301)


def study(frames, **changes):
    settings = settings_of(OUTCOME, **changes)
    table = build_table(settings, **frames)
    terms = build_terms(settings, table)
    return table, terms, planned_effects(settings, terms), fit_models(settings, table, terms)


def test_unadjusted_is_the_exposure_alone_on_the_same_rows_and_levels(frames):
    table, terms, effects, models = study(frames)
    levels = Levels(("yard", "horse", "foot"), ("horse:visit",))
    design = build_design([terms.variables["diet"]], ["diet"])
    alone = fit_mixed_model(table.frame[OUTCOME].to_numpy(), design, group(table.frame, levels)).to_dict()
    row = effects_record(models, effects, "deg")[1]
    assert row["label"] == "concentrate v hay (all days v all days)"
    expected = next(own for own in alone["coefficients"] if own["term"] == "diet[concentrate]")
    assert row["unadjusted"] == pytest.approx({key: expected[key] for key in row["unadjusted"]})
    adjusted = next(own for own in models.adjusted.to_dict()["coefficients"] if own["term"] == "diet[concentrate]")
    assert row["adjusted"] == pytest.approx({key: adjusted[key] for key in row["adjusted"]})
    assert {own["factor"] for own in models.adjusted.to_dict()["means"]} == {"diet", "terrain"}


def test_an_effect_at_one_value_has_no_unadjusted_estimate(frames):
    *_, effects, models = study(frames, interactions=[["diet", "fore_hind"]])
    rows = [row for row in effects_record(models, effects, "deg") if row["first"] == "concentrate"]
    assert [row["label"] for row in rows] == [
        "concentrate v hay (all days v all days)",
        "concentrate v hay (all days v all days); fore or hind foot: fore",
        "concentrate v hay (all days v all days); fore or hind foot: hind",
    ]
    assert [row["at"] for row in rows] == [
        None, {"variable": "fore_hind", "value": "fore"}, {"variable": "fore_hind", "value": "hind"},
    ]  # fmt: skip
    assert [row["unadjusted"] is None for row in rows] == [False, True, True]


def test_leaving_the_visit_out_makes_what_varies_by_visit_look_too_certain(frames):
    *_, effects, models = study(frames)
    record = without_also_record(models, effects)
    with_visit = effects_record(models, effects, "deg")
    assert record["left_out"] == ["horse:visit"]
    assert [row["label"] for row in record["effects"]] == [row["label"] for row in with_visit]
    trim, too_certain = with_visit[4]["adjusted"], record["effects"][4]["adjusted"]
    assert too_certain["std_error"] < 0.95 * trim["std_error"]
    assert too_certain["df"] > trim["df"]


def test_a_plan_without_the_visit_has_nothing_to_leave_out(frames):
    *_, effects, models = study(frames, also=[])
    assert models.without_also is None
    assert without_also_record(models, effects) is None


def test_what_another_model_says_is_said_under_its_name(frames):
    *_, models = study(frames)
    boundary = [name for name, fit in models.unadjusted.items() if fit.boundary]
    assert boundary, "this cohort's unadjusted models have a variance at zero"
    for name in boundary:
        text = f"Unadjusted model of {name}: The variance of level 'yard' was estimated at its boundary, zero."
        assert text in models.messages


def test_the_adjusted_record_holds_profile_intervals_where_it_converged(frames):
    _, terms, effects, models = study(frames)
    record = adjusted_record(models, effects, terms)
    for row in record["variances"]:
        assert row["sd_low"] <= row["sd"] <= row["sd_high"]
        share = record["icc_intervals"][row["level"]]
        assert 0 <= share["low"] < share["high"] <= 1
    assert record["icc_intervals"].keys() == {"yard", "horse", "foot", "horse:visit", "residual"}
    optimum = replace(models.adjusted.optimum, converged=False)
    lost = replace(models, adjusted=replace(models.adjusted, optimum=optimum))
    assert "icc_intervals" not in adjusted_record(lost, effects, terms)

"""Robust standard errors of the effects, and the spread of residuals and predicted effects."""

from __future__ import annotations

import numpy as np
import pytest
from cohorts import cohort_frames, demo_plan
from scipy.stats import chi2, spearmanr

from hoofcohort.models import random_effects
from hoofcohort.models import robust as engine
from hoofcohort.study.effects import planned_effects
from hoofcohort.study.fits import fit_models
from hoofcohort.study.robust import robust_record
from hoofcohort.study.spread import spreads
from hoofcohort.study.table import build_table
from hoofcohort.study.terms import build_terms

OUTCOME = "heel_underrun_deg"
SETTINGS = demo_plan().for_outcome(OUTCOME)


def study(frames, settings=SETTINGS):
    table = build_table(settings, **frames)
    terms = build_terms(settings, table)
    return table.frame, fit_models(settings, table, terms), planned_effects(settings, terms), terms


@pytest.fixture(scope="module")
def small():
    return study(cohort_frames(20260301, horses=24))


def test_every_effect_has_its_robust_standard_error(small):
    frame, models, effects, _ = small
    record = robust_record(models, effects)
    assert (record["cluster"], record["clusters"]) == ("yard", frame["yard_id"].nunique())
    assert [row["label"] for row in record["effects"]] == [effect.label for effect in effects]
    robust = engine.cluster_robust(models.adjusted)
    for row, effect in zip(record["effects"], effects, strict=True):
        truth = robust.linear(effect.function(models.adjusted.design)[None, :])[0]
        own = row["robust"]
        for name in ("estimate", "std_error", "df", "low", "high", "p"):
            assert own[name] == pytest.approx(getattr(truth, name), rel=1e-9)
        assert row["of_interest"] == effect.of_interest
        inside = chi2.cdf(own["df"] * np.array([own["chance_low"], own["chance_high"]]) ** 2, own["df"])
        assert list(inside) == pytest.approx([0.025, 0.975])


def test_without_the_yard_the_horses_are_the_clusters(small):
    frame, *_ = small
    _, models, effects, _ = study(
        cohort_frames(20260301, horses=24), SETTINGS.model_copy(update={"levels": ["horse", "foot"]})
    )
    record = robust_record(models, effects)
    assert (record["cluster"], record["clusters"]) == ("horse", frame["horse_id"].nunique())


def test_a_crossed_factor_leaves_none():
    settings = SETTINGS.model_copy(
        update={"crossed": ["observer_id"], "adjustments": [n for n in SETTINGS.adjustments if n != "observer_id"]}
    )
    _, models, effects, _ = study(cohort_frames(20260301, horses=40), settings)
    assert models.levels.crossed == ("observer_id",)
    record = robust_record(models, effects)
    assert record["effects"] == [] and "a factor of the model crosses all of them" in record["skipped_reason"]


def test_spread_is_that_of_the_residuals_and_of_scaled_predictions(small):
    frame, models, _, terms = small
    fit = models.adjusted
    effects = random_effects(fit)
    found = spreads(fit, effects, terms)
    assert [level["level"] for level in found] == ["residual", *fit.grouping.names]
    residual = found[0]
    third = len(frame) // 3
    order = np.argsort(fit.fixed_fitted, kind="stable")
    low, high = (np.sqrt(np.mean(fit.residuals[part] ** 2)) for part in (order[:third], order[-third:]))
    assert residual["fitted"]["sd_low"] == pytest.approx(low) and residual["fitted"]["ratio"] == pytest.approx(
        high / low
    )
    rank = spearmanr(np.abs(fit.residuals), fit.fixed_fitted).statistic
    assert residual["fitted"]["rank_correlation"] == pytest.approx(rank)
    side = next(own for own in residual["variables"] if own["variable"] == "fore_hind")
    assert not side["exposure"]
    fore = fit.residuals[frame["foot"].str[1].to_numpy() == "F"]
    row = next(row for row in side["words"] if row["word"] == "fore")
    assert (row["n"], row["sd"]) == (len(fore), pytest.approx(np.sqrt(np.mean(fore**2))))
    for level in found[1:]:
        assert all(own["exposure"] for own in level["variables"])


def test_readings_that_scatter_more_in_one_group_are_seen():
    frames = cohort_frames(20260301, horses=40)
    readings = frames["readings"].copy()
    rng = np.random.default_rng(1)
    fore = readings["foot"].str[1] == "F"
    readings.loc[fore, OUTCOME] += rng.normal(0.0, 6.0, fore.sum())
    _, models, _, terms = study(frames | {"readings": readings})
    found = spreads(models.adjusted, random_effects(models.adjusted), terms)[0]
    side = next(own for own in found["variables"] if own["variable"] == "fore_hind")
    assert side["ratio"] > 1.5
    assert max(side["words"], key=lambda row: row["sd"])["word"] == "fore"

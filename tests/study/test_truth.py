"""Simulated effects come back, and agree with another program's; the order of the rows means nothing."""

from __future__ import annotations

import numpy as np
import pytest
from cohorts import adjusted_effects, cohort_frames, demo_plan, true_effect

from hoofcohort.study.check import check_with_statsmodels
from hoofcohort.study.effects import estimate_effects
from hoofcohort.study.outcome import study_outcome

PLAN = demo_plan()
PRIMARY = ["heel_underrun_deg", "frog_width_mm"]
DEMO_SEED = 20260301


@pytest.fixture(scope="module", params=[(DEMO_SEED, 64), (DEMO_SEED, 600)], ids=["demo", "600 horses"])
def frames(request):
    seed, horses = request.param
    return cohort_frames(seed, horses)


@pytest.mark.parametrize("outcome", PRIMARY)
def test_every_true_effect_is_within_three_standard_errors(frames, outcome):
    fit, effects = adjusted_effects(PLAN.for_outcome(outcome), frames)
    assert fit.optimum.converged
    assert len(effects) == 6
    assert [effect.weights is not None for effect in effects].count(True) == 1, "the contrast is recovered too"
    for effect, found in zip(effects, estimate_effects(fit, effects), strict=True):
        assert abs(found["estimate"] - true_effect(outcome, effect)) < 3 * found["std_error"], effect.label


def test_more_horses_give_narrower_intervals():
    errors = []
    for horses in (64, 600):
        fit, effects = adjusted_effects(PLAN.for_outcome(PRIMARY[0]), cohort_frames(DEMO_SEED, horses))
        errors.append([found["std_error"] for found in estimate_effects(fit, effects)])
    small, large = np.array(errors)
    assert (large < small / 2).all(), "600 horses are 9.4 times 64: about a third of the standard error"


@pytest.mark.parametrize("outcome", [*PRIMARY, "frog_ratio"])
def test_the_independent_check_agrees(outcome):
    fit, _ = adjusted_effects(PLAN.for_outcome(outcome), cohort_frames(DEMO_SEED))
    check = check_with_statsmodels(fit)
    assert check["available"] and check["converged"]
    for row in check["coefficients"]:
        assert row["theirs"] == pytest.approx(row["ours"], rel=1e-3, abs=1e-3 * row["ours_std_error"]), row["term"]
        assert row["theirs_std_error"] == pytest.approx(row["ours_std_error"], rel=1e-3), row["term"]
    total = sum(row["ours"] for row in check["variances"])
    for row in check["variances"]:
        assert row["theirs"] == pytest.approx(row["ours"], abs=1e-3 * total), row["level"]
    assert check["criterion"]["theirs"] == pytest.approx(check["criterion"]["ours"], abs=1e-3)
    assert check["criterion"]["ours"] <= check["criterion"]["theirs"] + 1e-6, "ours is the better optimum"


def test_the_order_of_the_rows_changes_nothing():
    frames = cohort_frames(DEMO_SEED, horses=24)
    settings = PLAN.for_outcome(PRIMARY[0])
    mixed = {name: frame.sample(frac=1, random_state=5).reset_index(drop=True) for name, frame in frames.items()}
    first, second = (study_outcome(settings, **tables).record for tables in (frames, mixed))
    assert first["flow"] == second["flow"]
    assert first["messages"] == second["messages"]
    for ours, theirs in zip(first["effects"], second["effects"], strict=True):
        for kind in ("adjusted", "unadjusted"):
            assert theirs[kind] == pytest.approx(ours[kind], rel=1e-6), ours["label"]
    labels = [
        [row["label"] for level in record["influence"]["levels"] for row in level["rows"]] for record in (first, second)
    ]
    assert labels[0] == labels[1]
    assert first["normality"]["horse"] == pytest.approx(second["normality"]["horse"], rel=1e-6)

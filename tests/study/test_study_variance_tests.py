"""Bootstrap tests of the levels of an outcome's adjusted model."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from hoofcohort.models import Grouping, build_design, fit_mixed_model
from hoofcohort.models.likelihood_ratio import likelihood_ratio_test
from hoofcohort.study import variance_tests as module
from hoofcohort.study.variance_tests import REPLICATES, SEED, variance_tests


@pytest.fixture(scope="module")
def fit():
    rng = np.random.default_rng(9)
    horse, foot, visit = (grid.ravel() for grid in np.meshgrid(range(14), range(4), range(3), indexing="ij"))
    y = 2 * rng.normal(size=14)[horse] + rng.normal(size=len(horse))
    grouping = Grouping.from_labels({"horse": horse, "foot": foot}, {"horse:visit": visit})
    return fit_mixed_model(y, build_design([], [], rows=len(y)), grouping)


def test_every_level_is_tested_and_only_what_is_there_is_found(fit):
    found = variance_tests(fit)
    assert list(found["levels"]) == ["horse", "foot", "horse:visit"]
    assert found["skipped"] == {}
    assert found["levels"]["horse"]["p"] == 1 / (1 + REPLICATES)
    assert min(found["levels"][name]["p"] for name in ("foot", "horse:visit")) > 0.05
    same = likelihood_ratio_test(fit, "horse", replicates=REPLICATES, seed=SEED).to_dict()
    assert found["levels"]["horse"] == same


def test_large_cohorts_and_failed_fits_are_not_simulated(fit, monkeypatch):
    broken = replace(fit, optimum=replace(fit.optimum, converged=False))
    assert variance_tests(broken)["levels"] == {}
    assert set(variance_tests(broken)["skipped"].values()) == {"the model did not converge"}
    monkeypatch.setattr(module, "MOST_READINGS", 100)
    assert variance_tests(fit)["skipped"]["foot"] == "more than 100 readings"

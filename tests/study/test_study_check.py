"""The independent check's limits and the shapes of residuals; its agreement with the engine is in test_truth."""

from __future__ import annotations

import json

import numpy as np
import pandas as pd
import pytest
from cohorts import adjusted_effects, cohort_frames, demo_plan

from hoofcohort.models import random_effects
from hoofcohort.study import check as module
from hoofcohort.study.check import check_with_statsmodels
from hoofcohort.study.normality import shapes
from hoofcohort.study.plain import plain


@pytest.fixture(scope="module")
def fit():
    return adjusted_effects(demo_plan().for_outcome("frog_ratio"), cohort_frames(20260301, horses=24))[0]


@pytest.mark.parametrize(
    ("limit", "value", "said"),
    [("MOST_ROWS", 50, "rows are more than the 50"), ("MOST_COLUMNS", 10, "random effects, more than the 10")],
)
def test_a_study_too_large_is_not_checked_and_says_so(fit, monkeypatch, limit, value, said):
    monkeypatch.setattr(module, limit, value)
    record = check_with_statsmodels(fit)
    assert record["available"] is False and record["converged"] is None
    assert record["reason"].startswith("not run: ") and said in record["reason"]
    assert record["coefficients"] == []


def test_warnings_become_sentences(fit, monkeypatch):
    monkeypatch.setattr(module, "METHODS", ["bfgs"])
    monkeypatch.setattr(module, "MOST_STEPS", 1)
    record = check_with_statsmodels(fit)
    assert record["converged"] is False
    assert record["warnings"] and all(text.startswith("statsmodels warns: ") for text in record["warnings"])
    assert all(text.endswith(".") and "\n" not in text for text in record["warnings"])


def test_shapes_are_those_of_pandas(fit):
    effects = random_effects(fit)
    got = shapes(fit, effects)
    assert list(got) == ["residual", *fit.grouping.names]
    residuals = pd.Series(fit.outcome - fit.fitted)
    assert got["residual"]["skew"] == pytest.approx(residuals.skew())
    assert got["residual"]["kurtosis"] == pytest.approx(residuals.kurt())
    assert got["horse"]["n"] == fit.grouping.sizes()["horse"]


def test_a_level_that_does_not_vary_has_no_shape(fit):
    effects = random_effects(fit)
    still = effects["foot"].__class__(("a",) * 9, np.zeros(9), np.zeros(9), effects["foot"].codes)
    few = effects["foot"].__class__(("a",) * 3, np.arange(3.0), np.zeros(3), effects["foot"].codes)
    got = shapes(fit, {"still": still, "few": few})
    assert got["still"] == {"skew": None, "kurtosis": None, "n": 9}
    assert got["few"] == {"skew": None, "kurtosis": None, "n": 3}


def test_records_become_plain_json():
    value = {"a": np.float64(1.5), "b": (np.int64(2), float("nan")), 3: np.array([np.inf, 1.0]), "c": [None, True, "x"]}
    got = plain(value)
    assert got == {"a": 1.5, "b": [2, None], "3": [None, 1.0], "c": [None, True, "x"]}
    assert json.loads(json.dumps(got, allow_nan=False)) == got

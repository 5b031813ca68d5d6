"""The independent check's limits and the shapes of residuals; its agreement with the engine is in test_truth."""

from __future__ import annotations

import json

import numpy as np
import pandas as pd
import pytest
from cohorts import adjusted_effects, cohort_frames, demo_plan

from hoofcohort.models import random_effects
from hoofcohort.models.record import plain
from hoofcohort.study import check as module
from hoofcohort.study.check import check_with_statsmodels
from hoofcohort.study.normality import shapes
from hoofcohort.study.outcome import _alarm


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
    monkeypatch.setattr(module, "METHODS", ("bfgs",))
    monkeypatch.setattr(module, "MOST_STEPS", 1)
    record = check_with_statsmodels(fit)
    assert record["converged"] is False
    assert "statsmodels warns: bfgs: Maximum Likelihood optimization failed to converge" in record["warnings"][0]
    starts = ("statsmodels warns: bfgs: ", "Its search by bfgs stopped at ")
    assert all(text.startswith(starts) for text in record["warnings"])
    assert all(text.endswith(".") and "\n" not in text for text in record["warnings"])


def test_a_search_that_stops_at_a_worse_fit_gives_way_to_the_next(fit, monkeypatch):
    searches, found = [], module._fit

    def stopped_early(own, method):
        searches.append(method)
        result = found(own, "lbfgs")
        if len(searches) == 1:
            result.llf -= 0.5  # as reported by a search that calls itself converged one unit of -2 log likelihood away
        return result

    monkeypatch.setattr(module, "_fit", stopped_early)
    record = check_with_statsmodels(fit)
    assert searches == list(module.METHODS[:2])
    assert record["converged"] is True
    assert record["criterion"]["theirs"] == pytest.approx(record["criterion"]["ours"], abs=module.WORSE)
    text = "Its search by lbfgs stopped at a -2 log likelihood 1 above the engine's, a worse fit."
    assert text in record["warnings"]


def test_where_every_search_stops_short_the_best_is_shown_as_not_converged(fit, monkeypatch):
    searches, found = [], module._fit

    def stopped_early(own, method):
        searches.append(method)
        result = found(own, "lbfgs")
        result.llf -= {"lbfgs": 3.0, "bfgs": 0.5, "powell": 1.0}[method]
        return result

    monkeypatch.setattr(module, "_fit", stopped_early)
    record = check_with_statsmodels(fit)
    assert searches == ["lbfgs", "bfgs", "powell"]
    assert record["available"] is True and record["converged"] is False
    assert record["criterion"]["theirs"] - record["criterion"]["ours"] == pytest.approx(1.0, abs=module.WORSE)


def test_an_engine_that_is_not_at_the_optimum_is_told_on(fit):
    check = check_with_statsmodels(fit)
    assert _alarm(check) == []
    check["criterion"]["ours"] = check["criterion"]["theirs"] + 0.25
    (text,) = _alarm(check)
    assert "0.25 lower" in text and text.endswith("must not be used.")


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

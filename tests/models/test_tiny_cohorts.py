"""Cohorts of a handful of horses, where the data say little: an answer, or the reason why there is none."""

import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from hoofcohort.errors import ModelError
from hoofcohort.models import Covariate, Grouping, build_design, fit_mixed_model
from hoofcohort.models.deletions import delete_groups
from hoofcohort.models.inference import _f_approximation

REFERENCE = Path(__file__).parents[1] / "reference"


def tiny_cohort(seed):
    """Return outcome, design and grouping of three to six horses, each with few feet and visits."""
    draw = np.random.default_rng(seed)
    rows = [
        (horse, foot, visit)
        for horse in range(draw.integers(3, 7))
        for foot in range(draw.choice([1, 2, 3]))
        for visit in range(draw.choice([1, 2, 3]))
        for _ in range(draw.choice([1, 1, 2]))
    ]
    horse, foot, visit = np.array(rows).T
    sizes = draw.choice([0.0, 0.1, 1.0, 10.0], size=3)
    y = sizes[0] * draw.normal(size=7)[horse] + sizes[1] * draw.normal(size=(7, 3))[horse, foot]
    y += sizes[2] * draw.normal(size=(7, 3))[horse, visit] + draw.normal(size=len(rows))
    columns = [Covariate("age", draw.normal(size=7)[horse]), Covariate("days", draw.normal(size=len(rows)))]
    columns = columns[: draw.integers(3)]
    design = build_design(columns, [column.name for column in columns], rows=len(rows))
    return y, design, Grouping.from_labels({"horse": horse, "foot": foot}, {"horse:visit": visit})


@pytest.mark.filterwarnings("error")
def test_a_fit_has_standard_errors_or_is_refused_and_so_is_every_deletion():
    fitted = explained = 0
    for seed in range(300):
        y, design, grouping = tiny_cohort(seed)
        try:
            fit = fit_mixed_model(y, design, grouping)
        except ModelError:
            continue
        fitted += 1
        assert all(estimate.std_error > 0 for estimate in fit.linear(np.eye(len(design.names))[fit.basis.kept])), seed
        found = delete_groups(fit, "horse")
        for errors, reason in zip(found.std_errors, found.reasons, strict=True):
            assert reason or (errors > 0).all(), seed
        explained += sum(map(bool, found.reasons))
    assert fitted > 200 and explained > 100


def test_of_two_minima_the_lower_is_found():
    data = pd.read_csv(REFERENCE / "data" / "two_minima.csv")
    ends = json.loads((REFERENCE / "two_minima.json").read_text())["ends"]
    grouping = Grouping.from_labels({"horse": data.horse, "foot": data.foot}, {"horse:visit": data.visit})
    fit = fit_mixed_model(data.y, build_design([], [], rows=len(data)), grouping)
    assert fit.criterion == pytest.approx(ends[0], abs=1e-7)
    assert ends[-1] - ends[0] > 0.1
    assert fit.boundary == ["horse"]


def test_a_likelihood_without_limit_is_refused_and_the_restricted_one_fitted():
    """One horse has its feet and visits crossed, five have three readings: levels and covariate fit 19 rows exactly."""
    horse = np.repeat(range(6), [4, 3, 3, 3, 3, 3])
    foot, visit = np.array([(0, 0), (0, 1), (1, 0), (1, 1), *[(0, 0), (0, 1), (1, 0)] * 5]).T
    draw = np.random.default_rng(5)
    y = draw.normal(size=6)[horse] + draw.normal(size=len(horse))
    design = build_design([Covariate("days", draw.normal(size=len(horse)))], ["days"])
    grouping = Grouping.from_labels({"horse": horse, "foot": foot}, {"horse:visit": visit})
    with pytest.raises(ModelError, match="likelihood grows without limit"):
        fit_mixed_model(y, design, grouping, "ml")
    groups = [np.eye(len(parents))[codes] for codes, parents in zip(grouping.codes, grouping.parents, strict=True)]
    falls = []
    for ratio in (1e2, 1e4, 1e6):
        v = np.eye(len(y)) + ratio * sum(z @ z.T for z in groups)
        inverse = np.linalg.inv(v)
        x = design.matrix
        rest = y - x @ np.linalg.solve(x.T @ inverse @ x, x.T @ inverse @ y)
        falls.append(np.linalg.slogdet(v)[1] + len(y) * np.log(rest @ inverse @ rest))
    assert falls[0] - falls[1] > 1 and falls[1] - falls[2] > 1


def test_no_f_test_where_its_expectation_would_not_be_finite():
    assert np.isnan(_f_approximation(2, 2.0, 2.0)).all()
    assert np.isnan(_f_approximation(3, 4.0, 3.5)).all()
    assert np.isfinite(_f_approximation(3, 1.0, 0.5)).all()

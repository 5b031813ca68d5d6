"""Holm's adjustment and the family of tests, held against statsmodels and a printed example."""

from __future__ import annotations

import numpy as np
import pytest
from cohorts import demo_plan
from hypothesis import given
from hypothesis import strategies as st
from statsmodels.stats.multitest import multipletests

from hoofcohort.models.multiplicity import holm
from hoofcohort.plan import Plan
from hoofcohort.study.multiplicity import family_table

# Benjamini & Hochberg, J R Stat Soc B 1995;57:289-300: the fifteen p values of their example, of which Bonferroni's
# method rejects 3 at 5%.
PRINTED = [
    0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.3240, 0.4262, 0.5719, 0.6528, 0.7590, 1.0,
]  # fmt: skip
BONFERRONI_REJECTS = 3


def test_the_printed_example():
    adjusted = holm(PRINTED)
    assert sum(p * len(PRINTED) <= 0.05 for p in PRINTED) == BONFERRONI_REJECTS
    assert sum(p <= 0.05 for p in adjusted) == BONFERRONI_REJECTS, ".0095 x 12 is above .05"
    assert adjusted[:4] == pytest.approx([0.0015, 0.0056, 0.0247, 0.114])


@pytest.mark.parametrize("size", [1, 2, 10])
def test_holm_agrees_with_statsmodels(size):
    p_values = np.random.default_rng(size).beta(0.4, 2.0, size)
    for values in (p_values, np.round(p_values, 1)):
        assert holm(values) == pytest.approx(multipletests(values, method="holm")[1], abs=1e-12)


@given(st.lists(st.floats(0, 1), min_size=1, max_size=12), st.integers(0, 12))
def test_a_missing_p_value_does_not_count(p_values, where):
    where = min(where, len(p_values))
    with_gap = holm([*p_values[:where], float("nan"), *p_values[where:]])
    assert np.isnan(with_gap[where])
    assert with_gap[:where] + with_gap[where + 1 :] == holm(p_values)


def result(outcome: str, **p_values: float | None) -> dict:
    tests = [{"term": t, "num_df": 2, "den_df": 40.0, "f": 3.0, "p": p} for t, p in p_values.items()]
    return {"outcome": {"name": outcome}, "adjusted": {"tests": tests}}


RESULTS = [
    result("frog_ratio", diet=0.001, terrain=0.001, trim_interval_days=0.001, season=0.001),
    result("frog_width_mm", diet=0.20, terrain=0.01, season=0.0),
    result("heel_underrun_deg", diet=0.012, terrain=0.5, trim_interval_days=0.03, season=0.0),
]


def with_multiplicity(**settings: str) -> Plan:
    plan = demo_plan()
    return plan.model_copy(update={"multiplicity": plan.multiplicity.model_copy(update=settings)})


def test_the_family_is_the_exposures_of_the_primary_outcomes():
    rows = family_table(RESULTS, demo_plan())
    exposures = ["diet", "terrain", "trim_interval_days"]
    assert [(row["outcome"], row["exposure"]) for row in rows] == [
        (outcome, exposure) for outcome in ("heel_underrun_deg", "frog_width_mm") for exposure in exposures
    ]
    # By hand, five tests: .01 x 5 = .05; .012 x 4 = .048, held up by .05; .03 x 3; .20 x 2; .5.
    expected = [0.05, 0.5, 0.09, 0.4, 0.05, None]
    assert [row["p_adjusted"] for row in rows] == [p if p is None else pytest.approx(p) for p in expected]
    assert rows[0] == {
        "outcome": "heel_underrun_deg", "exposure": "diet", "num_df": 2, "den_df": 40.0, "f": 3.0, "p": 0.012,
        "p_adjusted": pytest.approx(0.05),
    }  # fmt: skip


def test_the_plan_may_take_all_outcomes_or_adjust_nothing():
    assert len(family_table(RESULTS, with_multiplicity(family="all"))) == 9
    rows = family_table(RESULTS, with_multiplicity(method="none"))
    assert [row["p_adjusted"] for row in rows] == [row["p"] for row in rows]


def test_an_outcome_not_yet_fitted_is_not_in_the_family():
    assert {row["outcome"] for row in family_table(RESULTS[:2], demo_plan())} == {"frog_width_mm"}

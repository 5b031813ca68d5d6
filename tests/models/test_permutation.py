"""The permutation test, beside scipy's and all permutations of a small example."""

from itertools import permutations

import numpy as np
import pytest
from scipy import stats

from hoofcohort.errors import ModelError
from hoofcohort.models.permutation import isolate, permutation_test


def test_isolated_column_has_the_function_as_its_coefficient():
    draw = np.random.default_rng(1)
    columns, y = draw.normal(size=(50, 4)), draw.normal(size=50)
    function = np.array([0.0, 1.0, -1.0, 0.5])
    x, rest = isolate(columns, function)
    turned = np.linalg.lstsq(np.column_stack([x, rest]), y, rcond=None)[0]
    plain = np.linalg.lstsq(columns, y, rcond=None)[0]
    assert turned[0] == pytest.approx(function @ plain, rel=1e-12)


def test_single_stratum_agrees_with_all_permutations_and_with_scipy():
    draw = np.random.default_rng(2)
    x, y = draw.normal(size=7), draw.normal(size=7)
    x += 0.8 * y
    observed = abs(np.corrcoef(x, y)[0, 1])
    every = [abs(np.corrcoef(x, y[list(order)])[0, 1]) >= observed - 1e-12 for order in permutations(range(7))]
    alone = np.zeros(7, int)
    found = permutation_test(y, x, np.ones((7, 1)), np.arange(7), alone, 40_000, seed=3)
    assert found.p == pytest.approx(np.mean(every), abs=4 * found.p_std_error)
    theirs = stats.permutation_test(
        (y,), lambda v: np.corrcoef(x, v)[0, 1], permutation_type="pairings", n_resamples=np.inf
    )
    assert found.correlation == pytest.approx(theirs.statistic, rel=1e-12)


def test_units_exchange_within_their_strata_only():
    x = np.array([0.0, 0, 1, 1, 5, 5, 6, 6])
    y = np.array([0.0, 0, 1, 1, 9, 9, 10, 10])
    units, strata = np.repeat(np.arange(4), 2), np.repeat([0, 1], 4)
    found = permutation_test(y, x, np.ones((8, 1)), units, strata, 4000, seed=1)
    # two strata of two units: four orders, of which the observed one and its mirror are as extreme
    assert found.p == pytest.approx(0.5, abs=0.04)
    assert (found.units, found.strata) == (4, 2)


def test_constant_exposure_within_every_stratum_is_refused():
    x, y = np.repeat([0.0, 1.0], 4), np.arange(8.0)
    with pytest.raises(ModelError, match="nothing can be exchanged"):
        permutation_test(y, x, np.ones((8, 1)), np.arange(8), np.repeat([0, 1], 4))


@pytest.mark.slow
def test_keeps_its_level_with_skewed_horses_of_unequal_size():
    p = []
    for seed in range(600):
        draw = np.random.default_rng(seed)
        units = np.repeat(np.arange(24), draw.integers(2, 9, 24))
        x = draw.normal(size=24)[units]
        age = draw.normal(size=len(units)) + 0.5 * x
        y = draw.exponential(size=24)[units] + 0.3 * age + draw.normal(size=len(units))
        nuisance = np.column_stack([np.ones(len(units)), age])
        p.append(permutation_test(y, x, nuisance, units, np.zeros(len(units), int), 499, seed).p)
    assert np.mean(np.array(p) <= 0.05) == pytest.approx(0.05, abs=4 * np.sqrt(0.05 * 0.95 / 600))

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
    centred = x - x.mean()

    def robust(outcome):
        """Slope over its standard error by White's estimator (HC0), numbers apart that do not change."""
        rest = outcome - outcome.mean()
        return abs(centred @ rest) / np.sqrt(centred**2 @ rest**2)

    alone = np.zeros(7, int)
    found = permutation_test(y, x, np.ones((7, 1)), np.arange(7), alone, 40_000, seed=3)
    theirs = stats.permutation_test(
        (y,), robust, permutation_type="pairings", n_resamples=np.inf, alternative="greater"
    )
    assert len(theirs.null_distribution) == len(list(permutations(range(7))))
    assert found.p == pytest.approx(theirs.pvalue, abs=4 * found.p_std_error)
    assert found.correlation == pytest.approx(np.corrcoef(x, y)[0, 1], rel=1e-12)


def test_units_exchange_within_their_strata_only():
    x = np.array([0.0, 0, 1, 1, 5, 5, 6, 6])
    y = np.array([0.0, 0, 1, 1, 9, 9, 10, 10])
    units, strata = np.repeat(np.arange(4), 2), np.repeat([0, 1], 4)
    found = permutation_test(y, x, np.ones((8, 1)), units, strata, 4000, seed=1)
    # two strata of two units: four orders, of which the observed one and its mirror are as extreme
    assert found.p == pytest.approx(0.5, abs=0.04)
    assert (found.units, found.strata) == (4, 2)


@pytest.mark.parametrize("balanced", [[0.0, 0.0, 1.0, 1.0], [-1.0, -1.0, 1.0, 1.0], [0.1, 0.1, 0.7, 0.7]])
def test_a_column_that_is_alike_in_all_units_changes_nothing(balanced):
    """As fore and hind are when all four feet of every horse were read: its unit means differ by rounding alone."""
    draw = np.random.default_rng(9)
    units = np.repeat(np.arange(30), 4)
    x, age = np.repeat(draw.normal(size=(2, 30)), 4, axis=1)
    y = draw.normal(size=120) + 0.3 * x
    plain = np.column_stack([np.ones(120), age])
    alone = permutation_test(y, x, plain, units, np.zeros(120, int), 999)
    column = (np.tile(balanced, 30) + age) - age
    found = permutation_test(y, x, np.column_stack([plain, column, column / 3]), units, np.zeros(120, int), 999)
    assert (found.correlation, found.p) == (pytest.approx(alone.correlation, rel=1e-9), alone.p)
    means = [values.reshape(30, 4).mean(axis=1) for values in (y, x, age)]
    theirs = np.linalg.inv(np.corrcoef(means))
    assert found.correlation == pytest.approx(-theirs[0, 1] / np.sqrt(theirs[0, 0] * theirs[1, 1]), rel=1e-9)


def test_an_exposure_that_is_alike_in_all_units_is_refused():
    x = np.tile([-1.0, 1.0, -1.0, 1.0], 10)
    y = np.random.default_rng(4).normal(size=40)
    with pytest.raises(ModelError, match="nothing can be exchanged"):
        permutation_test(y, x, np.ones((40, 1)), np.repeat(np.arange(10), 4), np.zeros(40, int))


def test_constant_exposure_within_every_stratum_is_refused():
    x, y = np.repeat([0.0, 1.0], 4), np.arange(8.0)
    with pytest.raises(ModelError, match="nothing can be exchanged"):
        permutation_test(y, x, np.ones((8, 1)), np.arange(8), np.repeat([0, 1], 4))


def level(units, strata, columns, sizes, cohorts=600, skewed=False):
    """Return how often the test rejects at 5% where nothing goes together, and the standard error of that."""
    p = []
    for seed in range(cohorts):
        draw = np.random.default_rng(seed)
        size = sizes(draw, units)
        unit, stratum = np.repeat(np.arange(units), size), np.arange(units) % strata
        own = draw.exponential(size=units) if skewed else draw.normal(size=units)
        y = own[unit] + draw.normal(size=len(unit)) + draw.normal(size=strata)[stratum[unit]]
        nuisance = np.column_stack([np.ones(len(unit)), draw.normal(size=(units, columns))[unit]])
        x = draw.normal(size=units)
        p.append(permutation_test(y, x[unit], nuisance, unit, stratum[unit], 399, seed).p)
    return np.mean(np.array(p) <= 0.05), np.sqrt(0.05 * 0.95 / cohorts)


DESIGNS = [
    (16, 1, 6, lambda draw, units: np.full(units, 6), False),
    (24, 1, 10, lambda draw, units: np.full(units, 6), False),
    (52, 12, 8, lambda draw, units: draw.integers(2, 16, units), False),
    (24, 1, 2, lambda draw, units: draw.integers(2, 9, units), True),
]


@pytest.mark.slow
@pytest.mark.parametrize("design", DESIGNS)
def test_keeps_its_level_with_columns_that_differ_between_units_of_unequal_size(design):
    found, error = level(*design[:4], skewed=design[4])
    assert found == pytest.approx(0.05, abs=4 * error)

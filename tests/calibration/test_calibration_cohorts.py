"""The invented cohorts of the calibration have the shape and the moments that the table's head claims."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import skew

from hoofcohort.calibration.cells import EFFECTS, HORSES, OUTCOMES, SPREADS, Cell, cells
from hoofcohort.calibration.cohorts import draw


def test_the_cells_are_those_that_issue_and_table_name():
    names = [cell.name for cell in cells()]
    assert len(names) == len(set(names)) == 5 * 2 * 2 * 2
    assert HORSES == (8, 12, 20, 40, 80)
    assert [Cell.from_name(name).name for name in names] == names
    with pytest.raises(KeyError):
        Cell.from_name("13-balanced-normal-clear")


def test_a_number_gives_the_same_cohort_and_another_another():
    cell = Cell(12, "ragged", "skewed", "clear")
    first, again, other = draw(cell, 3), draw(cell, 3), draw(cell, 4)
    np.testing.assert_array_equal(first.outcomes, again.outcomes)
    np.testing.assert_array_equal(first.exposures, again.exposures)
    assert not np.array_equal(first.outcomes[:50], other.outcomes[:50])
    assert len({tuple(column) for column in first.outcomes.T}) == first.outcomes.shape[1] == OUTCOMES


def test_balanced_is_every_foot_at_every_visit():
    cohort = draw(Cell(8, "balanced", "normal", "clear"), 0)
    keys = set(zip(cohort.horse, cohort.foot, cohort.visit, strict=True))
    assert keys == {(horse, foot, visit) for horse in range(8) for foot in range(4) for visit in range(3)}


def test_ragged_keeps_every_horse_with_one_to_four_visits_and_some_feet_missing():
    cohorts = [draw(Cell(20, "ragged", "normal", "clear"), number) for number in range(50)]
    visits = []
    for cohort in cohorts:
        assert set(cohort.horse) == set(range(20))
        assert len(set(zip(cohort.horse, cohort.foot, cohort.visit, strict=True))) == len(cohort.horse)
        visits += [cohort.visit[cohort.horse == horse].max() + 1 for horse in range(20)]
    assert set(visits) == {1, 2, 3, 4}
    share = np.mean([len(cohort.horse) / 20 for cohort in cohorts]) / (2.5 * 4)
    assert share == pytest.approx(0.85, abs=0.02)


def test_exposures_vary_at_their_own_level_only():
    cohort = draw(Cell(20, "ragged", "normal", "clear"), 1)
    horse, visit, foot = cohort.exposures.T
    for values, groups in (
        (horse, cohort.horse),
        (visit, cohort.horse * 10 + cohort.visit),
        (foot, cohort.horse * 10 + cohort.foot),
    ):
        assert all(np.ptp(values[groups == group]) == 0 for group in np.unique(groups))
    assert horse[np.unique(cohort.horse, return_index=True)[1]].sum() == 10
    assert any(np.ptp(visit[cohort.horse == own]) > 0 for own in range(20))
    assert any(np.ptp(foot[cohort.horse == own]) > 0 for own in range(20))


@pytest.mark.parametrize("spread", SPREADS)
@pytest.mark.parametrize(("errors", "skewness"), [("normal", 0.0), ("skewed", 2.0)])
def test_what_is_left_of_the_outcome_has_the_declared_variance_and_shape(spread, errors, skewness):
    """Sums of independent terms: variances add, and so do third cumulants (skewness times cubed SD)."""
    cell = Cell(80, "balanced", errors, spread)
    left = [
        cohort.outcomes - EFFECTS[0] - (cohort.exposures @ np.array(EFFECTS[1:]))[:, None]
        for cohort in (draw(cell, number) for number in range(4))
    ]
    sds = np.array(SPREADS[spread])
    total = np.sum(sds**2)
    pooled = np.concatenate([own.ravel() for own in left])
    assert pooled.mean() == pytest.approx(0, abs=0.06)
    assert pooled.var() == pytest.approx(total, rel=0.06)
    assert skew(pooled) == pytest.approx(skewness * np.sum(sds**3) / total**1.5, abs=0.12)
    readings = np.concatenate([own.reshape(80, 3, 4, OUTCOMES)[:, 0].mean(axis=1).ravel() for own in left])
    assert readings.var() == pytest.approx(sds[0] ** 2 + sds[1] ** 2 / 4 + sds[2] ** 2 + sds[3] ** 2 / 4, rel=0.08)

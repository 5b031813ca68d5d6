"""Draw invented cohorts: their shape, their exposures, and outcomes of known truth."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hoofcohort.calibration.cells import EFFECTS, FEET, KEPT, MOST_VISITS, OUTCOMES, SEED, SPREADS, VISITS, Cell

Array = NDArray[np.floating]
Ints = NDArray[np.int64]


@dataclass(frozen=True)
class Cohorts:
    """Cohorts that differ in their outcomes only.

    Attributes
    ----------
    horse, foot, visit : int arrays, shape (n,)
        Feet and visits are numbered within the horse.
    exposures : array, shape (n, 3)
        Of the horse (0 or 1), of the horse's visit and of the foot.
    outcomes : array, shape (n, S)
        One column a cohort.
    """

    horse: Ints
    foot: Ints
    visit: Ints
    exposures: Array
    outcomes: Array


def draw(cell: Cell, number: int) -> Cohorts:
    """Draw the cohorts of one design of a cell, shape and exposures anew; the same number gives the same cohorts."""
    rng = np.random.default_rng([SEED, *cell.name.encode(), number])
    horses = cell.horses
    horse, foot, visit = _readings(rng, cell)
    exposures = np.column_stack(
        [
            rng.permutation(np.arange(horses) % 2)[horse],
            rng.standard_normal((horses, MOST_VISITS))[horse, visit],
            rng.standard_normal((horses, FEET))[horse, foot],
        ]
    ).astype(float)
    of_horse, of_foot, of_visit, of_reading = SPREADS[cell.spread]
    outcomes = (EFFECTS[0] + exposures @ np.array(EFFECTS[1:]))[:, None] + np.zeros(OUTCOMES)
    outcomes += of_horse * _noise(rng, cell, (horses, OUTCOMES))[horse]
    outcomes += of_foot * _noise(rng, cell, (horses, FEET, OUTCOMES))[horse, foot]
    outcomes += of_visit * _noise(rng, cell, (horses, MOST_VISITS, OUTCOMES))[horse, visit]
    outcomes += of_reading * _noise(rng, cell, (len(horse), OUTCOMES))
    return Cohorts(horse, foot, visit, exposures, outcomes)


def _readings(rng: np.random.Generator, cell: Cell) -> tuple[Ints, Ints, Ints]:
    """Return horse, foot and visit of every reading.

    Balanced: four feet at three visits. Ragged: one to four visits, equally likely, and single readings missing at
    random; a horse of which nothing is left keeps the first foot of its first visit.
    """
    horse, visit, foot = (axis.ravel() for axis in np.indices((cell.horses, MOST_VISITS, FEET)))
    if cell.shape == "balanced":
        taken = visit < VISITS
    else:
        taken = visit < rng.integers(1, MOST_VISITS + 1, cell.horses)[horse]
        taken &= rng.random(len(horse)) < KEPT
        seen = np.bincount(horse, weights=taken, minlength=cell.horses) > 0
        taken |= ~seen[horse] & (visit == 0) & (foot == 0)
    return horse[taken], foot[taken], visit[taken]


def _noise(rng: np.random.Generator, cell: Cell, shape: tuple[int, ...]) -> Array:
    """Return draws of mean 0 and SD 1: normal, or exponential (skewness 2, excess kurtosis 6) less its mean."""
    if cell.errors == "normal":
        return rng.standard_normal(shape)
    return rng.standard_exponential(shape) - 1.0

"""Draw an invented cohort: its shape, its exposures, and an outcome of known truth."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hoofcohort.calibration.cells import EFFECTS, FEET, KEPT, MOST_VISITS, SEED, SPREADS, VISITS, Cell

Array = NDArray[np.floating]
Ints = NDArray[np.int64]


@dataclass(frozen=True)
class Cohort:
    """Readings of one cohort.

    Attributes
    ----------
    horse, foot, visit : int arrays, shape (n,)
        Feet and visits are numbered within the horse.
    exposures : array, shape (n, 3)
        Of the horse (0 or 1), of the horse's visit and of the foot.
    outcome : array, shape (n,)
    """

    horse: Ints
    foot: Ints
    visit: Ints
    exposures: Array
    outcome: Array


def draw(cell: Cell, number: int) -> Cohort:
    """Draw one cohort of a cell, shape and exposures anew; the same number gives the same cohort."""
    rng = np.random.default_rng([SEED, *cell.name.encode(), number])
    count = cell.horses
    horse, foot, visit = _readings(rng, cell)
    exposures = np.column_stack(
        [
            rng.permutation(np.arange(count) % 2)[horse],
            rng.standard_normal((count, MOST_VISITS))[horse, visit],
            rng.standard_normal((count, FEET))[horse, foot],
        ]
    ).astype(float)
    of_horse, of_foot, of_visit, of_reading = SPREADS[cell.spread]
    outcome = EFFECTS[0] + exposures @ np.array(EFFECTS[1:])
    outcome += of_horse * _noise(rng, cell, (count,))[horse]
    outcome += of_foot * _noise(rng, cell, (count, FEET))[horse, foot]
    outcome += of_visit * _noise(rng, cell, (count, MOST_VISITS))[horse, visit]
    outcome += of_reading * _noise(rng, cell, horse.shape)
    return Cohort(horse, foot, visit, exposures, outcome)


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

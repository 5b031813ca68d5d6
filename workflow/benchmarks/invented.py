"""Invented cohorts for the benchmarks: ten columns and an intercept, horse > foot, visits within the horse."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hoofcohort.models import Covariate, Design, Grouping, build_design

Array = NDArray[np.floating]
COLUMNS = tuple(f"x{number}" for number in range(1, 11))
TRUTH = np.array([1, -1, 0.5, 1, 1.5, 0.1, -0.3, 2, 0.05, -0.5])
YARD, HORSE, FOOT, VISIT = 1.5, 3.0, 1.5, 0.8
"""SD of the random effects; that of a single reading is 1."""


@dataclass(frozen=True)
class Invented:
    """Readings: labels of shape (n,), unique over the whole cohort; ``x`` of shape (n, 10); ``y``."""

    yard: NDArray[np.int64]
    horse: NDArray[np.int64]
    foot: NDArray[np.int64]
    visit: NDArray[np.int64]
    x: Array
    y: Array

    def grouping(self, visits: bool, yards: bool = False) -> Grouping:
        """Number the groups."""
        nested = {"yard": self.yard} if yards else {}
        return Grouping.from_labels(
            {**nested, "horse": self.horse, "foot": self.foot}, {"horse:visit": self.visit} if visits else None
        )

    def design(self) -> Design:
        """Return the intercept and the ten columns."""
        return build_design([Covariate(name, self.x[:, k]) for k, name in enumerate(COLUMNS)], list(COLUMNS))


def invent(horses: int, kept: float = 0.9, visits: bool = False, yards: int = 1, seed: int = 1) -> Invented:
    """Draw horses x 4 feet x 3 visits, of which a share is kept.

    Three columns vary by visit or foot (trim interval, fore foot, their product), the others by horse. ``visits`` adds
    random effects of the horse's visits, ``yards`` above 1 those of as many yards.
    """
    rng = np.random.default_rng(seed)
    horse, foot, visit = (axis.ravel() for axis in np.indices((horses, 4, 3)))
    taken = rng.random(len(horse)) < kept
    horse, foot, visit = horse[taken], foot[taken], visit[taken]
    diet, terrain = rng.integers(0, 3, horses)[horse], rng.integers(0, 4, horses)[horse]
    age, mass = rng.normal(10, 4, horses)[horse], rng.normal(0, 1, horses)[horse]
    trim, fore = rng.uniform(3, 12, (horses, 3))[horse, visit], (foot < 2).astype(float)
    dummies = [diet == 1, diet == 2, terrain == 1, terrain == 2, terrain == 3]
    x = np.column_stack([*dummies, age, trim, fore, fore * trim, mass]).astype(float)
    yard = rng.integers(0, yards, horses)[horse]
    y = 50 + x @ TRUTH + HORSE * rng.standard_normal(horses)[horse] + rng.standard_normal(len(horse))
    y += FOOT * rng.standard_normal((horses, 4))[horse, foot]
    if visits:
        y += VISIT * rng.standard_normal((horses, 3))[horse, visit]
    if yards > 1:
        y += YARD * rng.standard_normal(yards)[yard]
    return Invented(yard, horse, 4 * horse + foot, 3 * horse + visit, x, y)

"""The least of the criterion over the variances while one quantity of the model is held at a given value."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from hoofcohort.models.criterion import Evaluation, best_residual, derive
from hoofcohort.models.statistics import Statistics
from hoofcohort.models.sweep import Swept, sweep

Array = NDArray[np.floating]
MOST_STEPS = 60
SMALLEST_RESIDUAL = 1e-5
"""Residual variance, in units of all free ones, below which it is not followed: rounding takes over there."""
LAST_PROMISE = 1e-9
"""Fall of the criterion that a Newton step promises, below which half of it is taken off instead of the step."""


@dataclass(frozen=True)
class Hold:
    """What is held: a variance, a share of the total variance, a coefficient, or nothing.

    The held variance is ``amount + odds * sum of the free variances``; without one every variance is free.

    Attributes
    ----------
    position : int, optional
        Of the held variance, residual = 0.
    amount : float
        Value of a held variance.
    odds : float
        rho / (1 - rho) of a held share rho.
    columns : array, shape (q, q'), optional
        Turns ``W = [X y]`` into the columns left when a coefficient is held.
    """

    position: int | None = None
    amount: float = 0.0
    odds: float = 0.0
    columns: Array | None = None

    def free(self, count: int) -> NDArray[np.intp]:
        """Return the positions of the free variances among ``count``."""
        return np.array([k for k in range(count) if k != self.position], np.intp)

    def slopes(self, count: int) -> Array:
        """Return the derivatives of all variances in the free ones, shape (count, free)."""
        slopes = np.eye(count)[:, self.free(count)]
        if self.position is not None:
            slopes[self.position] = self.odds
        return slopes

    def floor(self, free: Array) -> Array:
        """Return the least values of the free variances: zeros, but for the residual."""
        floor = np.zeros_like(free)
        if self.position != 0:
            floor[0] = min(free[0], SMALLEST_RESIDUAL * free.sum())
        return floor

    def variances(self, free: Array, count: int) -> Array:
        """Return all variances, shape (count,)."""
        everything = self.slopes(count) @ free
        if self.position is not None:
            everything[self.position] += self.amount
        return everything


@dataclass(frozen=True)
class Least:
    """Where the search ended.

    Attributes
    ----------
    criterion : float
    at : Evaluation
    free : array
        The free variances.
    swept : Swept
        The sweep at these variances, before ``Hold.columns``.
    """

    criterion: float
    at: Evaluation
    free: Array
    swept: Swept = field(repr=False)


def least(statistics: Statistics, restricted: bool, hold: Hold, start: Array) -> Least:
    """Minimise the criterion over free variances >= 0 by Newton's method, from ``start`` (residual > 0)."""
    count = statistics.components + 1
    slopes = hold.slopes(count)
    here = _evaluate(statistics, restricted, hold, start)
    for _ in range(MOST_STEPS):
        gradient = slopes.T @ here.at.gradient
        floor = hold.floor(here.free)
        open_ = (here.free > floor) | (gradient < 0)
        direction = np.zeros_like(here.free)
        direction[open_] = _direction(here, slopes[:, open_], gradient[open_])
        promised = -float(gradient @ direction)
        if 0.0 <= promised < LAST_PROMISE:
            return Least(here.criterion - promised / 2, here.at, here.free, here.swept)
        following = _line_search(statistics, restricted, hold, here, direction, floor)
        if following is None:
            break
        here = following
    return here


def _evaluate(statistics: Statistics, restricted: bool, hold: Hold, free: Array) -> Least:
    """Evaluate at free variances or, where only their ratios are held, at their best common multiple."""
    count = statistics.components + 1
    variances = hold.variances(free, count)
    ratios = variances[1:] / variances[0]
    swept = sweep(statistics, ratios)
    inside = swept
    if hold.columns is not None:
        inside = Swept(hold.columns.T @ swept.cross @ hold.columns, swept.log_determinant)
    if hold.amount == 0.0:
        factor = best_residual(inside, statistics.rows, restricted) / variances[0]
        variances, free = variances * factor, free * factor
    at = derive(inside, statistics.rows, variances, restricted)
    return Least(float(at.criterion), at, free, swept)


def _direction(here: Least, slopes: Array, gradient: Array) -> Array:
    """Return Newton's step, with the observed Hessian where it is positive definite, else the expected one."""
    for matrix in (here.at.hessian, here.at.expected):
        part = slopes.T @ matrix @ slopes
        size = np.sqrt(np.maximum(np.abs(np.diag(part)), 1e-300))
        scaled = part / np.outer(size, size)
        if np.isfinite(scaled).all() and len(scaled) and np.linalg.eigvalsh(scaled)[0] > 1e-10:
            return -np.linalg.solve(scaled, gradient / size) / size
    return -gradient * here.at.variances.sum() ** 2


def _line_search(
    statistics: Statistics, restricted: bool, hold: Hold, here: Least, direction: Array, floor: Array
) -> Least | None:  # fmt: skip
    """Shorten the step, held at its floor from below, until the criterion does not rise; None when it cannot."""
    slack = 1e-11 * (1.0 + abs(here.criterion))
    length = 1.0
    for _ in range(40):
        free = np.maximum(here.free + length * direction, floor)
        if hold.variances(free, len(here.at.variances))[0] > 0.05 * here.at.variances[0]:
            following = _evaluate(statistics, restricted, hold, free)
            if following.criterion <= here.criterion + slack:
                return following
        length /= 2
    return None

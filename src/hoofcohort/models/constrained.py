"""The least of the criterion over the variances while one quantity of the model is held at a given value."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hoofcohort.models.criterion import Evaluation, best_residual, derive
from hoofcohort.models.statistics import Statistics
from hoofcohort.models.sweep import Swept, sweep

Array = NDArray[np.floating]
MOST_STEPS = 60
SMALLEST_RESIDUAL = 1e-5
"""Residual variance, in units of all free ones, below which it is not followed: rounding takes over there."""


@dataclass(frozen=True)
class Hold:
    """What is held, at a value x: a variance, a share of the total variance, or a coefficient.

    The held variance is ``amount + odds * sum of the free variances``; without one every variance is free.

    Attributes
    ----------
    position : int, optional
        Of the held variance, residual = 0.
    amount, amount_slope : float
        Value of a held variance, and its derivative in x.
    odds, odds_slope : float
        rho / (1 - rho) of a held share rho, and its derivative in x.
    columns, columns_slope : arrays, shape (q, q'), optional
        Turns ``W = [X y]`` into the columns left when a coefficient is held, and its derivative in x.
    """

    position: int | None = None
    amount: float = 0.0
    amount_slope: float = 0.0
    odds: float = 0.0
    odds_slope: float = 0.0
    columns: Array | None = None
    columns_slope: Array | None = None

    def slopes(self, count: int) -> Array:
        """Return the derivatives of all variances in the free ones, shape (count, free)."""
        slopes = np.eye(count)
        if self.position is not None:
            slopes = np.delete(slopes, self.position, axis=1)
            slopes[self.position] = self.odds
        return slopes

    def variances(self, free: Array) -> Array:
        """Return all variances."""
        if self.position is None:
            return free
        return np.insert(free, self.position, self.amount + self.odds * free.sum())

    def floor(self, free: Array) -> Array:
        """Return the least values of the free variances: zeros, but for the residual."""
        floor = np.zeros_like(free)
        if self.position != 0:
            floor[0] = min(free[0], SMALLEST_RESIDUAL * free.sum())
        return floor


@dataclass(frozen=True)
class Least:
    """The least of the criterion with something held, Newton's step to it taken into account but not evaluated.

    Attributes
    ----------
    criterion : float
    slope : float
        Its derivative in the value at which something is held.
    free : array
        The free variances.
    response : array
        Their derivatives in that value.
    """

    criterion: float
    slope: float
    free: Array
    response: Array


@dataclass(frozen=True)
class _Point:
    """The criterion at free variances, and Newton's step from there."""

    hold: Hold
    at: Evaluation
    free: Array
    swept: Swept | None
    floor: Array
    step: Array
    promised: float

    @classmethod
    def of(cls, hold: Hold, at: Evaluation, free: Array, swept: Swept | None) -> _Point:
        slopes, floor = hold.slopes(len(at.variances)), hold.floor(free)
        gradient = slopes.T @ at.gradient
        step = np.zeros_like(free)
        open_ = (free > floor) | (gradient < 0)
        if open_.any():
            step[open_] = _direction(at, slopes[:, open_], gradient[open_])
        return cls(hold, at, free, swept, floor, step, -float(gradient @ step))

    def least(self) -> Least:
        """Return what the step leads to, by the quadratic approximation."""
        hold, at = self.hold, self.at
        slopes = hold.slopes(len(at.variances))
        free = np.maximum(self.free + self.step, self.floor)
        gradient = at.gradient + at.hessian @ (slopes @ self.step)
        response, slope = np.zeros_like(free), 0.0
        if hold.position is not None:
            held = hold.amount_slope + hold.odds_slope * free.sum()
            slope = float(gradient[hold.position]) * held
            bend = slopes.T @ at.hessian[:, hold.position] * held + hold.odds_slope * gradient[hold.position]
            open_ = (free > self.floor) | (self.step > 0)
            part = slopes[:, open_].T @ at.hessian @ slopes[:, open_]
            if open_.any() and np.linalg.cond(part) < 1e12:
                response[open_] = -np.linalg.solve(part, bend[open_])
        elif self.swept is not None and hold.columns is not None and hold.columns_slope is not None:
            contrast = np.append(-at.estimate, 1.0)
            inside = self.swept.cross[0] / at.variances[0]
            slope = float(2 * (hold.columns @ contrast) @ inside @ (hold.columns_slope @ contrast))
        return Least(float(at.criterion) - self.promised / 2, slope, free, response)


def around(hold: Hold, at: Evaluation) -> Least:
    """Return the least with something held at what it is in an evaluation."""
    free = at.variances if hold.position is None else np.delete(at.variances, hold.position)
    return _Point.of(hold, at, free, None).least()


def least(statistics: Statistics, restricted: bool, hold: Hold, start: Array, promise: float) -> Least:
    """Minimise the criterion over free variances >= 0 by Newton's method.

    Parameters
    ----------
    statistics : Statistics
    restricted : bool
    hold : Hold
    start : array
        Free variances, the residual among them > 0.
    promise : float
        Fall of the criterion that Newton's step promises, below which the step is not evaluated any more.
    """
    here = _evaluate(statistics, restricted, hold, start)
    for _ in range(MOST_STEPS):
        if 0.0 <= here.promised < promise:
            break
        following = _line_search(statistics, restricted, here)
        if following is None:
            break
        here = following
    return here.least()


def _evaluate(statistics: Statistics, restricted: bool, hold: Hold, free: Array) -> _Point:
    """Evaluate at free variances or, where only their ratios are held, at their best common multiple."""
    variances = hold.variances(free)
    swept = sweep(statistics, variances[1:] / variances[0])
    inside = swept
    if hold.columns is not None:
        inside = Swept(hold.columns.T @ swept.cross @ hold.columns, swept.log_determinant)
    if hold.amount == 0.0:
        factor = best_residual(inside, statistics.rows, restricted) / variances[0]
        variances, free = variances * factor, free * factor
    return _Point.of(hold, derive(inside, statistics.rows, variances, restricted), free, swept)


def _direction(at: Evaluation, slopes: Array, gradient: Array) -> Array:
    """Return Newton's step, with the observed Hessian where it is positive definite, else the expected one."""
    for matrix in (at.hessian, at.expected):
        part = slopes.T @ matrix @ slopes
        size = np.sqrt(np.maximum(np.abs(np.diag(part)), 1e-300))
        scaled = part / np.outer(size, size)
        if np.isfinite(scaled).all() and np.linalg.eigvalsh(scaled)[0] > 1e-10:
            return -np.linalg.solve(scaled, gradient / size) / size
    return -gradient * at.variances.sum() ** 2


def _line_search(statistics: Statistics, restricted: bool, here: _Point) -> _Point | None:
    """Shorten the step, held at its floor from below, until the criterion does not rise; None when it cannot."""
    slack = 1e-11 * (1.0 + abs(here.at.criterion))
    length = 1.0
    for _ in range(40):
        free = np.maximum(here.free + length * here.step, here.floor)
        if here.hold.variances(free)[0] > 0.05 * here.at.variances[0]:
            following = _evaluate(statistics, restricted, here.hold, free)
            if following.at.criterion <= here.at.criterion + slack:
                return following
        length /= 2
    return None

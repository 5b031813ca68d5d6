"""Newton's method for many outcomes on one design at once: each leaves the batch when it has converged."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hoofcohort.models.optimise import FEW_ROWS, STARTS
from hoofcohort.models.profiled import Profiled, profiled
from hoofcohort.models.replicates import Replicates

Array = NDArray[np.floating]
Held = NDArray[np.bool_]
MOST_ITERATIONS = 60
MOST_HALVINGS = 30
LAST_PROMISE = 1e-11
"""Fall of the criterion that a Newton step promises, below which it is the last: its error is then its square."""
ROUGH_PROMISE = 1e-6
"""The same where only the criterion is wanted, to about 1e-8."""
SLOWER = 1e-6
"""Share of it for a step by the expected Hessian, whose error does not fall with its square."""
NO_RESIDUAL = 1e-9
SMALLEST_START = 0.05


@dataclass(frozen=True)
class Refits:
    """Where the searches ended.

    Attributes
    ----------
    at : Profiled
    converged : bool array, shape (S,)
    iterations : int array, shape (S,)
        Newton steps, over all starts.
    """

    at: Profiled
    converged: Held
    iterations: NDArray[np.int64]

    @property
    def variances(self) -> Array:
        """Variances, residual first, shape (S, K)."""
        return self.at.residual[:, None] * np.column_stack([np.ones(len(self.at.ratios)), self.at.ratios])


def refit(
    replicates: Replicates,
    restricted: bool,
    near: Array,
    held: Held | None = None,
    narrower: Refits | None = None,
    promise: float = LAST_PROMISE,
) -> Refits:
    """Minimise the criterion of every outcome over variance ratios >= 0.

    Parameters
    ----------
    replicates : Replicates
    restricted : bool
    near : array, shape (R,)
        Ratios near which most minima are expected: the first start.
    held : bool array, shape (R,), optional
        Groupings whose variance is held at zero.
    narrower : Refits, optional
        Refits of the same outcomes with some of the variances at zero, from which the search then goes on: one that is
        a minimum of the whole model too is its answer.
    promise : float
        :data:`LAST_PROMISE`, or :data:`ROUGH_PROMISE`.
    """
    held = np.zeros(len(near), bool) if held is None else held
    if narrower is None:
        first = np.tile(np.where(held, 0.0, np.maximum(near, SMALLEST_START)), (len(replicates), 1))
        best, known = _descend(replicates, first, restricted, held, promise), held
    else:
        best, known = _widened(replicates, restricted, narrower, promise), narrower.at.ratios == 0
    for start in _further_starts(replicates, near):
        unsure = ~best.converged | ((best.at.ratios == 0) & ~known).any(axis=1)
        left = np.flatnonzero(unsure | (replicates.rows <= FEW_ROWS))
        if not len(left):
            break
        ratios = best.at.ratios[left] if start is None else np.tile(start, (len(left), 1))
        ratios = np.where(held, 0.0, np.where(ratios == 0, STARTS[0], ratios))
        best = _better(best, _descend(replicates.take(left), ratios, restricted, held, promise), left)
    return best


def _further_starts(replicates: Replicates, near: Array) -> list[Array | None]:
    """Return the ratios to start from after the first; None stands for where a search ended, moved away from zero."""
    count = len(near)
    if replicates.rows > FEW_ROWS:
        return [None]
    even = [np.full(count, start) for start in (*STARTS, 30.0)]
    return [None, *even, *(np.where(np.arange(count) == k, 30.0, 0.3) for k in range(count))]


def _widened(replicates: Replicates, restricted: bool, narrower: Refits, promise: float) -> Refits:
    """Go on from the minima of a narrower model wherever a variance held at zero would lower the criterion."""
    at = narrower.at
    best = Refits(at.take(np.arange(len(replicates))), narrower.converged.copy(), np.zeros(len(replicates), np.int64))
    lower = (at.ratios == 0) & (at.gradient < 0)
    left = np.flatnonzero(lower.any(axis=1) | ~narrower.converged)
    if len(left):
        bend = np.maximum(np.diagonal(at.expected, axis1=1, axis2=2), 1e-12)
        step = np.clip(-at.gradient / bend, 1e-3, STARTS[0])
        ratios = np.where(lower, step, at.ratios)[left]
        found = _descend(replicates.take(left), ratios, restricted, np.zeros(ratios.shape[1], bool), promise)
        best.at.put(left, found.at)
        best.converged[left], best.iterations[left] = found.converged, found.iterations
    return best


def _better(best: Refits, found: Refits, which: NDArray[np.intp]) -> Refits:
    """Replace the searches that another start took further down, or that had not converged."""
    best.iterations[which] += found.iterations
    old, new = best.at.criterion[which], found.at.criterion
    better = new < old - 1e-9 * (1.0 + np.abs(old))
    better |= found.converged & ~best.converged[which] & (new < old + 1e-9 * (1.0 + np.abs(old)))
    chosen = np.flatnonzero(better)
    best.at.put(which[chosen], found.at.take(chosen))
    best.converged[which[chosen]] = found.converged[chosen]
    return best


def _descend(replicates: Replicates, ratios: Array, restricted: bool, held: Held, promise: float) -> Refits:
    """Take Newton steps from the ratios until one promises nothing more."""
    together = ratios[:1] if (ratios == ratios[0]).all() else ratios
    here = profiled(replicates.sweep(together), ratios, replicates.rows, restricted)
    converged, iterations = np.zeros(len(ratios), bool), np.zeros(len(ratios), np.int64)
    active = np.arange(len(ratios))
    batch = replicates
    for _ in range(MOST_ITERATIONS):
        now = here.take(active)
        direction, newton = _directions(now, held)
        promised = -(direction * now.gradient).sum(axis=1)
        last = promised <= promise * np.where(newton, 1.0, SLOWER)
        following, moved = _line_search(batch, now, direction, restricted)
        iterations[active] += 1
        here.put(active[moved], following.take(moved))
        fine = now.residual > NO_RESIDUAL
        converged[active] = (last | (~np.isin(np.arange(len(active)), moved) & (promised < 1e-8))) & fine
        stays = np.zeros(len(active), bool)
        stays[moved] = True
        stays &= ~last
        if not stays.any():
            break
        if not stays.all():
            batch, active = batch.take(np.flatnonzero(stays)), active[stays]
    return Refits(here, converged, iterations)


def _directions(now: Profiled, held: Held) -> tuple[Array, Held]:
    """Return Newton's step in the free ratios, and whether the observed Hessian gave it."""
    free = ((now.ratios > 0) | (now.gradient < 0)) & ~held
    step, sound = _solve(now.hessian, now.gradient, free)
    if not sound.all():
        rest = np.flatnonzero(~sound)
        other, fair = _solve(now.expected[rest], now.gradient[rest], free[rest])
        plain = -np.where(free[rest], now.gradient[rest], 0.0)
        plain *= (1.0 + now.ratios[rest].sum(axis=1, keepdims=True)) ** 2
        step[rest] = np.where(fair[:, None], other, plain)
    return step, sound


def _solve(matrix: Array, gradient: Array, free: Held) -> tuple[Array, Held]:
    """Solve for the free ratios, and tell where the matrix is positive definite on them."""
    both = free[:, :, None] & free[:, None]
    size = np.sqrt(np.abs(np.diagonal(matrix, axis1=1, axis2=2)))
    size = np.where(free & (size > 0) & np.isfinite(size), size, 1.0)
    scaled = np.where(both, matrix / (size[:, :, None] * size[:, None]), np.eye(free.shape[1]))
    usable = np.isfinite(scaled).all(axis=(1, 2))
    scaled[~usable] = np.eye(free.shape[1])
    sound = usable & (np.linalg.eigvalsh(scaled)[:, 0] > 1e-10)
    scaled[~sound] = np.eye(free.shape[1])
    right = np.where(free, gradient, 0.0) / size
    return -np.linalg.solve(scaled, right[..., None])[..., 0] / size, sound


def _line_search(
    replicates: Replicates, now: Profiled, direction: Array, restricted: bool
) -> tuple[Profiled, NDArray[np.intp]]:
    """Shorten each step, held at zero from below, until the criterion does not rise.

    Returns the outcomes where the steps lead and the positions of those that could move.
    """
    slack = 1e-11 * (1.0 + np.abs(now.criterion))
    reached = now.take(np.arange(len(now.ratios)))
    waiting, length = np.arange(len(now.ratios)), 1.0
    batch = replicates
    for _ in range(MOST_HALVINGS):
        ratios = np.maximum(now.ratios[waiting] + length * direction[waiting], 0.0)
        tried = profiled(batch.sweep(ratios), ratios, replicates.rows, restricted)
        good = tried.criterion <= now.criterion[waiting] + slack[waiting]
        reached.put(waiting[good], tried.take(np.flatnonzero(good)))
        if good.all():
            waiting = waiting[:0]
            break
        waiting = waiting[~good]
        batch, length = batch.take(np.flatnonzero(~good)), length / 2
    return reached, np.setdiff1d(np.arange(len(now.ratios)), waiting)

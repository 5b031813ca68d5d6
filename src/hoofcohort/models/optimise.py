"""Newton's method on the variances, kept at or above zero."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hoofcohort.errors import ModelError, UnidentifiableLevelError
from hoofcohort.models.criterion import Evaluation, best_residual, derive
from hoofcohort.models.statistics import Statistics
from hoofcohort.models.sweep import sweep

Array = NDArray[np.floating]
MOST_ITERATIONS = 100
STARTS = (1.0, 0.05)
"""Ratios to the residual variance from which the search starts; the second is tried when the first ends at zero."""
FEW_ROWS, FEW_GROUPS = 100, 10
"""Up to this many rows, or groups of a level, the criterion may have several minima; more starts are then tried."""

LAST_PROMISE = 1e-14
"""Fall of the criterion that a Newton step promises, below which it is the last: its error is then its square."""

NO_RESIDUAL = 1e-9
"""Residual variance, in units of that around the fixed part alone, below which there is none."""
NOTHING_LEFT = "the levels leave no residual variation: the outcome does not vary within their groups"
UNBOUNDED = (
    "the fixed terms and the levels reproduce the outcome exactly, so that the likelihood grows without limit as the "
    "residual variance goes to zero; use restricted likelihood (REML), fewer terms or levels, or more rows"
)


@dataclass(frozen=True)
class Optimum:
    """Where the search ended.

    Attributes
    ----------
    at : Evaluation
    iterations : int
        Newton steps, over all starts.
    gradient : float
        Largest ``|d criterion / ds_k| s_k`` among variances above zero; at machine level when converged.
    converged : bool
        Whether the gradient vanished and the last step promised no fall of the criterion worth the name.
    boundary : tuple of int
        Positions (residual = 0) of the variances that are exactly zero.
    """

    at: Evaluation
    iterations: int
    gradient: float
    converged: bool
    boundary: tuple[int, ...]


def minimise(statistics: Statistics, restricted: bool, names: Sequence[str]) -> Optimum:
    """Minimise the criterion over variances >= 0.

    Raises
    ------
    UnidentifiableLevelError
        When the data carry no information that would tell a level's variance from the rest.
    ModelError
        When the fixed part leaves no residual variation.
    """
    best: Optimum | None = None
    iterations = 0
    for start in _starts(statistics):
        first = _rescaled(statistics, np.append(1.0, start), restricted)
        if best is None:
            _check_information(first, names)
        found = _descend(statistics, first, restricted)
        iterations += found.iterations
        if best is None or found.at.criterion < best.at.criterion - 1e-9 * (1 + abs(best.at.criterion)):
            best = found
        if best.converged and not best.boundary and not several_minima(statistics):
            break
    assert best is not None
    if not restricted and _unbounded(statistics):
        raise ModelError(UNBOUNDED)
    if best.at.variances[0] < NO_RESIDUAL:
        raise ModelError(NOTHING_LEFT)
    return Optimum(best.at, iterations, best.gradient, best.converged, best.boundary)


def _unbounded(statistics: Statistics) -> bool:
    """Tell whether the unrestricted criterion falls for ever as all ratios to the residual variance grow.

    With rank ``r`` of the levels' indicators, the criterion changes by ``r log t`` at ratios ``t`` when something is
    left beside terms and levels, and by ``(r - n) log t``, which falls, when nothing is.
    """
    near, far = (_rescaled(statistics, np.append(1.0, np.full(statistics.components, t)), False) for t in (1e6, 1e8))
    return bool(far.criterion < near.criterion - 1.0)


def several_minima(statistics: Statistics) -> bool:
    """Tell whether so few rows or groups are at hand that the criterion may have several minima."""
    return statistics.rows <= FEW_ROWS or statistics.fewest_groups <= FEW_GROUPS


def _starts(statistics: Statistics) -> list[Array]:
    """Return the variance ratios to start from."""
    count = statistics.components
    starts = [np.full(count, start) for start in STARTS]
    if several_minima(statistics):
        each = np.arange(count)
        starts += [np.full(count, 30.0), *(np.where(each == k, 30.0, 0.3) for k in range(count))]
        starts += [np.where(each == k, 0.0, 1.0) for k in range(count)]
    return starts


def _rescaled(statistics: Statistics, variances: Array, restricted: bool) -> Evaluation:
    """Evaluate at the best common multiple of the variances."""
    ratios = variances[1:] / variances[0]
    swept = sweep(statistics, ratios)
    residual = best_residual(swept, statistics.rows, restricted)
    if not np.isfinite(residual) or residual <= 0:
        raise ModelError(NOTHING_LEFT)
    return derive(swept, statistics.rows, residual * np.append(1.0, ratios), restricted)


def _descend(statistics: Statistics, here: Evaluation, restricted: bool) -> Optimum:
    """Take Newton steps until one promises nothing more; on a curve that is not convex use the expected Hessian."""
    promised = np.inf
    iterations = 0
    while iterations < MOST_ITERATIONS and promised > LAST_PROMISE:
        iterations += 1
        free = (here.variances > 0) | (here.gradient < 0)
        direction = np.zeros_like(here.variances)
        direction[free] = _direction(here, free, far=iterations == 1)
        promised = -float(here.gradient @ direction)
        following = _line_search(statistics, here, direction, restricted)
        if following is None:
            break
        here = following
    positive = here.variances > 0
    gradient = float(np.max(np.abs(here.gradient * here.variances)[positive]))
    held = bool((here.gradient[~positive] * here.variances.sum() >= -1e-6).all())
    converged = gradient < 1e-6 * max(1.0, statistics.rows * 1e-4) and held and promised < 1e-8
    boundary = tuple(int(k) for k in np.flatnonzero(~positive))
    return Optimum(here, iterations, gradient, converged, boundary)


def _direction(here: Evaluation, free: NDArray[np.bool_], far: bool) -> Array:
    """Return Newton's step in the free variances, with the observed Hessian where it is positive definite.

    Far from the optimum, at the start, the expected Hessian leads nearer to it (Fisher scoring).
    """
    for matrix in (here.expected, here.hessian) if far else (here.hessian, here.expected):
        part = matrix[np.ix_(free, free)]
        size = np.sqrt(np.abs(np.diag(part)))
        if not (size > 0).all():
            continue
        scaled = part / np.outer(size, size)
        if np.isfinite(scaled).all() and np.linalg.eigvalsh(scaled)[0] > 1e-10:
            return -np.linalg.solve(scaled, here.gradient[free] / size) / size
    return -here.gradient[free] * here.variances.sum() ** 2


def _line_search(statistics: Statistics, here: Evaluation, direction: Array, restricted: bool) -> Evaluation | None:
    """Shorten the step, held at zero from below, until the criterion does not rise; None when it cannot."""
    slack = 1e-11 * (1.0 + abs(here.criterion))
    length = 1.0
    for _ in range(40):
        variances = np.maximum(here.variances + length * direction, 0.0)
        if variances[0] > 0.05 * here.variances[0]:
            following = _rescaled(statistics, variances, restricted)
            if following.criterion <= here.criterion + slack:
                return following
        length /= 2
    return None


def _check_information(here: Evaluation, names: Sequence[str]) -> None:
    """Refuse a level about which the data hold no information of its own."""
    size = np.sqrt(np.maximum(np.diag(here.expected), 0.0))
    for position, name in enumerate(names, start=1):
        if size[position] * here.variances[position] < 1e-6:
            raise UnidentifiableLevelError(
                name,
                f"the fixed terms leave nothing to estimate the variance of level '{name}' from; "
                "leave the level out, or the term that differs between all its groups",
            )
    values, vectors = np.linalg.eigh(here.expected / np.outer(size, size))
    if values[0] < 1e-9:
        share = np.abs(vectors[:, 0])
        position = int(np.argmax(share[1:])) + 1
        also = [name for name, part in zip(["residual", *names], share, strict=True) if part > 0.1]
        raise UnidentifiableLevelError(
            names[position - 1],
            f"the data cannot tell the variances of {', '.join(also)} apart; leave level '{names[position - 1]}' out",
        )

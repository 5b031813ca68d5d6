"""The parametric bootstrap: intervals from outcomes simulated under the fitted model, every one of them refitted.

Efron B, Tibshirani RJ. An Introduction to the Bootstrap. 1993 (from memory): percentile intervals, bias and bootstrap
standard errors. The variances are as fitted, and normal; what the model assumes, the intervals assume.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from hoofcohort.errors import ModelError
from hoofcohort.models.fit import Fit
from hoofcohort.models.grouping import RESIDUAL
from hoofcohort.models.refits import refit
from hoofcohort.models.replicates import Replicates
from hoofcohort.models.statistics import Statistics

Array = NDArray[np.floating]
FEWEST = 20
"""Replicates asked for, at least: fewer say nothing about the tails of a distribution."""
MOST = 1_000_000
CHUNK_BYTES = 32_000_000
"""What the replicates that are refitted together may take up in memory, roughly."""


@dataclass(frozen=True)
class Bootstrap:
    """Refits of B outcomes simulated under a fitted model.

    Attributes
    ----------
    fit : Fit
    variances : array, shape (B, K)
        In the order of ``fit.variances``: the residual is the last.
    coefficients : array, shape (B, p)
        Of the columns that the fit kept.
    failed : int
        Refits that did not converge and are left out of the B.
    seed : int
    confidence : float
    """

    fit: Fit
    variances: Array
    coefficients: Array
    failed: int
    seed: int
    confidence: float

    def to_dict(self) -> dict[str, Any]:
        """Return the intervals as plain numbers and words."""
        fit, names = self.fit, list(self.fit.variances)
        estimates = np.array(list(fit.variances.values()))
        total = self.variances.sum(axis=1, keepdims=True)
        shares = (self.variances / total)[:, :-1]
        terms = [fit.design.names[column] for column in fit.basis.kept]
        at_zero = (self.variances == 0).mean(axis=0)
        levels = [name for name in names if name != RESIDUAL]
        return {
            "replicates": len(self.variances),
            "failed": self.failed,
            "seed": self.seed,
            "confidence": self.confidence,
            "variances": self._rows("level", names, estimates, self.variances, share_at_zero=at_zero),
            "sds": self._rows("level", names, np.sqrt(estimates), np.sqrt(self.variances)),
            "icc": self._rows("level", levels, np.array(list(fit.icc().values())), shares),
            "coefficients": self._rows("term", terms, fit.coefficients, self.coefficients),
        }

    def _rows(
        self, key: str, names: list[str], estimates: Array, draws: Array, **further: Array
    ) -> list[dict[str, Any]]:
        """Return percentile intervals, bias and standard error per column of draws."""
        tail = (1.0 - self.confidence) / 2
        low, high = np.quantile(draws, [tail, 1.0 - tail], axis=0)
        bias, error = draws.mean(axis=0) - estimates, draws.std(axis=0, ddof=1)
        columns = {"estimate": estimates, "low": low, "high": high, "bias": bias, "std_error": error, **further}
        return [
            {key: name} | {column: float(values[place]) for column, values in columns.items()}
            for place, name in enumerate(names)
        ]


def parametric_bootstrap(fit: Fit, replicates: int = 1000, seed: int = 1, confidence: float | None = None) -> Bootstrap:
    """Simulate outcomes under a fitted model and refit each.

    Parameters
    ----------
    fit : Fit
    replicates : int
        20 or more.
    seed : int
        Zero or more; the same seed gives the same numbers.
    confidence : float, optional
        Level of the intervals; the fit's by default.

    Raises
    ------
    ModelError
        For too few replicates, or when fewer than half of the refits converge.
    """
    check_request(replicates, seed)
    variances, coefficients, sound = [], [], []
    near = fit.optimum.at.variances[1:] / fit.optimum.at.variances[0]
    for errors in simulated(fit, fit.optimum.at.variances, replicates, seed):
        raw, rest, scale = projected(fit.basis.q, errors)
        found = refit(Replicates.of(fit.basis.q, rest, fit.grouping), fit.method == "reml", near)
        variances.append(found.variances * (scale[:, None] * fit.scale) ** 2)
        change = np.linalg.solve(fit.basis.r, raw + (scale[:, None] * found.at.estimate).T).T
        coefficients.append(fit.coefficients + fit.scale * change)
        sound.append(found.converged)
    good = np.concatenate(sound)
    check_converged(good)
    return Bootstrap(
        fit,
        np.roll(np.concatenate(variances)[good], -1, axis=1),
        np.concatenate(coefficients)[good],
        int((~good).sum()),
        seed,
        fit.confidence if confidence is None else confidence,
    )


def simulated(fit: Fit, variances: Array, replicates: int, seed: int) -> Iterator[Array]:
    """Draw sums of random effects and residuals, shape (n, S) at a time; variances are ordered residual first.

    The numbers depend neither on how many are drawn at a time nor on the order of the rows.
    """
    rng, grouping = np.random.default_rng(seed), fit.grouping
    rows, groups = grouping.rows, [len(parents) for parents in grouping.parents]
    ends = rows + np.cumsum(groups)
    size = _replicates_at_a_time(fit.statistics)
    order = np.lexsort([fit.outcome, *fit.design.matrix.T, *grouping.codes])
    place = np.argsort(order)
    for start in range(0, replicates, size):
        draws = rng.standard_normal((min(size, replicates - start), int(ends[-1])))
        errors = math.sqrt(variances[0]) * draws[:, place]
        for variance, codes, end, count in zip(variances[1:], grouping.codes, ends, groups, strict=True):
            if variance > 0:
                errors += math.sqrt(variance) * draws[:, end - count : end][:, codes]
        yield errors.T


def projected(q: Array, outcomes: Array) -> tuple[Array, Array, Array]:
    """Take outcomes, shape (n, S), off orthonormal columns q and divide them by their scales, as a fit does with one.

    Returns the coefficients on q, shape (p, S), what is left, shape (n, S), and the scales, shape (S,).
    """
    first = q.T @ outcomes
    rest = outcomes - q @ first
    second = q.T @ rest
    rest -= q @ second
    scale = np.sqrt((rest**2).sum(axis=0) / (len(q) - q.shape[1]))
    return first + second, rest / scale, scale


def check_request(replicates: int, seed: int) -> None:
    """Refuse numbers of replicates and seeds that make no sense.

    Raises
    ------
    ModelError
        With what is allowed.
    """
    if not FEWEST <= replicates <= MOST:
        raise ModelError(
            f"{replicates} bootstrap replicates were asked for; {FEWEST} to {MOST:,} are allowed, and 1000 are usual"
        )
    if seed < 0:
        raise ModelError(f"the bootstrap's seed is {seed}; give zero or a positive whole number")


def check_converged(good: NDArray[np.bool_]) -> None:
    """Refuse a bootstrap in which most refits failed.

    Raises
    ------
    ModelError
        When fewer than half converged.
    """
    if good.mean() < 0.5:
        raise ModelError(
            f"{int((~good).sum())} of {len(good)} bootstrap refits did not converge: the model is too large for the "
            "data; leave out levels or terms"
        )


def _replicates_at_a_time(statistics: Statistics) -> int:
    """Return how many replicates to refit together."""
    width, columns = statistics.patterns.shape[1], statistics.total.shape[0]
    expanded = (statistics.components + 1) * (statistics.components + 2) // 2
    entries = len(statistics.patterns) * width**2 * (columns + 3 * expanded) / 2
    entries += 3 * expanded * columns**2 + 2 * statistics.rows
    entries += len(statistics.member_pattern) * columns * (width + 3 * expanded) * bool(statistics.upper)
    return int(np.clip(CHUNK_BYTES / (8 * entries), 4, 500))

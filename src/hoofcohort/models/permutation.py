"""A permutation test of one linear function of the coefficients: whole units exchanged, no distribution assumed.

The columns are turned so that the function is the coefficient of one column x, and the rest are nuisance columns
(Frisch & Waugh, Econometrica 1933;1:387-401). Everything is averaged over the units and taken within strata; outcome
and x are freed from the nuisance columns by least squares, and units exchange what is left of their outcomes, which is
freed again each time (Freedman & Lane, J Bus Econ Stat 1983;1:292-298, from memory). The statistic is x'e over its
standard error robust to units of unequal variance, so that the test holds in large samples where unit means are not
equally precise (DiCiccio & Romano, J Am Stat Assoc 2017;112:1211-1220, from memory). Exact without nuisance columns
that differ between units and with exchangeable units; tests/models/test_permutation.py counts its level elsewhere.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hoofcohort.errors import ModelError

Array = NDArray[np.floating]
Ints = NDArray[np.int64]
AT_ONCE = 2_000_000
"""Numbers drawn at once."""
FEWEST_LEFT = 2
"""Fewest degrees of freedom that strata and other columns must leave; the project's own limit, no source."""
SAME = 1e-9
"""Share of its size up to which what is tested counts as the same in all units of its stratum."""


@dataclass(frozen=True)
class Permutation:
    """A permutation test.

    Attributes
    ----------
    correlation : float
        Between the units' mean outcomes and mean x, both freed from the nuisance columns, within strata.
    p : float
        Two-sided, the observed order counted among the permutations.
    p_std_error : float
        Its standard error from drawing permutations instead of making all of them.
    permutations : int
    units, strata : int
        Units that can be exchanged, and strata that hold at least two of them.
    """

    correlation: float
    p: float
    p_std_error: float
    permutations: int
    units: int
    strata: int


def isolate(columns: Array, function: Array) -> tuple[Array, Array]:
    """Turn columns so that a function of their coefficients is the coefficient of one.

    Parameters
    ----------
    columns : array, shape (n, p)
    function : array, shape (p,)
        Not all zero.

    Returns
    -------
    array, shape (n,)
        The column whose coefficient is the function.
    array, shape (n, p - 1)
        The other columns.
    """
    size = float(function @ function)
    if not size > 0:
        raise ModelError("a permutation test needs a function of the coefficients that is not zero")
    _, _, right = np.linalg.svd(function[None, :])
    return columns @ function / size, columns @ right[1:].T


def permutation_test(
    outcome: Array, x: Array, nuisance: Array, units: Ints, strata: Ints, permutations: int = 9999, seed: int = 1
) -> Permutation:
    """Test whether x goes together with the outcome, exchanging units within strata.

    Parameters
    ----------
    outcome, x : array, shape (n,)
    nuisance : array, shape (n, k)
    units, strata : int array, shape (n,)
        Unit of each row and stratum of each row, from 0; a unit lies in one stratum.
    permutations, seed : int

    Raises
    ------
    ModelError
        When no stratum holds two units between which x differs, or too few units are left beside the nuisance columns.
    """
    first, rows = np.unique(units, return_index=True)[1], np.bincount(units)
    stratum = np.unique(strata[first], return_inverse=True)[1]
    order = np.argsort(stratum, kind="stable")
    order = order[np.bincount(stratum)[stratum][order] > 1]
    stratum = np.unique(stratum[order], return_inverse=True)[1]
    means = [_mean(values, units, rows)[order] for values in (outcome, x, *nuisance.T)]
    y, exposure, *others = (_within(mean, stratum) for mean in means)
    nothing = SAME * np.sqrt(len(y) / len(outcome)) * np.linalg.norm(np.column_stack([x, nuisance]), axis=0)
    basis = _span(np.column_stack(others) if others else np.zeros((len(y), 0)), nothing[1:])
    left = len(y) - len(np.unique(stratum)) - basis.shape[1]
    y, exposure = (own - basis @ (basis.T @ own) for own in (y, exposure))
    spread = np.sqrt((y @ y) * (exposure @ exposure))
    if not len(y) or np.sqrt(exposure @ exposure) <= nothing[0] or spread == 0:
        raise ModelError("no stratum holds two units that differ in what is tested; nothing can be exchanged")
    if left < FEWEST_LEFT:
        raise ModelError(
            f"{len(y)} units in {len(np.unique(stratum))} strata are too few beside the {basis.shape[1]} other columns "
            "that differ between them; nothing is left to exchange"
        )
    limit = abs(float(_studentised(y[None, :], exposure, basis)[0])) * (1 - 1e-12)
    beyond = _beyond(y, exposure, basis, stratum, limit, permutations, seed)
    p = (1 + beyond) / (1 + permutations)
    return Permutation(
        float(y @ exposure / spread), p, float(np.sqrt(p * (1 - p) / permutations)), permutations, len(y),
        len(np.unique(stratum)),
    )  # fmt: skip


def _mean(values: Array, units: Ints, rows: Ints) -> Array:
    """Return the mean of every unit."""
    return np.bincount(units, weights=values) / rows


def _within(values: Array, stratum: Ints) -> Array:
    """Take each stratum's mean off."""
    return values - (np.bincount(stratum, weights=values) / np.bincount(stratum))[stratum] if len(values) else values


def _span(columns: Array, nothing: Array) -> Array:
    """Return an orthonormal basis of what columns span, shape (U, rank); one that is no longer than ``nothing`` is 0.

    What is left of a column that is alike in all units, once its mean is off, is rounding, and points anywhere.
    """
    size = np.linalg.norm(columns, axis=0)
    differs = size > nothing
    scaled = columns[:, differs] / size[differs]
    if not scaled.size:
        return np.zeros((len(columns), 0))
    left, values, _ = np.linalg.svd(scaled, full_matrices=False)
    return left[:, values > 1e-9 * values[0]]


def _studentised(outcomes: Array, exposure: Array, basis: Array) -> Array:
    """Return ``x'e`` over its robust standard error for outcomes of shape (B, U), freed from the basis first."""
    freed = outcomes - (outcomes @ basis) @ basis.T
    error = np.sqrt(freed**2 @ exposure**2)
    return np.divide(freed @ exposure, error, out=np.zeros(len(freed)), where=error > 0)


def _beyond(y: Array, exposure: Array, basis: Array, stratum: Ints, limit: float, permutations: int, seed: int) -> int:
    """Count permutations, of units in order of their strata, whose statistic is at least as large."""
    draw = np.random.default_rng(seed)
    chunk = max(1, AT_ONCE // len(y))
    found = 0
    for done in range(0, permutations, chunk):
        keys = draw.random((min(chunk, permutations - done), len(y)))
        shuffled = y[np.argsort(stratum + keys, axis=1)]
        found += int((np.abs(_studentised(shuffled, exposure, basis)) >= limit).sum())
    return found

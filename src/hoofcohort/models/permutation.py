"""A permutation test of one linear function of the coefficients: no distribution assumed, whole units exchanged.

The columns are turned so that the function is the coefficient of one column x, and the rest are nuisance columns
(Frisch & Waugh, Econometrica 1933;1:387-401). Outcome and x are freed from the nuisance columns by least squares and
averaged over the units; the statistic is their correlation within strata, and units exchange their outcomes within
strata (Freedman & Lane, J Bus Econ Stat 1983;1:292-298, from memory). Exact without nuisance columns that differ
between units and with units of equal size; close otherwise.
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


@dataclass(frozen=True)
class Permutation:
    """A permutation test.

    Attributes
    ----------
    correlation : float
        Between the units' outcomes and x, both freed from the nuisance columns, within strata.
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
        Orthonormal or not, of full rank; best with a constant among their span.
    units, strata : int array, shape (n,)
        Unit of each row and stratum of each row, from 0; a unit lies in one stratum.
    permutations, seed : int

    Raises
    ------
    ModelError
        When no stratum holds two units between which x differs.
    """
    basis = np.linalg.qr(nuisance)[0]
    first, rows = np.unique(units, return_index=True)[1], np.bincount(units)
    stratum = np.unique(strata[first], return_inverse=True)[1]
    means = [np.bincount(units, weights=v - basis @ (basis.T @ v)) / rows for v in (outcome, x)]
    y, exposure = (_within(mean, stratum) for mean in means)
    exchangeable = np.bincount(stratum)[stratum] > 1
    order = np.argsort(stratum, kind="stable")
    order = order[exchangeable[order]]
    y, exposure, stratum = y[order], exposure[order], stratum[order]
    spread = np.sqrt((y @ y) * (exposure @ exposure))
    if not len(y) or spread <= 1e-12 * np.linalg.norm(x) * np.linalg.norm(outcome):
        raise ModelError("no stratum holds two units that differ in what is tested; nothing can be exchanged")
    observed = float(y @ exposure / spread)
    beyond = _beyond(y, exposure / spread, stratum, abs(observed) * (1 - 1e-12), permutations, seed)
    p = (1 + beyond) / (1 + permutations)
    return Permutation(
        observed, p, float(np.sqrt(p * (1 - p) / permutations)), permutations, len(y), len(np.unique(stratum))
    )


def _within(values: Array, stratum: Ints) -> Array:
    """Take each stratum's mean off."""
    return values - (np.bincount(stratum, weights=values) / np.bincount(stratum))[stratum]


def _beyond(y: Array, exposure: Array, stratum: Ints, limit: float, permutations: int, seed: int) -> int:
    """Count permutations, of units in order of their strata, whose statistic is at least as large."""
    draw = np.random.default_rng(seed)
    chunk = max(1, AT_ONCE // len(y))
    found = 0
    for done in range(0, permutations, chunk):
        keys = draw.random((min(chunk, permutations - done), len(y)))
        shuffled = y[np.argsort(stratum + keys, axis=1)]
        found += int((np.abs(shuffled @ exposure) >= limit).sum())
    return found

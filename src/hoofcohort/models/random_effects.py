"""Predicted random effects (best linear unbiased predictions) of every grouping."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from scipy.sparse import csc_array

    from hoofcohort.models.fit import Fit

Array = NDArray[np.floating]


@dataclass(frozen=True)
class RandomEffects:
    """Predictions of one grouping.

    Attributes
    ----------
    labels : tuple of str
        Label of each group, outer labels first.
    values : array, shape (groups,)
        Predicted effects, in the unit of the outcome.
    std_errors : array, shape (groups,)
        Standard deviation of effect given the data, at the estimated coefficients and variances; NaN if not asked.
    codes : int array, shape (n,)
        Group of each row.
    """

    labels: tuple[str, ...]
    values: Array
    std_errors: Array
    codes: NDArray[np.int64]


def random_effects(fit: Fit, std_errors: bool = True) -> dict[str, RandomEffects]:
    """Predict the effects, one outermost group after the other.

    Parameters
    ----------
    fit : Fit
    std_errors : bool
        Whether standard errors are wanted too.
    """
    from scipy.sparse import csr_array
    from scipy.sparse.linalg import splu

    grouping = fit.grouping
    counts = np.array([len(parent) for parent in grouping.parents])
    starts = np.concatenate([[0], np.cumsum(counts)])
    residual = fit.variances["residual"]
    deviations = np.repeat(np.sqrt([fit.variances[name] / residual for name in grouping.names]), counts)
    rows = np.tile(np.arange(grouping.rows), len(grouping.names))
    columns = np.concatenate([code + start for code, start in zip(grouping.codes, starts, strict=False)])
    scaled = csr_array((deviations[columns], (rows, columns)), shape=(grouping.rows, starts[-1]))
    system = (scaled.T @ scaled).tocsc()
    system.setdiag(system.diagonal() + 1.0)
    solved = splu(system, permc_spec="MMD_AT_PLUS_A").solve(scaled.T @ (fit.outcome - fit.fixed_fitted))
    values = deviations * solved
    errors = np.full(len(values), np.nan)
    if std_errors:
        errors = deviations * np.sqrt(residual * _inverse_diagonal(system, _outermost(fit)))
    return {
        name: RandomEffects(labels, values[start:stop], errors[start:stop], code)
        for name, labels, start, stop, code in zip(
            grouping.names, grouping.labels, starts[:-1], starts[1:], grouping.codes, strict=True
        )
    }


def _outermost(fit: Fit) -> NDArray[np.int64]:
    """Return the outermost group of every group of every grouping, in order."""
    outer: list[NDArray[np.int64]] = []
    for parent, host in zip(fit.grouping.parents, fit.grouping.hosts, strict=True):
        outer.append(np.arange(len(parent)) if host < 0 else outer[host][parent])
    return np.concatenate(outer)


def _inverse_diagonal(system: csc_array, owner: NDArray[np.int64]) -> Array:
    """Return the diagonal of the inverse of a matrix that is block diagonal by owner."""
    order = np.argsort(owner, kind="stable")
    bounds = np.searchsorted(owner[order], np.arange(owner.max() + 2))
    diagonal = np.empty(len(owner))
    for first, last in pairwise(bounds):
        members = order[first:last]
        diagonal[members] = np.diag(np.linalg.inv(system[members][:, members].toarray()))
    return diagonal

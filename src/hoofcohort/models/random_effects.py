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
    from hoofcohort.models.grouping import Grouping

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
        errors = deviations * np.sqrt(residual * _inverse_diagonal(system, _outermost(fit.grouping)))
    return {
        name: RandomEffects(labels, values[start:stop], errors[start:stop], code)
        for name, labels, start, stop, code in zip(
            grouping.names, grouping.labels, starts[:-1], starts[1:], grouping.codes, strict=True
        )
    }


def _outermost(grouping: Grouping) -> NDArray[np.int64]:
    """Return the outermost group of every group of every grouping but the crossed factors, in order."""
    outer: list[NDArray[np.int64]] = []
    for position in range(len(grouping.names) - grouping.crossed):
        parent, host = grouping.parents[position], grouping.hosts[position]
        outer.append(np.arange(len(parent)) if host < 0 else outer[host][parent])
    return np.concatenate(outer)


def _inverse_diagonal(system: csc_array, owner: NDArray[np.int64]) -> Array:
    """Return the diagonal of the inverse of a matrix that is block diagonal by owner but for a border.

    Parameters
    ----------
    system : sparse array, shape (m + c, m + c)
        The last c rows and columns, those of crossed factors, are the border.
    owner : int array, shape (m,)
    """
    order = np.argsort(owner, kind="stable")
    bounds = np.searchsorted(owner[order], np.arange(owner.max() + 2))
    inside = len(owner)
    border = system[:, inside:].toarray()
    rest = border[inside:].copy()
    diagonal = np.empty(len(border))
    turned = np.empty((inside, border.shape[1]))
    for first, last in pairwise(bounds):
        members = order[first:last]
        inverse = np.linalg.inv(system[members][:, members].toarray())
        diagonal[members] = np.diag(inverse)
        turned[members] = inverse @ border[members]
        rest -= border[members].T @ turned[members]
    corner = np.linalg.inv(rest)
    diagonal[inside:] = np.diag(corner)
    diagonal[:inside] += np.einsum("ic,cd,id->i", turned, corner, turned, optimize=True)
    return diagonal

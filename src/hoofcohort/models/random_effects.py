"""Predicted random effects (best linear unbiased predictions) of every grouping."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from scipy.sparse import csc_array

    from hoofcohort.models.fit import Fit
    from hoofcohort.models.grouping import Grouping

Array = NDArray[np.floating]
NUMBERS_AT_ONCE = 2**23
"""Numbers of the dense blocks that are inverted together: bounds the memory."""


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
    inside = len(owner)
    border = system[:, inside:].toarray()
    rest = border[inside:].copy()
    diagonal = np.empty(len(border))
    turned = np.empty((inside, border.shape[1]))
    for members, blocks in _blocks(system[:inside, :inside], owner):
        inverse = np.linalg.inv(blocks)
        diagonal[members] = np.diagonal(inverse, axis1=1, axis2=2)
        turned[members] = inverse @ border[members]
    rest -= border[:inside].T @ turned
    corner = np.linalg.inv(rest)
    diagonal[inside:] = np.diag(corner)
    diagonal[:inside] += np.einsum("ic,cd,id->i", turned, corner, turned, optimize=True)
    return diagonal


def _blocks(system: csc_array, owner: NDArray[np.int64]) -> Iterator[tuple[NDArray[np.int64], Array]]:
    """Cut a block diagonal matrix into its blocks, those of one size together.

    Yields
    ------
    members : int array, shape (b, m)
        Rows of b blocks of m rows each.
    blocks : array, shape (b, m, m)
    """
    order = np.argsort(owner, kind="stable")
    sizes = np.bincount(owner)
    first = np.cumsum(sizes) - sizes
    inside = np.empty(len(owner), np.int64)
    inside[order] = np.arange(len(owner)) - first[owner[order]]
    entries = system.tocoo()
    holder = owner[entries.row]
    for size in np.unique(sizes[sizes > 0]):
        alike = np.flatnonzero(sizes == size)
        for some in np.array_split(alike, 1 + len(alike) * size**2 // NUMBERS_AT_ONCE):
            place = np.full(len(sizes), -1)
            place[some] = np.arange(len(some))
            own = np.flatnonzero(place[holder] >= 0)
            blocks = np.zeros((len(some), size, size))
            row, column = entries.row[own], entries.col[own]
            blocks[place[holder[own]], inside[row], inside[column]] = entries.data[own]
            yield order[first[some][:, None] + np.arange(size)], blocks

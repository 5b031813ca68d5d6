"""Crossed factors: random groupings, such as the farrier, whose groups span the outermost level.

The indicators ``Z`` of their groups go through the nested sweep as further columns. With V the covariance without them
and D the ratios of their variances, both in units of the residual variance, the rest is one dense step
(Sherman-Morrison-Woodbury), written so that it holds at ratios of zero:

``W'(V + ZDZ')^-1 W = W'V^-1 W - W'V^-1 Z (I + D Z'V^-1 Z)^-1 D Z'V^-1 W``,
``log|V + ZDZ'| = log|V| + log|I + D Z'V^-1 Z|``.

The difference in the first line loses digits where a ratio is very large. For any B, ``W = U + ZB`` gives instead

``W'(V + ZDZ')^-1 W = U'(V + ZDZ')^-1 U + U'SB + B'S'U + B'Z'SB`` with ``S = V^-1 Z (I + D Z'V^-1 Z)^-1``,

in which every term is small when U has little left of Z.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from hoofcohort.errors import ModelError
from hoofcohort.models import expansion
from hoofcohort.models.grouping import Grouping

if TYPE_CHECKING:
    from hoofcohort.models.statistics import Statistics

Array = NDArray[np.floating]
MOST_NUMBERS = 200_000_000
"""Rows times columns, indicators included, at most: that is 1.6 GB, and several such tables are needed at once."""
BETWEEN = 1e-6
"""Weight of what differs between blocks beside what differs within them, when the indicators' shares are worked out."""
Crossed = tuple[tuple[int, slice], ...]


def crossed_slices(grouping: Grouping, columns: int) -> Crossed:
    """Return the crossed factors and where the indicators of their groups stand after ``columns`` others."""
    found = []
    for component in range(len(grouping.names) - grouping.crossed, len(grouping.names)):
        groups = len(grouping.parents[component])
        found.append((component, slice(columns, columns + groups)))
        columns += groups
    return tuple(found)


def with_indicators(columns: Array, grouping: Grouping) -> tuple[Array, Crossed]:
    """Append to columns, shape (n, q), the indicators of the groups of all crossed factors.

    Raises
    ------
    ModelError
        When rows times columns exceed :data:`MOST_NUMBERS`.
    """
    crossed = crossed_slices(grouping, columns.shape[1])
    if not crossed:
        return columns, crossed
    width = crossed[-1][1].stop
    if len(columns) * width > MOST_NUMBERS:
        raise ModelError(
            f"{len(columns)} rows with {width} columns, of which {width - columns.shape[1]} are groups of crossed "
            f"factors, make a table too large to handle exactly; {MOST_NUMBERS // len(columns)} columns can be handled "
            "with so many rows: pool rare groups, or fit parts of the cohort on their own"
        )
    wide = np.zeros((len(columns), width))
    wide[:, : columns.shape[1]] = columns
    for component, places in crossed:
        wide[np.arange(len(columns)), places.start + grouping.codes[component]] = 1.0
    return wide, crossed


def shares_of_indicators(columns: Array, rest: Array, own: int) -> Array:
    """Return coefficients B, shape (c, q), with which ``W - ZB`` has little left of the indicators Z.

    Parameters
    ----------
    columns, rest : arrays, shape (n, q + c)
        [W Z], and the same less its projection on the groups of each block.
    own : int
        q.
    """
    weight = rest[:, own:].T @ rest + BETWEEN * (columns[:, own:].T @ columns)
    return np.linalg.lstsq(weight[:, own:], weight[:, :own], rcond=1e-12)[0]


def absorb(statistics: Statistics, cross: Array, log_determinant: Array, ratios: Array) -> tuple[Array, Array]:
    """Bring the crossed factors into what the nested part of the model gives.

    Parameters
    ----------
    statistics : Statistics
        With crossed factors.
    cross, log_determinant : arrays, shapes (..., J', q + c, q + c), (..., J')
        Expansions in the ratios of the other groupings, the indicators being the last c columns.
    ratios : array, shape (..., R)
        Of all groupings, each >= 0.

    Returns
    -------
    arrays, shapes (..., J, q, q), (..., J)
        Expansions in all ratios.
    """
    q, parameters = statistics.columns, statistics.components
    cross = _in_all(cross, parameters, len(statistics.crossed), axis=-3)
    log_determinant = _in_all(log_determinant, parameters, len(statistics.crossed), axis=-1)
    between = cross[..., :, q:, q:]
    system = _times_ratios(between, statistics, ratios)
    system[..., 0, :, :] += np.eye(between.shape[-1])
    weighted = _times_ratios(cross[..., :, q:, :q], statistics, ratios)
    inverse, more = expansion.matrix_inverse(system, parameters)
    across = expansion.matrix_product(cross[..., :, :q, q:], inverse, parameters)
    left = cross[..., :, :q, :q] - expansion.matrix_product(across, weighted, parameters)
    if statistics.shift is not None:
        inside = expansion.matrix_product(between, inverse, parameters) @ statistics.shift
        left += 2.0 * across @ statistics.shift + statistics.shift.T @ inside
    return (left + np.swapaxes(left, -1, -2)) / 2, log_determinant + more


def _in_all(expanded: Array, parameters: int, crossed: int, axis: int) -> Array:
    """Turn expansions in the first ratios into expansions in all, on the last of which they do not depend."""
    others = parameters - crossed
    where = {pair: place for place, pair in enumerate(expansion.pairs(parameters), start=1 + parameters)}
    places = [0, *range(1, 1 + others), *(where[pair] for pair in expansion.pairs(others))]
    moved = np.moveaxis(expanded, axis, 0)
    out = np.zeros((expansion.length(parameters), *moved.shape[1:]))
    out[places] = moved
    return np.moveaxis(out, 0, axis)


def _times_ratios(matrix: Array, statistics: Statistics, ratios: Array) -> Array:
    """Return the expansion of ``D A`` for that of a matrix A, shape (..., J, c, k), whose rows are crossed groups."""
    parameters, start = statistics.components, statistics.columns
    out = np.empty_like(matrix)
    for component, places in statistics.crossed:
        rows = slice(places.start - start, places.stop - start)
        part = np.moveaxis(matrix[..., :, rows, :], -3, 0)
        value = ratios[..., component, None, None]
        out[..., :, rows, :] = np.moveaxis(expansion.times_parameter(part, value, component, parameters), 0, -3)
    return out

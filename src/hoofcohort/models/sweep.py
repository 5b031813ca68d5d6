"""The sweep: from sufficient statistics to ``W'V^-1 W`` and ``log|V|`` with their first and second derivatives.

Everything here is for V divided by the residual variance, ``I + sum_k ratio_k Z_k Z_k'``. Sherman-Morrison-Woodbury
inside a block, then group by group upwards (derivation and check against R: see the notes in DEVELOPERS.md).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hoofcohort.models import expansion
from hoofcohort.models.statistics import Statistics

Array = NDArray[np.floating]


@dataclass(frozen=True)
class Swept:
    """Expansions at one set of variance ratios.

    Attributes
    ----------
    cross : array, shape (J, q, q)
        ``W'V^-1 W`` with its derivatives in the ratios.
    log_determinant : array, shape (J,)
        ``log|V|`` with its derivatives.
    """

    cross: Array
    log_determinant: Array


def sweep(statistics: Statistics, ratios: Array) -> Swept:
    """Evaluate the expansions at variance ratios ``ratios``, shape (R,), each >= 0."""
    parameters = statistics.components
    inverse, shared, log_det = _blocks(statistics, ratios)
    cross = _block_cross(statistics, ratios, inverse, shared)
    log_determinant = _block_log_determinant(statistics, shared, log_det)
    if statistics.upper:
        scalar, vector = _members(statistics, inverse, shared)
        for level in statistics.upper:
            starts = np.flatnonzero(np.diff(level.parents, prepend=-1))
            scalar = np.add.reduceat(scalar, starts, axis=1)
            vector = np.add.reduceat(vector, starts, axis=1)
            weight = expansion.times_parameter(scalar, ratios[level.component], level.component, parameters)
            weight[0] += 1.0
            log_determinant += expansion.logarithm(weight, parameters).sum(axis=1)
            scalar, vector, correction = _level(scalar, vector, weight, ratios, level.component, parameters)
            cross -= correction
    return Swept(cross, log_determinant)


def _blocks(statistics: Statistics, ratios: Array) -> tuple[Array, Array, Array]:
    """Return per pattern ``(I + N D)^-1``, ``Z'V^-1 Z`` and ``log|V|`` for counts N and ratios D."""
    scale = np.empty(statistics.patterns.shape[1])
    for component, places in statistics.slots:
        scale[places] = ratios[component]
    inner = np.eye(len(scale)) + statistics.patterns * scale
    inverse = np.linalg.inv(inner)
    shared = inverse @ statistics.patterns
    return inverse, (shared + shared.transpose(0, 2, 1)) / 2, np.linalg.slogdet(inner)[1]


def _block_cross(statistics: Statistics, ratios: Array, inverse: Array, shared: Array) -> Array:
    """Return the blocks' part of ``W'V^-1 W``."""
    parameters, columns = statistics.components, statistics.columns
    projected = inverse[statistics.pattern_of] @ statistics.sums
    by_component = {component: projected[:, places] for component, places in statistics.slots}
    cross = np.zeros((expansion.length(parameters), columns, columns))
    cross[0] = statistics.total
    for component, places in statistics.slots:
        if ratios[component]:
            cross[0] -= ratios[component] * _dot(statistics.sums[:, places], by_component[component])
        cross[1 + component] = -_dot(by_component[component], by_component[component])
    slots = dict(statistics.slots)
    for place, (k, m) in enumerate(expansion.pairs(parameters)):
        if k in slots and m in slots:
            between = shared[:, slots[k], slots[m]][statistics.pattern_of]
            half = _dot(by_component[k], between @ by_component[m])
            cross[1 + parameters + place] = half + half.T
    cross[0] = (cross[0] + cross[0].T) / 2
    return cross


def _block_log_determinant(statistics: Statistics, shared: Array, log_det: Array) -> Array:
    """Return the blocks' part of ``log|V|``."""
    parameters = statistics.components
    out = np.zeros(expansion.length(parameters))
    out[0] = statistics.multiplicity @ log_det
    slots = dict(statistics.slots)
    for component, places in statistics.slots:
        trace = np.trace(shared[:, places, places], axis1=1, axis2=2)
        out[1 + component] = statistics.multiplicity @ trace
    for place, (k, m) in enumerate(expansion.pairs(parameters)):
        if k in slots and m in slots:
            square = (shared[:, slots[k], slots[m]] ** 2).sum(axis=(1, 2))
            out[1 + parameters + place] = -(statistics.multiplicity @ square)
    return out


def _members(statistics: Statistics, inverse: Array, shared: Array) -> tuple[Array, Array]:
    """Return expansions of ``1'V^-1 1``, shape (J, M), and ``1'V^-1 W``, shape (J, M, q), of pooled blocks."""
    parameters = statistics.components
    own = statistics.slots[0][1].start
    row = shared[:, own]
    scalar = np.zeros((expansion.length(parameters), len(shared)))
    weights = np.zeros((*scalar.shape, shared.shape[1]))
    scalar[0] = row[:, own]
    weights[0] = inverse[:, own]
    slots = dict(statistics.slots)
    for component, places in statistics.slots:
        scalar[1 + component] = -(row[:, places] ** 2).sum(axis=1)
        weights[1 + component] = -np.einsum("pi,pij->pj", row[:, places], inverse[:, places])
    for place, (k, m) in enumerate(expansion.pairs(parameters)):
        if k in slots and m in slots:
            here = 1 + parameters + place
            forward = np.einsum("pi,pij->pj", row[:, slots[k]], shared[:, slots[k], slots[m]])
            backward = np.einsum("pj,pij->pi", row[:, slots[m]], shared[:, slots[k], slots[m]])
            scalar[here] = 2.0 * (forward * row[:, slots[m]]).sum(axis=1)
            weights[here] = np.einsum("pi,pij->pj", forward, inverse[:, slots[m]])
            weights[here] += np.einsum("pi,pij->pj", backward, inverse[:, slots[k]])
    vector = np.einsum("jmr,mrq->jmq", weights[:, statistics.member_pattern], statistics.member_sums, optimize=True)
    return scalar[:, statistics.member_pattern] * statistics.member_count, vector


def _level(
    scalar: Array, vector: Array, weight: Array, ratios: Array, component: int, parameters: int
) -> tuple[Array, Array, Array]:
    """Absorb one nested level: what its groups pass up, and what they take off ``W'V^-1 W``."""
    inverse = expansion.reciprocal(weight, parameters)
    passed = expansion.product(inverse[..., None], vector, parameters)
    weighted = expansion.times_parameter(passed, ratios[component], component, parameters)
    return expansion.product(inverse, scalar, parameters), passed, expansion.gram(weighted, vector, parameters)


def _dot(first: Array, second: Array) -> Array:
    """Return ``sum over blocks and places of first second'``, shape (q, q)."""
    return first.reshape(-1, first.shape[-1]).T @ second.reshape(-1, second.shape[-1])

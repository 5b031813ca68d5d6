"""The sweep: from sufficient statistics to ``W'V^-1 W`` and ``log|V|`` with their first and second derivatives.

Everything here is for V divided by the residual variance, ``I + sum_k ratio_k Z_k Z_k'``. With Q an orthonormal basis
of what a block's groups span, ``W'V^-1 W = W'(I - QQ')W + W'Q (Q'VQ)^-1 Q'W``: sums of squares only, so that no digit
is lost however large a ratio. Above the blocks, group by group by Sherman-Morrison.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from hoofcohort.models import expansion
from hoofcohort.models.crossed import absorb
from hoofcohort.models.statistics import Statistics

Array = NDArray[np.floating]


@dataclass(frozen=True)
class Swept:
    """Expansions at one set of variance ratios, or, with their axis in front, at several.

    Attributes
    ----------
    cross : array, shape (J, q, q) or (S, J, q, q)
        ``W'V^-1 W`` with its derivatives in the ratios.
    log_determinant : array, shape (J,) or (S, J)
        ``log|V|`` with its derivatives.
    """

    cross: Array
    log_determinant: Array


def sweep(statistics: Statistics, ratios: Array) -> Swept:
    """Evaluate the expansions at variance ratios, each >= 0, of shape (R,), or (S, R) for S sets of them at once."""
    several = np.atleast_2d(ratios)
    if statistics.crossed:
        part = sweep(statistics.nested_part, several[:, : -len(statistics.crossed)])
        cross, log_determinant = absorb(statistics, part.cross, part.log_determinant, several)
        return Swept(cross, log_determinant) if ratios.ndim == 2 else Swept(cross[0], log_determinant[0])
    blocks = Blocks.at(statistics, several)
    cross, log_determinant = blocks.cross(statistics), blocks.log_determinant(statistics)
    if statistics.upper:
        taken, more = upper_levels(statistics, several, *blocks.upward(statistics))
        cross -= taken
        log_determinant += more
    return Swept(cross, log_determinant) if ratios.ndim == 2 else Swept(cross[0], log_determinant[0])


@dataclass(frozen=True)
class Blocks:
    """What all blocks of one pattern share at S sets of ratios.

    Attributes
    ----------
    inverse : array, shape (S, P, k, k)
        ``Q'V^-1 Q = (I + Q'ZDZ'Q)^-1`` for ratios D and the pattern's orthonormal basis Q.
    shared : array, shape (S, P, r, r)
        ``Z'V^-1 Z``.
    own : array, shape (c, S, P, r, k)
        The rows of ``Z'V^-1 Q`` that belong to each of the block's c groupings, zeros elsewhere.
    log_det : array, shape (S, P)
    components : tuple of int
        Positions of the block's groupings among the parameters.
    marks : array, shape (c, r)
        One where a place belongs to a grouping.
    """

    inverse: Array
    shared: Array
    own: Array
    log_det: Array
    components: tuple[int, ...]
    marks: Array

    @classmethod
    def at(cls, statistics: Statistics, ratios: Array) -> Blocks:
        """Solve every pattern at S sets of ratios, shape (S, R), scaled so that none of them costs digits."""
        triangle = statistics.bases.triangle
        components = tuple(component for component, _ in statistics.slots)
        marks = np.zeros((len(components), triangle.shape[2]))
        for row, (_, places) in zip(marks, statistics.slots, strict=True):
            row[places] = 1.0
        scale = ratios[:, components] @ marks
        inner = np.eye(triangle.shape[1]) + (triangle * scale[:, None, None, :]) @ triangle.swapaxes(-1, -2)
        size = np.sqrt(np.diagonal(inner, axis1=-2, axis2=-1))
        outer = size[..., :, None] * size[..., None, :]
        inverse = np.linalg.inv(inner / outer) / outer
        log_det = np.linalg.slogdet(inner / outer)[1] + 2.0 * np.log(size).sum(axis=-1)
        across = triangle.swapaxes(-1, -2) @ inverse
        shared = across @ triangle
        shared = (shared + shared.swapaxes(-1, -2)) / 2
        return cls(inverse, shared, marks[:, None, None, :, None] * across, log_det, components, marks)

    def cross(self, statistics: Statistics) -> Array:
        """Return the blocks' part of ``W'V^-1 W``, shape (S, J, q, q)."""
        columns, parameters = statistics.columns, statistics.components
        sets = len(self.inverse)
        cross = np.zeros((sets, expansion.length(parameters), columns, columns))
        cross[:, 0] = statistics.inside
        if statistics.moments is not None:
            flat = [own.reshape(sets, -1) @ statistics.moments for own in self.matrices()]
            found = [product.reshape(sets, columns, columns) for product in flat]
        else:
            found = [np.array(own) for own in zip(*(self._one_by_one(statistics, k) for k in range(sets)), strict=True)]
        for place, product in zip(expansion_places(self.components, parameters), found, strict=True):
            cross[:, place] -= product
        return cross

    def matrices(self) -> list[Array]:
        """Return the matrices A, shape (S, P, k, k), with which the sum of ``(Q'W)'A(Q'W)`` is to be taken off.

        One for the value, then the first and the second derivatives in the block's own groupings.
        """
        turned = self.own.swapaxes(-1, -2)
        matrices = [-self.inverse]
        matrices += [left @ right for left, right in zip(turned, self.own, strict=True)]
        carried = [self.shared @ own for own in self.own]
        for k, m in expansion.pairs(len(self.own)):
            half = turned[k] @ carried[m]
            matrices.append(-half - half.swapaxes(-1, -2))
        return matrices

    def _one_by_one(self, statistics: Statistics, which: int) -> list[Array]:
        """Return the sums of ``(Q'W)'A(Q'W)`` at one set of ratios without forming A."""
        projections, pattern = statistics.projections, statistics.pattern_of
        value = _dot(projections, self.inverse[which][pattern] @ projections)
        found: list[Array] = [-(value + value.T) / 2]
        projected = self.own[:, which].sum(axis=0)[pattern] @ projections
        parts = [projected[:, places] for _, places in statistics.slots]
        slices = [places for _, places in statistics.slots]
        found += [_dot(part, part) for part in parts]
        for k, m in expansion.pairs(len(parts)):
            between = self.shared[which][:, slices[k], slices[m]][pattern]
            half = _dot(parts[k], between @ parts[m])
            found.append(-half - half.T)
        return found

    def log_determinant(self, statistics: Statistics) -> Array:
        """Return the blocks' part of ``log|V|``, shape (S, J)."""
        parameters, multiplicity = statistics.components, statistics.multiplicity
        out = np.zeros((len(self.inverse), expansion.length(parameters)))
        traces = np.diagonal(self.shared, axis1=-2, axis2=-1) @ self.marks.T
        squares = self.marks @ (self.shared**2) @ self.marks.T
        found = [self.log_det @ multiplicity, *(multiplicity @ traces).T]
        found += [-(squares[..., k, m] @ multiplicity) for k, m in expansion.pairs(len(self.components))]
        for place, value in zip(expansion_places(self.components, parameters), found, strict=True):
            out[:, place] = value
        return out

    def upward(self, statistics: Statistics) -> tuple[Array, Array]:
        """Return pooled blocks' expansions of ``1'V^-1 1`` and ``1'V^-1 W``, shapes (J, S, M) and (J, S, M, q)."""
        scalar, weights = self.weights(statistics)
        chosen = weights[:, :, statistics.member_pattern]
        vector = (chosen[..., None, :] @ statistics.member_projections)[..., 0, :]
        return scalar[..., statistics.member_pattern] * statistics.member_count, vector

    def weights(self, statistics: Statistics) -> tuple[Array, Array]:
        """Return expansions of ``1'V^-1 1`` of one block of each pattern, and of w in ``1'V^-1 W = w'Q'W``.

        Shapes (J, S, P) and (J, S, P, k).
        """
        parameters = statistics.components
        top = statistics.slots[0][1].start
        row = self.shared[:, :, None, top]
        rows = [row * mark for mark in self.marks]
        carried = [np.matmul(own, self.shared) for own in rows]
        first = [row, *(-own @ own.swapaxes(-1, -2) for own in rows)]
        across = self.own.sum(axis=0)
        weight = [across[:, :, None, top], *(-own @ across for own in rows)]
        for k, m in expansion.pairs(len(self.marks)):
            first.append(2.0 * carried[k] @ rows[m].swapaxes(-1, -2))
            weight.append(carried[k] @ self.own[m] + carried[m] @ self.own[k])
        first[0] = row[..., top : top + 1]
        scalar = np.zeros((expansion.length(parameters), *self.log_det.shape))
        weights = np.zeros((*scalar.shape, self.inverse.shape[-1]))
        for place, own, vector in zip(expansion_places(self.components, parameters), first, weight, strict=True):
            scalar[place], weights[place] = own[..., 0, 0], vector[..., 0, :]
        return scalar, weights


@cache
def expansion_places(components: tuple[int, ...], parameters: int) -> list[int]:
    """Return where the value, the first and the second derivatives in some components stand in an expansion."""
    where = {pair: place for place, pair in enumerate(expansion.pairs(parameters), start=1 + parameters)}
    between = [(components[k], components[m]) for k, m in expansion.pairs(len(components))]
    return [0, *(1 + component for component in components), *(where[min(p), max(p)] for p in between)]


def upper_levels(statistics: Statistics, ratios: Array, scalar: Array, vector: Array) -> tuple[Array, Array]:
    """Absorb the levels above the blocks, one after the other, from the members' expansions of the lowest.

    Returns what they take off ``W'V^-1 W``, shape (S, J, q, q), and add to ``log|V|``, shape (S, J).
    """
    parameters = statistics.components
    taken: Array = np.zeros(1)
    more: Array = np.zeros(1)
    for level in statistics.upper:
        starts = np.flatnonzero(np.diff(level.parents, prepend=-1))
        scalar = np.add.reduceat(scalar, starts, axis=2)
        vector = np.add.reduceat(vector, starts, axis=2)
        ratio = ratios[:, level.component, None]
        weight = expansion.times_parameter(scalar, ratio, level.component, parameters)
        weight[0] += 1.0
        more = more + expansion.logarithm(weight, parameters).sum(axis=2).T
        inverse = expansion.reciprocal(weight, parameters)
        scaled = expansion.times_parameter(inverse, ratio, level.component, parameters)
        weighted = expansion.product(scaled[..., None], vector, parameters)
        taken = taken + np.swapaxes(expansion.gram(weighted, vector, parameters), 0, 1)
        if level is not statistics.upper[-1]:
            scalar = expansion.product(inverse, scalar, parameters)
            vector = expansion.product(inverse[..., None], vector, parameters)
    return taken, more


def _dot(first: Array, second: Array) -> Array:
    """Return ``sum over blocks and places of first second'``, shape (q, q)."""
    return first.reshape(-1, first.shape[-1]).T @ second.reshape(-1, second.shape[-1])

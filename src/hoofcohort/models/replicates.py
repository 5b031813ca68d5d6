"""Many outcomes on one design: their sweeps, each at variances of its own, in a few large matrix products.

The fixed-effect columns, and with them nearly all the work, are shared; an outcome adds one column. What the blocks of
one pattern contribute is ``sum_ij A_ij M_ij``: A (r, r) is symmetric and follows from the variances, and M holds the
products of the sums of two columns over groups i and j, summed over those blocks once and for all.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache

import numpy as np
from numpy.typing import NDArray

from hoofcohort.models import expansion
from hoofcohort.models.crossed import absorb
from hoofcohort.models.grouping import Grouping
from hoofcohort.models.statistics import Statistics, sufficient_statistics
from hoofcohort.models.sweep import Blocks, Swept, expansion_places, upper_levels

Array = NDArray[np.floating]
Ints = NDArray[np.intp]


@dataclass(frozen=True)
class Replicates:
    """What the model needs of S outcomes on the same rows.

    The columns are the p of the fixed part and, after them, c indicators of the groups of crossed factors.

    Attributes
    ----------
    statistics, nested : Statistics
        What does not depend on the outcomes, with and without the crossed factors.
    fixed : array, shape (P t, u)
        Products of the columns' projections on the groups of their block, for the ``t = k (k + 1) / 2`` pairs of basis
        vectors of each pattern and the u pairs of columns.
    mixed : array, shape (S, P t, p + c + 1)
        Products of the outcome's projections with the columns' and, last, with its own.
    inside_fixed, inside_mixed : arrays, shapes (u,), (S, p + c + 1)
        Products, summed row by row, of what the projections leave.
    members_fixed, members_own : arrays, shapes (M, k, p + c), (S, M, k)
        Projections of the columns and of each outcome, summed over each member of the levels above the blocks.
    """

    statistics: Statistics
    nested: Statistics
    fixed: Array
    mixed: Array
    inside_fixed: Array
    inside_mixed: Array
    members_fixed: Array
    members_own: Array

    @classmethod
    def of(cls, columns: Array, outcomes: Array, grouping: Grouping) -> Replicates:
        """Summarise orthonormal columns, shape (n, p), and outcomes, shape (n, S), of the same rows."""
        p, count = columns.shape[1], outcomes.shape[1]
        both = sufficient_statistics(np.hstack([columns, outcomes]), grouping)
        own, shared = slice(p, p + count), np.r_[0:p, p + count : both.total.shape[0]]
        fixed, mixed = _products(both, shared, own)
        inside, members = both.inside, both.member_projections
        crossed = tuple((k, slice(at.start - count + 1, at.stop - count + 1)) for k, at in both.crossed)
        shape = replace(both, columns=p + 1, crossed=crossed, sums=both.sums[:0], pattern_of=both.pattern_of[:0])
        return cls(
            statistics=shape,
            nested=replace(shape, components=shape.components - len(crossed), crossed=()),
            fixed=fixed,
            mixed=mixed,
            inside_fixed=inside[np.ix_(shared, shared)][np.triu_indices(len(shared))],
            inside_mixed=np.column_stack([inside[own][:, shared], np.diagonal(inside)[own]]),
            members_fixed=members[..., shared],
            members_own=np.ascontiguousarray(np.moveaxis(members[..., own], -1, 0)),
        )

    def __len__(self) -> int:
        """Return the number of outcomes."""
        return len(self.mixed)

    @property
    def rows(self) -> int:
        """Return N."""
        return self.statistics.rows

    def take(self, which: Ints) -> Replicates:
        """Return some of the outcomes."""
        return replace(
            self, mixed=self.mixed[which], inside_mixed=self.inside_mixed[which], members_own=self.members_own[which]
        )

    def sweep(self, ratios: Array) -> Swept:
        """Evaluate the expansions of every outcome at variance ratios of its own, shape (S, R), or at the same, (1, R).

        Returns
        -------
        Swept
            ``cross``, shape (S, J, p + 1, p + 1), the outcome being the last column; ``log_determinant``, (S, J).
        """
        nested = self.nested
        own = ratios[:, : nested.components]
        blocks = Blocks.at(nested, own)
        cross, log_determinant = self._cross(blocks, nested.components), blocks.log_determinant(nested)
        if nested.upper:
            lowest = replace(nested.upper[0], parents=np.arange(nested.upper[0].parents[-1] + 1))
            pooled = replace(nested, upper=(lowest, *nested.upper[1:]))
            taken, more = upper_levels(pooled, own, *self._upward(blocks, nested))
            cross -= taken
            log_determinant += more
        if self.statistics.crossed:
            cross, log_determinant = absorb(self.statistics, cross, log_determinant, ratios)
        return Swept(cross, np.broadcast_to(log_determinant, cross.shape[:2]))

    def _upward(self, blocks: Blocks, statistics: Statistics) -> tuple[Array, Array]:
        """Return expansions of ``1'V^-1 1`` and ``1'V^-1 W`` of the groups of the lowest level above the blocks.

        Shapes (J, S, G) and (J, S, G, q + c).
        """
        scalar, weights = blocks.weights(statistics)
        which, p = statistics.member_pattern, self.statistics.columns - 1
        starts = np.flatnonzero(np.diff(statistics.upper[0].parents, prepend=-1))
        scalar = np.add.reduceat(scalar[..., which] * statistics.member_count, starts, axis=2)
        places = expansion_places(blocks.components, statistics.components)
        chosen = weights[places][:, :, which]
        outcome = np.add.reduceat((chosen * self.members_own).sum(axis=-1), starts, axis=2)
        found = np.empty((len(places), len(self), len(starts), self.members_fixed.shape[-1] + 1))
        for group, (start, stop) in enumerate(zip(starts, [*starts[1:], len(which)], strict=True)):
            columns = self.members_fixed[start:stop].reshape(-1, self.members_fixed.shape[-1])
            fixed = chosen[:, :, start:stop].reshape(*chosen.shape[:2], -1) @ columns
            found[:, :, group, :p], found[:, :, group, p + 1 :] = fixed[..., :p], fixed[..., p:]
        found[..., p] = outcome
        vector = np.zeros((len(scalar), *found.shape[1:]))
        vector[places] = found
        return scalar, vector

    def _cross(self, blocks: Blocks, parameters: int) -> Array:
        """Return the blocks' part of ``W'V^-1 W``, shape (S, J, q + c, q + c)."""
        matrices = np.stack([_upper(matrix) for matrix in blocks.matrices()], axis=1)
        pairs = self.fixed.shape[1]
        packed = np.empty((len(self), matrices.shape[1], pairs + self.mixed.shape[2]))
        packed[..., :pairs] = -(matrices @ self.fixed)
        packed[..., pairs:] = -(matrices @ self.mixed)
        packed[:, 0, :pairs] += self.inside_fixed
        packed[:, 0, pairs:] += self.inside_mixed
        order = _unpacked(self.statistics.columns - 1, self.mixed.shape[2])
        cross = np.zeros((len(self), expansion.length(parameters), *order.shape))
        cross[:, expansion_places(blocks.components, parameters)] = packed[..., order]
        return cross


@cache
def _unpacked(p: int, width: int) -> Ints:
    """Return where every pair of columns, the outcome after the first p, stands in ``fixed`` and ``mixed``."""
    pairs = width * (width - 1) // 2
    place = np.r_[0:p, p + 1 : width]
    first, second = np.triu_indices(width - 1)
    order = np.empty((width, width), np.intp)
    order[place[first], place[second]] = order[place[second], place[first]] = np.arange(pairs)
    order[p, place] = order[place, p] = pairs + np.arange(width - 1)
    order[p, p] = pairs + width - 1
    return order


def _upper(matrices: Array) -> Array:
    """Return the pairs ``i <= j`` of symmetric matrices, shape (S, P, k, k), as (S, P t)."""
    first, second = np.triu_indices(matrices.shape[-1])
    return matrices[..., first, second].reshape(len(matrices), -1)


def _products(statistics: Statistics, shared: Ints, own: slice) -> tuple[Array, Array]:
    """Return ``fixed`` and ``mixed`` of :class:`Replicates`."""
    width, patterns = statistics.projections.shape[1], len(statistics.patterns)
    first, second = np.triu_indices(width)
    left, right = np.triu_indices(len(shared))
    outcomes = own.stop - own.start
    fixed = np.empty((patterns, len(first), len(left)))
    mixed = np.empty((outcomes, patterns, len(first), len(shared) + 1))
    for which in range(patterns):
        sums = statistics.projections[statistics.pattern_of == which]
        columns, outcome = sums[..., shared], sums[..., own]
        gram = _gram(columns, columns)
        gram = gram + gram.transpose(1, 0, 2, 3)
        fixed[which] = gram[first, second][:, left, right]
        gram = _gram(columns, outcome)
        gram = gram + gram.transpose(1, 0, 2, 3)
        mixed[:, which, :, :-1] = gram[first, second].transpose(2, 0, 1)
        for place, (i, j) in enumerate(zip(first, second, strict=True)):
            mixed[:, which, place, -1] = 2.0 * (outcome[:, i] * outcome[:, j]).sum(axis=0)
    same = first == second
    fixed[:, same] /= 2.0
    mixed[:, :, same] /= 2.0
    return fixed.reshape(-1, len(left)), mixed.reshape(outcomes, -1, len(shared) + 1)


def _gram(first: Array, second: Array) -> Array:
    """Return ``sum_b first_b[i, a] second_b[j, s]``, shape (r, r, a, s), of sums of shapes (b, r, a), (b, r, s)."""
    blocks, width, columns = first.shape
    product = first.reshape(blocks, -1).T @ second.reshape(blocks, -1)
    return product.reshape(width, columns, width, -1).transpose(0, 2, 1, 3)

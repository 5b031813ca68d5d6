"""Many outcomes on one design: their sweeps, each at variances of its own, in a few large matrix products.

The fixed-effect columns, and with them nearly all the work, are shared; an outcome adds one column. What the blocks of
one pattern contribute is ``sum_ij A_ij M_ij``: A (r, r) is symmetric and follows from the variances, and M holds the
products of the sums of two columns over groups i and j, summed over those blocks once and for all.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

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
    statistics : Statistics
        What does not depend on the outcomes.
    fixed : array, shape (P t, u)
        Products of the columns' sums, for the ``t = r (r + 1) / 2`` pairs of groups of each pattern and the u pairs of
        columns.
    mixed : array, shape (S, P t, p + c + 1)
        Products of the outcome's sums with the columns' and, last, with its own.
    total_fixed, total_mixed : arrays, shapes (p + c, p + c), (S, p + c + 1)
        The same products, summed row by row.
    members_fixed, members_own : arrays, shapes (M, r, p + c), (S, M, r)
        Sums of the columns and of each outcome over the members of the levels above the blocks.
    """

    statistics: Statistics
    fixed: Array
    mixed: Array
    total_fixed: Array
    total_mixed: Array
    members_fixed: Array
    members_own: Array

    @classmethod
    def of(cls, columns: Array, outcomes: Array, grouping: Grouping) -> Replicates:
        """Summarise orthonormal columns, shape (n, p), and outcomes, shape (n, S), of the same rows."""
        p, count = columns.shape[1], outcomes.shape[1]
        both = sufficient_statistics(np.hstack([columns, outcomes]), grouping)
        own, shared = slice(p, p + count), np.r_[0:p, p + count : both.total.shape[0]]
        fixed, mixed = _products(both, shared, own)
        total, members = both.total, both.member_sums
        crossed = tuple((k, slice(at.start - count + 1, at.stop - count + 1)) for k, at in both.crossed)
        nothing = both.sums[:0]
        return cls(
            statistics=replace(both, columns=p + 1, crossed=crossed, sums=nothing, pattern_of=both.pattern_of[:0]),
            fixed=fixed,
            mixed=mixed,
            total_fixed=total[np.ix_(shared, shared)],
            total_mixed=np.column_stack([total[own][:, shared], np.diagonal(total)[own]]),
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
            self, mixed=self.mixed[which], total_mixed=self.total_mixed[which], members_own=self.members_own[which]
        )

    def sweep(self, ratios: Array) -> Swept:
        """Evaluate the expansions of every outcome at variance ratios of its own, shape (S, R), each >= 0.

        Returns
        -------
        Swept
            ``cross``, shape (S, J, p + 1, p + 1), the outcome being the last column; ``log_determinant``, (S, J).
        """
        crossed = len(self.statistics.crossed)
        nested = replace(self.statistics, components=self.statistics.components - crossed, crossed=())
        own = ratios[:, : nested.components]
        blocks = Blocks.at(nested, own)
        cross, log_determinant = self._cross(blocks, nested.components), blocks.log_determinant(nested)
        if nested.upper:
            nested = replace(nested, member_sums=self._in_order(self.members_fixed, self.members_own))
            taken, more = upper_levels(nested, own, blocks)
            cross -= taken
            log_determinant += more
        if crossed:
            cross, log_determinant = absorb(self.statistics, cross, log_determinant, ratios)
        return Swept(cross, log_determinant)

    def _in_order(self, columns: Array, outcome: Array) -> Array:
        """Put the outcome, shape (S, ...), after the p columns and before the indicators of shape (..., p + c)."""
        p = self.statistics.columns - 1
        out = np.empty((*outcome.shape, columns.shape[-1] + 1))
        out[..., :p], out[..., p], out[..., p + 1 :] = columns[..., :p], outcome, columns[..., p:]
        return out

    def _cross(self, blocks: Blocks, parameters: int) -> Array:
        """Return the blocks' part of ``W'V^-1 W``, shape (S, J, q + c, q + c)."""
        width = self.total_fixed.shape[0]
        matrices = np.stack([_upper(matrix) for matrix in blocks.matrices()], axis=1)
        matrices = matrices.reshape(len(self), matrices.shape[1], -1)
        fixed, mixed = matrices @ self.fixed, matrices @ self.mixed
        p = self.statistics.columns - 1
        place = np.r_[0:p, p + 1 : width + 1]
        first, second = np.triu_indices(width)
        square = np.empty((*fixed.shape[:2], width + 1, width + 1))
        square[..., place[first], place[second]] = square[..., place[second], place[first]] = -fixed
        square[..., p, place] = square[..., place, p] = -mixed[..., :-1]
        square[..., p, p] = -mixed[..., -1]
        square[:, 0][..., place[:, None], place] += self.total_fixed
        square[:, 0, p, place] += self.total_mixed[:, :-1]
        square[:, 0, place, p] += self.total_mixed[:, :-1]
        square[:, 0, p, p] += self.total_mixed[:, -1]
        cross = np.zeros((len(self), expansion.length(parameters), *square.shape[2:]))
        cross[:, expansion_places(blocks.components, parameters)] = square
        return cross


def _upper(matrices: Array) -> Array:
    """Return the pairs ``i <= j`` of symmetric matrices, shape (S, P, r, r), as (S, P t)."""
    first, second = np.triu_indices(matrices.shape[-1])
    return matrices[..., first, second].reshape(len(matrices), -1)


def _products(statistics: Statistics, shared: Ints, own: slice) -> tuple[Array, Array]:
    """Return ``fixed`` and ``mixed`` of :class:`Replicates`."""
    width, patterns = statistics.patterns.shape[1], len(statistics.patterns)
    first, second = np.triu_indices(width)
    left, right = np.triu_indices(len(shared))
    outcomes = own.stop - own.start
    fixed = np.empty((patterns, len(first), len(left)))
    mixed = np.empty((outcomes, patterns, len(first), len(shared) + 1))
    for which in range(patterns):
        sums = statistics.sums[statistics.pattern_of == which]
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

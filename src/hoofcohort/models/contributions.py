"""What single groups contribute to ``W'V^-1 W`` and ``log|V|``, each at variance ratios of its own.

Outermost groups are independent of each other, so what one of them contributes can be taken off the whole. A group
inside an outermost one (a horse in its yard) is taken off by taking off the yard as it is and adding the yard without
the horse. The formulas are those of ``sweep.py``, group by group instead of pattern by pattern.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hoofcohort.errors import ModelError
from hoofcohort.models import expansion
from hoofcohort.models.grouping import Grouping
from hoofcohort.models.statistics import Bases, _ancestor, _patterns, _places, _sums, block_level_of
from hoofcohort.models.sweep import Swept

Array = NDArray[np.floating]
Ints = NDArray[np.int64]
CHUNK = 2000
"""Blocks worked on together: bounds the memory."""


@dataclass(frozen=True)
class Blocks:
    """Counts and sums of every block, none of them pooled.

    Attributes
    ----------
    components : tuple of int
        The groupings inside a block; the block's own level comes first.
    marks : array, shape (c, r)
        One where a place of a block belongs to each of these c groupings.
    patterns : array, shape (P, r, r)
    pattern : int array, shape (B,)
    bases : Bases
        Orthonormal bases Q of what the groups of a block span, one per pattern.
    projections : array, shape (B, k, q)
        ``Q'W``.
    inside : array, shape (B, q, q)
        ``W'(I - QQ')W``.
    rows : int array, shape (B,)
    upper : tuple of (component, int array of shape (B,))
        The levels above, innermost first, and the group there of every block, in ascending order.
    parameters : int
        Number R of groupings.
    """

    components: tuple[int, ...]
    marks: Array
    patterns: Array
    pattern: Ints
    bases: Bases
    projections: Array
    inside: Array
    rows: Ints
    upper: tuple[tuple[int, Ints], ...]
    parameters: int

    @classmethod
    def of(cls, columns: Array, grouping: Grouping, level: int) -> Blocks:
        """Pass over the rows once, with blocks that lie inside, or are, the groups of a nested level.

        Parameters
        ----------
        columns : array, shape (n, q)
        grouping : Grouping
        level : int
            Position of the nested level.

        Raises
        ------
        ModelError
            When groups of that level are not independent given the levels above it.
        """
        _check(grouping, level)
        own = max(block_level_of(grouping), level)
        inside = [own, *range(own + 1, len(grouping.names))]
        block, count = grouping.codes[own], len(grouping.parents[own])
        places, slots, width = _places(grouping, inside, own)
        patterns, pattern, _ = _patterns(block, count, places, width)
        marks = np.zeros((len(slots), width))
        for row, (_, where) in zip(marks, slots, strict=True):
            row[where] = 1.0
        upper = tuple((above, _ancestor(grouping, own, above)) for above in range(own - 1, -1, -1))
        bases = Bases.of(patterns)
        projections = bases.turn[pattern] @ _sums(block, count, places, width, columns)
        spanned = bases.turn[pattern].swapaxes(1, 2) @ projections
        left = columns - np.sum([spanned[block, place] for place in places], axis=0)
        return cls(
            tuple(component for component, _ in slots), marks, patterns, pattern, bases, projections,
            _squares(block, count, left), np.bincount(block, minlength=count), upper, len(grouping.names),
        )  # fmt: skip


def _check(grouping: Grouping, level: int) -> None:
    name = grouping.names[level]
    if grouping.crossed:
        raise ModelError(f"groups of level '{name}' cannot be set apart: a factor of the model crosses all of them")
    for further in range(grouping.nested, len(grouping.names)):
        if grouping.hosts[further] < level:
            raise ModelError(
                f"groups of level '{name}' cannot be set apart: '{grouping.names[further]}' crosses them inside level "
                f"'{grouping.names[grouping.hosts[further]]}'"
            )


def _squares(block: Ints, count: int, columns: Array) -> Array:
    size = columns.shape[1]
    out = np.empty((count, size, size))
    for i in range(size):
        for j in range(i + 1):
            out[:, i, j] = out[:, j, i] = np.bincount(block, columns[:, i] * columns[:, j], count)
    return out


@dataclass(frozen=True)
class Removals:
    """D sets of blocks to take off, each a range of blocks inside one outermost group.

    Attributes
    ----------
    blocks : Blocks
    start, stop : int arrays, shape (D,)
        The blocks taken off.
    outer_start, outer_stop : int arrays, shape (D,)
        All blocks of the same outermost group.
    rows : int array, shape (D,)
    """

    blocks: Blocks
    start: Ints
    stop: Ints
    outer_start: Ints
    outer_stop: Ints
    rows: Ints

    @classmethod
    def of(cls, columns: Array, grouping: Grouping, level: int) -> Removals:
        """Prepare to take off every group of a nested level in turn (see :meth:`Blocks.of`)."""
        blocks = Blocks.of(columns, grouping, level)
        own = blocks.components[0]
        group, outer = _ancestor(grouping, own, level), _ancestor(grouping, own, 0)
        groups = len(grouping.parents[level])
        bounds = np.searchsorted(group, np.arange(groups + 1))
        outermost = outer[bounds[:-1]]
        edges = np.searchsorted(outer, np.arange(len(grouping.parents[0]) + 1))
        rows = np.bincount(grouping.codes[level], minlength=groups)
        return cls(blocks, bounds[:-1], bounds[1:], edges[outermost], edges[outermost + 1], rows)

    def of_these(self, which: NDArray[np.integer]) -> Removals:
        """Return some of the sets."""
        parts = (self.start, self.stop, self.outer_start, self.outer_stop, self.rows)
        return Removals(self.blocks, *(part[which] for part in parts))

    def squares(self) -> Array:
        """Return ``W'W`` of the rows taken off, shape (D, q, q)."""
        owner, member = _flattened(self.start, self.stop)
        projections = self.blocks.projections[member]
        squares = self.blocks.inside[member] + projections.swapaxes(1, 2) @ projections
        return np.add.reduceat(squares, np.searchsorted(owner, np.arange(len(self.start))))

    def at(self, ratios: Array) -> Swept:
        """Return what is to be taken off the sweep of all rows.

        Parameters
        ----------
        ratios : array, shape (D, R)
            Variance ratios of each set.

        Returns
        -------
        Swept
            ``cross``, shape (D, J, q, q), and ``log_determinant``, shape (D, J).
        """
        size = expansion.length(self.blocks.parameters)
        columns = self.blocks.inside.shape[-1]
        cross, log_det = np.empty((len(ratios), size, columns, columns)), np.empty((len(ratios), size))
        weight = np.cumsum(self.outer_stop - self.outer_start if self.blocks.upper else self.stop - self.start)
        pieces = np.split(np.arange(len(ratios)), np.flatnonzero(np.diff(weight // CHUNK)) + 1)
        for piece in pieces:
            cross[piece], log_det[piece] = self.of_these(piece)._at(ratios[piece])
        return Swept(cross, log_det)

    def _at(self, ratios: Array) -> tuple[Array, Array]:
        distinct, ratio_of = np.unique(ratios, axis=0, return_inverse=True)
        ratio_of = ratio_of.reshape(-1)
        owner, member = _flattened(self.start, self.stop)
        cross, log_det = _Solved.at(self.blocks, member, distinct, ratio_of[owner]).contributions()
        first = np.searchsorted(owner, np.arange(len(ratios)))
        cross, log_det = np.add.reduceat(cross, first), np.add.reduceat(log_det, first)
        if self.blocks.upper:
            owner, member = _flattened(self.outer_start, self.outer_stop)
            scalar, vector = _Solved.at(self.blocks, member, distinct, ratio_of[owner]).upward()
            stays = (member < self.start[owner]) | (member >= self.stop[owner])
            for chosen, sign in ((slice(None), 1.0), (stays, -1.0)):
                taken, more = _climbed(
                    self.blocks, scalar[:, chosen], vector[:, chosen], owner[chosen], member[chosen], ratios
                )
                cross -= sign * taken
                log_det += sign * more
        return cross, log_det


def outermost_contributions(blocks: Blocks, ratios: Array) -> Array:
    """Return ``W_g'V_g^-1 W_g`` of every outermost group at ratios of shape (R,); shape (G, q, q)."""
    outer = blocks.upper[-1][1] if blocks.upper else np.arange(len(blocks.rows))
    edges = np.searchsorted(outer, np.arange(outer[-1] + 2))
    parts = (edges[:-1], edges[1:])
    rows = np.add.reduceat(blocks.rows, edges[:-1])
    found = Removals(blocks, *parts, *parts, rows).at(np.broadcast_to(ratios, (len(rows), len(ratios))))
    return found.cross[:, 0]


@dataclass(frozen=True)
class _Solved:
    """M blocks at ratios of their own; blocks of one pattern at one set of ratios share the matrices.

    Attributes
    ----------
    blocks : Blocks
    member : int array, shape (M,)
    inverse, across, shared, log_det : arrays, shapes (U, k, k), (U, r, k), (U, r, r), (U,)
        ``(Q'VQ)^-1``, ``Z'V^-1 Q``, ``Z'V^-1 Z`` and ``log|V|`` of each distinct pair of pattern and ratios.
    case : int array, shape (M,)
    """

    blocks: Blocks
    member: Ints
    inverse: Array
    across: Array
    shared: Array
    log_det: Array
    case: Ints

    @classmethod
    def at(cls, blocks: Blocks, member: Ints, distinct: Array, ratio_of: Ints) -> _Solved:
        pairs, case = np.unique(blocks.pattern[member] * len(distinct) + ratio_of, return_inverse=True)
        pattern, ratio = np.divmod(pairs, len(distinct))
        scale = distinct[ratio][:, list(blocks.components)] @ blocks.marks
        triangle = blocks.bases.triangle[pattern]
        inner = np.eye(triangle.shape[1]) + (triangle * scale[:, None, :]) @ triangle.swapaxes(1, 2)
        inverse = np.linalg.inv(inner)
        across = triangle.swapaxes(1, 2) @ inverse
        shared = across @ triangle
        shared = (shared + shared.swapaxes(-1, -2)) / 2
        return cls(blocks, member, inverse, across, shared, np.linalg.slogdet(inner)[1], case.reshape(-1))

    def contributions(self) -> tuple[Array, Array]:
        """Return the blocks' own ``W'V^-1 W``, shape (M, J, q, q), and ``log|V|``, shape (M, J)."""
        blocks, case = self.blocks, self.case
        projections = blocks.projections[self.member]
        columns, where = projections.shape[2], _positions(blocks)
        cross = np.zeros((len(projections), expansion.length(blocks.parameters), columns, columns))
        value = blocks.inside[self.member] + projections.swapaxes(-1, -2) @ self.inverse[case] @ projections
        projected = self.across[case] @ projections
        found = [(value + value.swapaxes(-1, -2)) / 2]
        parts = [projected * mark[:, None] for mark in blocks.marks]
        found += [-part.swapaxes(-1, -2) @ part for part in parts]
        carried = [self.shared[case] @ part for part in parts]
        for k, m in expansion.pairs(len(parts)):
            half = parts[k].swapaxes(-1, -2) @ carried[m]
            found.append(half + half.swapaxes(-1, -2))
        for place, part in zip(where, found, strict=True):
            cross[:, place] = part
        return cross, self._log_determinants(where)[case]

    def _log_determinants(self, where: list[int]) -> Array:
        marks = self.blocks.marks
        out = np.zeros((len(self.log_det), expansion.length(self.blocks.parameters)))
        traces = np.diagonal(self.shared, axis1=-2, axis2=-1) @ marks.T
        squares = marks @ (self.shared**2) @ marks.T
        found = [self.log_det, *traces.T, *(-squares[:, k, m] for k, m in expansion.pairs(len(marks)))]
        for place, part in zip(where, found, strict=True):
            out[:, place] = part
        return out

    def upward(self) -> tuple[Array, Array]:
        """Return expansions of ``1'V^-1 1``, shape (J, M), and of ``1'V^-1 W``, shape (J, M, q)."""
        marks, size = self.blocks.marks, expansion.length(self.blocks.parameters)
        row = self.shared[:, :1]
        rows = [row * mark for mark in marks]
        carried = [own @ self.shared for own in rows]
        scalars = [row[:, :, :1], *(-own @ own.swapaxes(-1, -2) for own in rows)]
        vectors = [self.across[:, :1], *(-own @ self.across for own in rows)]
        for k, m in expansion.pairs(len(marks)):
            scalars.append(2.0 * carried[k] @ rows[m].swapaxes(-1, -2))
            vectors.append((carried[k] * marks[m] + carried[m] * marks[k]) @ self.across)
        scalar, weights = np.zeros((size, len(row))), np.zeros((len(row), size, self.across.shape[-1]))
        for place, own, vector in zip(_positions(self.blocks), scalars, vectors, strict=True):
            scalar[place], weights[:, place] = own[:, 0, 0], vector[:, 0]
        vector = weights[self.case] @ self.blocks.projections[self.member]
        return scalar[:, self.case], np.ascontiguousarray(vector.swapaxes(0, 1))


def _climbed(
    blocks: Blocks, scalar: Array, vector: Array, owner: Ints, member: Ints, ratios: Array
) -> tuple[Array, Array]:
    """Absorb the levels above the blocks, for the members of each owner apart from those of others.

    Returns what they take off ``W'V^-1 W``, shape (D, J, q, q), and add to ``log|V|``, shape (D, J).
    """
    parameters = blocks.parameters
    taken = np.zeros((len(ratios), len(vector), vector.shape[2], vector.shape[2]))
    more = np.zeros((len(ratios), len(scalar)))
    if not len(owner):
        return taken, more
    for component, group in blocks.upper:
        starts = np.flatnonzero(np.diff(group[member], prepend=-1) | np.diff(owner, prepend=-1))
        scalar, vector = np.add.reduceat(scalar, starts, axis=1), np.add.reduceat(vector, starts, axis=1)
        owner, member = owner[starts], member[starts]
        ratio = ratios[owner, component]
        weight = expansion.times_parameter(scalar, ratio, component, parameters)
        weight[0] += 1.0
        inverse = expansion.reciprocal(weight, parameters)
        passed = expansion.product(inverse[..., None], vector, parameters)
        weighted = expansion.times_parameter(passed, ratio[:, None], component, parameters)
        outer = expansion.product(weighted[..., None], vector[..., None, :], parameters)
        firsts = np.flatnonzero(np.diff(owner, prepend=-1))
        taken[owner[firsts]] += np.add.reduceat(outer, firsts, axis=1).swapaxes(0, 1)
        more[owner[firsts]] += np.add.reduceat(expansion.logarithm(weight, parameters), firsts, axis=1).T
        scalar, vector = expansion.product(inverse, scalar, parameters), passed
    return taken, more


def _positions(blocks: Blocks) -> list[int]:
    """Return where value and derivatives in a block's own groupings stand in an expansion."""
    head = 1 + blocks.parameters
    where = {pair: place for place, pair in enumerate(expansion.pairs(blocks.parameters), start=head)}
    own = blocks.components
    between = [(own[k], own[m]) for k, m in expansion.pairs(len(own))]
    return [0, *(1 + component for component in own), *(where[min(pair), max(pair)] for pair in between)]


def _flattened(start: Ints, stop: Ints) -> tuple[Ints, Ints]:
    """List the members of every range, with the range each belongs to."""
    counts = stop - start
    owner = np.repeat(np.arange(len(start)), counts)
    before = np.cumsum(counts) - counts
    return owner, np.arange(counts.sum()) - before[owner] + start[owner]

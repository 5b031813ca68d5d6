"""Sufficient statistics of a grouped cohort: after one pass over the rows the data are not touched again.

The rows are cut into blocks. Inside a block anything may cross; blocks are independent of each other but for the
levels above them, which are nested. With a crossing grouping, such as horse:visit, a block is a group of the level
inside which it crosses (the horse); without one, a group of the innermost level, or of the next where that is small.

A block enters the model only through the counts ``Z'Z`` of its groups (its pattern) and the sums ``Z'W`` of the
columns ``W = [X y]`` over them. Blocks of equal pattern share every matrix that depends on the variances, and enter
the criterion only through the sum of ``vec(Z'W) vec(Z'W)'``: many of them are replaced by the few rows of a
triangular factor of that sum.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from hoofcohort.errors import ModelError
from hoofcohort.models.crossed import shares_of_indicators, with_indicators
from hoofcohort.models.grouping import Grouping

Array = NDArray[np.floating]
Ints = NDArray[np.int64]
LARGEST_BLOCK = 3000
"""Groups inside one block, at most: the work in a block grows with the third power of this number."""

SMALL_BLOCK = 32
"""Innermost groups inside one group, at most, for that group to serve as a block of a nested model."""


DEPENDENT = 1e-9
"""Share of its squared length outside the earlier columns at or below which a column of Z is a combination of them."""

LARGEST_MOMENTS = 8
"""Moments of the sums are formed where they have at most this many times as many numbers as the sums."""


LARGEST_REORDERED = 64
"""Groups inside one block, at most, for blocks to be likely to have a pattern in common."""


@dataclass(frozen=True)
class UpperLevel:
    """One nested level above the blocks.

    Attributes
    ----------
    component : int
        Position of the level among the groupings.
    parents : int array, shape (members,)
        The group of this level in which each member of the level below lies, in ascending order.
    """

    component: int
    parents: Ints


@dataclass(frozen=True)
class Statistics:
    """What the model needs of the rows.

    Attributes
    ----------
    rows, columns : int
        N, and the number q of columns of W.
    components : int
        Number R of random groupings.
    crossed : tuple of (component, slice)
        Crossed factors, and which columns after the q of W are the indicators of their groups. With c of them in all,
        every q below reads q + c.
    total : array, shape (q, q)
        ``W'W``.
    slots : tuple of (component, slice)
        Which places of a block belong to which grouping; the block's own level comes first, with one place.
    patterns : array, shape (P, r, r)
        ``Z'Z`` of every distinct pattern.
    multiplicity : array, shape (P,)
        Number of blocks of each pattern.
    sums : array, shape (B, r, q)
        ``Z'W`` of the blocks, or of their triangular stand-ins.
    pattern_of : int array, shape (B,)
        Pattern of each row of ``sums``.
    member_sums, member_pattern, member_count : arrays, shapes (M, r, q), (M,), (M,)
        Sums over the blocks of one pattern within one group of the level above, their pattern and their number.
        Empty when no level lies above the blocks.
    upper : tuple of UpperLevel
        The levels above the blocks, innermost first.
    within : array, shape (q, q), or None
        Cross-products of W less its projection on the groups of each block; None when only sums are at hand.
    shift : array, shape (c, q), or None
        How much of every indicator was taken off each column of W, so that no digit is lost where a crossed factor's
        variance is very large.
    within_factor : array, shape (q, q), or None
        Upper triangular factor of ``within``, made from the rows; None unless asked for.
    """

    rows: int
    columns: int
    components: int
    total: Array
    slots: tuple[tuple[int, slice], ...]
    patterns: Array
    multiplicity: Array
    sums: Array
    pattern_of: Ints
    member_sums: Array
    member_pattern: Ints
    member_count: Array
    upper: tuple[UpperLevel, ...]
    crossed: tuple[tuple[int, slice], ...] = ()
    within: Array | None = None
    shift: Array | None = None
    within_factor: Array | None = None

    @cached_property
    def bases(self) -> Bases:
        """Orthonormal bases of what the groups of a block span, one per pattern."""
        return Bases.of(self.patterns)

    @cached_property
    def projections(self) -> Array:
        """Projections ``Q'W`` of the blocks, or of their stand-ins, on the bases, shape (B, k, q)."""
        return self.bases.turn[self.pattern_of] @ self.sums

    @cached_property
    def member_projections(self) -> Array:
        """Projections ``Q'W`` of the members, shape (M, k, q)."""
        return self.bases.turn[self.member_pattern] @ self.member_sums

    @cached_property
    def inside(self) -> Array:
        """``W'(I - QQ')W``: what is left of ``W'W`` inside the groups, shape (q, q)."""
        if self.within is not None:
            return self.within
        flat = self.projections.reshape(-1, self.projections.shape[-1])
        return self.total - flat.T @ flat

    @property
    def fewest_groups(self) -> int:
        """Number of groups of the outermost level or crossed factor that has fewest."""
        outermost = int(self.upper[-1].parents[-1]) + 1 if self.upper else int(self.multiplicity.sum())
        return min([outermost, *(places.stop - places.start for _, places in self.crossed)])

    @cached_property
    def nested_part(self) -> Statistics:
        """The statistics without the crossed factors, the indicators of their groups being further columns."""
        count = self.total.shape[0]
        return replace(self, components=self.components - len(self.crossed), columns=count, crossed=(), shift=None)

    @cached_property
    def moments(self) -> Array | None:
        """Sums of ``vec(Q'W) vec(Q'W)'`` per pattern, shape (P k k, q q); None where projections are smaller."""
        width, columns = self.projections.shape[1:]
        if len(self.patterns) * width * columns > LARGEST_MOMENTS * len(self.sums):
            return None
        moments = np.zeros((len(self.patterns), width, width, columns, columns))
        for which in range(len(self.patterns)):
            rows = self.projections[self.pattern_of == which].reshape(-1, width * columns)
            gram = (rows.T @ rows).reshape(width, columns, width, columns)
            moments[which] = gram.transpose(0, 2, 1, 3)
        return moments.reshape(-1, columns * columns)


@dataclass(frozen=True)
class Bases:
    """Per pattern an orthonormal basis Q of the columns of Z, found left to right: the block's own column first.

    Attributes
    ----------
    triangle : array, shape (P, k, r)
        ``Q'Z``, upper trapezoidal.
    turn : array, shape (P, k, r)
        ``Q = Z turn'``, so that ``Q'W = turn Z'W``.
    """

    triangle: Array
    turn: Array

    @classmethod
    def of(cls, patterns: Array) -> Bases:
        """Orthogonalise the columns by their inner products ``Z'Z``, shape (P, r, r)."""
        triangle, turn = np.zeros_like(patterns), np.zeros_like(patterns)
        for place in range(patterns.shape[1]):
            before = triangle[:, :place, place, None]
            rest = patterns[:, place, :] - (before * triangle[:, :place]).sum(axis=1)
            length = rest[:, place]
            size = np.sqrt(np.where(length > DEPENDENT * patterns[:, place, place], length, np.inf))
            triangle[:, place, place:] = rest[:, place:] / size[:, None]
            own = -(before * turn[:, :place]).sum(axis=1)
            own[:, place] += 1.0
            turn[:, place] = own / size[:, None]
        used = np.diagonal(triangle, axis1=1, axis2=2).any(axis=0)
        return cls(triangle[:, used], turn[:, used])


@dataclass(frozen=True)
class Layout:
    """How rows are cut into blocks, and the blocks' patterns.

    Attributes
    ----------
    block : int array, shape (n,)
        Block of each row.
    places : list of int arrays, each shape (n,)
        For every grouping inside a block, the place of each row there, groups being taken in the order of their codes.
    slots : tuple of (component, slice)
    order : int array, shape (B, r), or None
        For every block the places in the order of its pattern; None when that is the order of the codes.
    patterns, pattern, multiplicity : arrays, shapes (P, r, r), (B,), (P,)
        Distinct patterns, the pattern of every block, and the number of blocks of each.
    """

    block: Ints
    places: list[Ints]
    slots: tuple[tuple[int, slice], ...]
    order: Ints | None
    patterns: Array
    pattern: Ints
    multiplicity: Array

    @classmethod
    def of(cls, grouping: Grouping, block_level: int) -> Layout:
        """Cut rows into the groups of one level.

        The groups of each grouping inside a block are put into an order of the pattern's own, largest first, so that
        blocks that differ in nothing but which of their feet or visits come first share a pattern.

        Raises
        ------
        ModelError
            When a block holds more than :data:`LARGEST_BLOCK` groups.
        """
        block, blocks = grouping.codes[block_level], len(grouping.parents[block_level])
        inside = list(range(block_level, len(grouping.names) - grouping.crossed))
        places, slots, width = _places(grouping, inside, block_level)
        if width > LARGEST_BLOCK:
            raise ModelError(
                f"a group of level '{grouping.names[block_level]}' holds {width} groups that cross each other; "
                f"at most {LARGEST_BLOCK} can be handled exactly; cross inside a smaller level"
            )
        patterns, pattern, multiplicity = _patterns(block, blocks, places, width)
        if width > LARGEST_REORDERED:
            return cls(block, places, slots, None, patterns, pattern, multiplicity)
        order = _order_of_places(patterns, slots)
        each = np.arange(len(patterns))[:, None]
        moved = patterns[each[..., None], order[:, :, None], order[:, None, :]]
        flat = moved.reshape(len(moved), -1)
        _, first_seen, merged = np.unique(flat, axis=0, return_index=True, return_inverse=True)
        merged = merged.reshape(-1).astype(np.int64)
        multiplicity = np.bincount(merged, multiplicity).astype(float)
        return cls(block, places, slots, order[pattern], moved[first_seen], merged[pattern], multiplicity)


def sufficient_statistics(
    columns: Array,
    grouping: Grouping,
    block_level: int | None = None,
    shifted: bool = False,
    factored: bool = False,
) -> Statistics:
    """Summarise the rows.

    Parameters
    ----------
    columns : array, shape (n, q)
        W = [X y], best with orthonormal X.
    grouping : Grouping
        Groups of the same n rows.
    block_level : int, optional
        Position of the level whose groups are the blocks; :func:`block_level_of` chooses it by default.
    shifted : bool
        Whether to take off W what it has of the indicators of crossed factors (see ``Statistics.shift``).
    factored : bool
        Whether to keep ``Statistics.within_factor`` too, for W whose columns are not orthonormal.

    Raises
    ------
    ModelError
        When a block holds more than :data:`LARGEST_BLOCK` groups.
    """
    own = columns.shape[1]
    columns, crossed = with_indicators(columns, grouping)
    block_level = block_level_of(grouping) if block_level is None else block_level
    cut = Layout.of(grouping, block_level)
    patterns, pattern, multiplicity, slots = cut.patterns, cut.pattern, cut.multiplicity, cut.slots
    sums = _sums(cut.block, len(pattern), cut.places, patterns.shape[1], columns)
    rest = _rest(columns, cut, sums)
    shift = None
    if crossed and shifted:
        shift = shares_of_indicators(columns, rest, own)
        for values in (columns, rest, sums):
            values[..., :own] -= values[..., own:] @ shift
    within = rest.T @ rest
    if cut.order is not None:
        sums = np.take_along_axis(sums, cut.order[:, :, None], axis=1)
    member_sums, member_pattern, member_count, upper = _members(grouping, block_level, pattern, sums, len(patterns))
    sums, pattern_of = _compress(sums, pattern, len(patterns))
    return Statistics(
        rows=len(columns),
        columns=own,
        components=len(grouping.names),
        total=columns.T @ columns,
        slots=slots,
        patterns=patterns,
        multiplicity=multiplicity,
        sums=sums,
        pattern_of=pattern_of,
        member_sums=member_sums,
        member_pattern=member_pattern,
        member_count=member_count,
        upper=upper,
        crossed=crossed,
        within=within,
        shift=shift,
        within_factor=triangular(rest) if factored else None,
    )


def block_sums(columns: Array, grouping: Grouping, block_level: int) -> tuple[Layout, Array, Array]:
    """Return how rows are cut into blocks, every block's ``Z'W``, shape (B, r, q), and the rows less their projections.

    The sums are in the order of the pattern.
    """
    cut = Layout.of(grouping, block_level)
    sums = _sums(cut.block, len(cut.pattern), cut.places, cut.patterns.shape[1], columns)
    rest = _rest(columns, cut, sums)
    return cut, sums if cut.order is None else np.take_along_axis(sums, cut.order[:, :, None], axis=1), rest


def triangular(rows: Array) -> Array:
    """Return the upper triangular factor of rows, shape (m, q), with a diagonal that is not negative."""
    factor = np.linalg.qr(rows, mode="r")
    return np.triu(factor * np.where(np.diag(factor) < 0, -1.0, 1.0)[:, None])


def block_level_of(grouping: Grouping) -> int:
    """Choose the level whose groups are the blocks."""
    hosts = grouping.hosts[grouping.nested : len(grouping.names) - grouping.crossed]
    if hosts:
        return min(hosts)
    innermost = grouping.nested - 1
    if innermost and np.bincount(grouping.parents[innermost]).max() <= SMALL_BLOCK:
        return innermost - 1
    return innermost


def _places(
    grouping: Grouping, inside: list[int], block_level: int
) -> tuple[list[Ints], tuple[tuple[int, slice], ...], int]:
    """Give every group inside a block its place there: per grouping the place of each row, and the slices."""
    places: list[Ints] = []
    slots: list[tuple[int, slice]] = []
    start = 0
    for g in inside:
        block_of_group = _ancestor(grouping, g, block_level)
        order = np.argsort(block_of_group, kind="stable")
        sorted_blocks = block_of_group[order]
        first = np.searchsorted(sorted_blocks, sorted_blocks)
        rank = np.empty(len(order), np.int64)
        rank[order] = np.arange(len(order)) - first
        count = int(rank.max()) + 1
        places.append(start + rank[grouping.codes[g]])
        slots.append((g, slice(start, start + count)))
        start += count
    return places, tuple(slots), start


def _ancestor(grouping: Grouping, position: int, level: int) -> Ints:
    """Return, for every group of a grouping, the group of an outer level it lies in."""
    found = np.arange(len(grouping.parents[position]))
    while position != level:
        found = grouping.parents[position][found]
        position = grouping.hosts[position]
    return found


def _patterns(block: Ints, blocks: int, places: list[Ints], width: int) -> tuple[Array, Ints, Array]:
    """Count the rows that groups share within each block and keep the distinct count matrices."""
    flat = np.zeros(blocks * width * width)
    for first in places:
        for second in places:
            flat += np.bincount((block * width + first) * width + second, minlength=len(flat))
    counts = flat.reshape(blocks, width * width)
    weights = np.random.default_rng(0).integers(1, 2**62, width * width, dtype=np.uint64)
    digest = (counts.astype(np.uint64) * weights).sum(axis=1, dtype=np.uint64)
    _, first_seen, pattern = np.unique(digest, return_index=True, return_inverse=True)
    if not (counts[first_seen][pattern] == counts).all():
        _, first_seen, pattern = np.unique(counts, axis=0, return_index=True, return_inverse=True)
    multiplicity = np.bincount(pattern).astype(float)
    return counts[first_seen].reshape(-1, width, width), pattern.reshape(-1).astype(np.int64), multiplicity


def _order_of_places(patterns: Array, slots: tuple[tuple[int, slice], ...]) -> Ints:
    """Return for every pattern the places in their new order, shape (P, r): by size, then by what they share.

    Each round sorts the places of a grouping by their counts shared with the others as these stand in order so far.
    """
    order = np.tile(np.arange(patterns.shape[1]), (len(patterns), 1))
    each = np.arange(len(patterns))[:, None]
    for repeat in range(3):
        for _, places in slots:
            rows = patterns[each[..., None], order[:, places, None], order[:, None, :]]
            own = np.diagonal(rows[:, :, places], axis1=1, axis2=2).copy()
            rows[:, :, places] = 0.0
            keys = np.concatenate([own[:, :, None], rows if repeat else rows[:, :, :0]], axis=2)
            best = np.lexsort(-keys.transpose(2, 0, 1)[::-1], axis=-1)
            order[:, places] = np.take_along_axis(order[:, places], best, axis=1)
    return order


def _sums(block: Ints, blocks: int, places: list[Ints], width: int, columns: Array) -> Array:
    """Sum every column over every group of every block."""
    sums = np.zeros((columns.shape[1], blocks * width))
    for place in places:
        where = block * width + place
        for column in range(columns.shape[1]):
            sums[column] += np.bincount(where, weights=columns[:, column], minlength=blocks * width)
    return np.ascontiguousarray(sums.reshape(-1, blocks, width).transpose(1, 2, 0))


def _rest(columns: Array, cut: Layout, sums: Array) -> Array:
    """Return the columns less their projections on the groups of each block, for their cross-products.

    From the rows themselves: as a difference of sums it would keep no digit where the groups differ very much.
    """
    turn = Bases.of(cut.patterns).turn
    inverse = turn.swapaxes(-1, -2) @ turn
    weights = np.empty_like(sums)
    for which, own in enumerate(_by_pattern(cut.pattern, len(cut.patterns))):
        chosen = sums[own] if cut.order is None else np.take_along_axis(sums[own], cut.order[own, :, None], axis=1)
        found = inverse[which] @ chosen
        if cut.order is None:
            weights[own] = found
        else:
            weights[own[:, None], cut.order[own]] = found
    flat = weights.reshape(-1, columns.shape[1])
    start = cut.block * sums.shape[1]
    rest = columns - flat[start + cut.places[0]]
    for place in cut.places[1:]:
        rest -= flat[start + place]
    return rest


def _by_pattern(pattern: Ints, patterns: int) -> list[Ints]:
    """Return the blocks of each pattern."""
    order = np.argsort(pattern, kind="stable")
    return np.split(order, np.cumsum(np.bincount(pattern, minlength=patterns))[:-1])


def _members(
    grouping: Grouping, block_level: int, pattern: Ints, sums: Array, patterns: int
) -> tuple[Array, Ints, Array, tuple[UpperLevel, ...]]:
    """Pool blocks of equal pattern within the group above them, and list the levels above."""
    if block_level == 0:
        return np.zeros((0, *sums.shape[1:])), np.zeros(0, np.int64), np.zeros(0), ()
    key, member = np.unique(grouping.parents[block_level] * patterns + pattern, return_inverse=True)
    order = np.argsort(member, kind="stable")
    starts = np.searchsorted(member[order], np.arange(len(key)))
    pooled = np.add.reduceat(sums[order], starts, axis=0)
    count = np.bincount(member).astype(float)
    parents = key // patterns
    upper = []
    for level in range(block_level - 1, -1, -1):
        upper.append(UpperLevel(level, parents))
        parents = grouping.parents[level]
    return pooled, key % patterns, count, tuple(upper)


def _compress(sums: Array, pattern: Ints, patterns: int) -> tuple[Array, Ints]:
    """Replace the blocks of a pattern by a triangular factor wherever they outnumber its rows."""
    width, columns = sums.shape[1:]
    size = width * columns
    counts = np.bincount(pattern, minlength=patterns)
    if not (counts > size).any():
        return sums, pattern
    kept, owners = [], []
    for which in range(patterns):
        rows = sums[pattern == which].reshape(-1, size)
        if len(rows) > size:
            rows = np.linalg.qr(rows, mode="r")
        kept.append(rows.reshape(-1, width, columns))
        owners.append(np.full(len(rows), which))
    return np.concatenate(kept), np.concatenate(owners)

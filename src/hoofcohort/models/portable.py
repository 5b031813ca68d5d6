"""Sufficient statistics that add up: those of disjoint sets of outermost groups make those of all of them.

They are of the columns ``W = [X y]`` as they come, less fixed constants, because a basis of X is known only when all
rows have been seen. Wherever sums of products are needed, W'W among them, a triangular factor of them is kept and
never the products, whose condition is its square: the factors of two parts, one below the other, have a factor that is
that of the whole. From the factor R of W follows an orthonormal basis, X = Q R, and all sums in it, since ``Z'W`` is
linear in the columns of W.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from hoofcohort.models.specification import Specification
from hoofcohort.models.statistics import Bases, Ints, Statistics, UpperLevel, triangular
from hoofcohort.models.symmetry import Symmetry

Array = NDArray[np.floating]
Key = tuple[tuple[int, ...], bytes]


@dataclass(frozen=True)
class Cell:
    """Blocks of one pattern.

    Attributes
    ----------
    used : tuple of int
        Groups of every grouping inside the block, the block's own level first.
    counts : array, shape (r, r)
        ``Z'Z``, whole numbers.
    blocks : int
        Number of blocks.
    sums : array, shape (m, r, q)
        Factors of the blocks' ``Z'W`` in the directions that a fit tells apart (see :class:`Symmetry`); never the
        blocks' own sums.
    """

    used: tuple[int, ...]
    counts: Array
    blocks: int
    sums: Array

    @property
    def key(self) -> Key:
        """What blocks of this pattern have in common, the same in every file."""
        return key_of(self.used, self.counts)


@dataclass(frozen=True)
class Members:
    """Blocks of one pattern within one group of the level above them; empty when no level lies above.

    Attributes
    ----------
    cell : int array, shape (M,)
        Position of the pattern among the cells.
    count : int array, shape (M,)
        Number of blocks.
    sums : list of arrays, shape (r, q), of length M
        Their ``Z'W``, summed.
    parents : tuple of int arrays
        For every level above the blocks, innermost first, the group of each member, or group of the level below.
    """

    cell: Ints
    count: Ints
    sums: list[Array]
    parents: tuple[Ints, ...]


@dataclass(frozen=True)
class PortableStatistics:
    """Statistics of some outermost groups, ready to be merged and fitted.

    Attributes
    ----------
    specification : Specification
    rows, rows_dropped : int
        Rows summed, and rows left out for a missing value.
    animals : int
        Groups of the level that the specification counts.
    left_out : int
        Animals left out because their cell rested on too few.
    minimum : int
        Animals on which every cell rests at least.
    words : dict of str to int
        For every word, and every combination of words in a term, the animals that have it.
    within : array, shape (q, q)
        Upper triangular factor of W, centred, less its projections on the groups of each block.
    column_sums : array, shape (q,)
        Of W, centred.
    variable_sums : dict of str to array
        Sums of every variable that is a number or shares.
    cells : tuple of Cell
        In order of their keys.
    members : Members
    parts : tuple of str
        Digests of what was merged, by which a part that comes twice is found.
    """

    specification: Specification
    rows: int
    rows_dropped: int
    animals: int
    left_out: int
    minimum: int
    words: Mapping[str, int]
    within: Array
    column_sums: Array
    variable_sums: Mapping[str, Array]
    cells: tuple[Cell, ...]
    members: Members
    parts: tuple[str, ...] = ()

    @cached_property
    def root(self) -> Array:
        """Upper triangular factor of W, centred, shape (q, q): what lies inside the groups, and what between them."""
        turns = (Bases.of(cell.counts[None]).turn[0] for cell in self.cells)
        between = [
            (turn @ cell.sums).reshape(-1, self.within.shape[1]) for turn, cell in zip(turns, self.cells, strict=True)
        ]
        return square(triangular(np.concatenate([self.within, *between])))

    @property
    def inside(self) -> tuple[int, ...]:
        """Positions of the groupings inside a block, its own level first."""
        return tuple(range(self.specification.block_level, self.groupings))

    @property
    def groupings(self) -> int:
        """Number of groupings."""
        return len(self.specification.groupings)

    def counted(self) -> Ints:
        """Return on how many animals each cell rests: a member, or a pattern where no level lies above the blocks.

        Where the animal is a level above the blocks, whatever lies in one group above a block is of one animal.
        """
        if not self.members.parents:
            return np.array([cell.blocks for cell in self.cells], np.int64)
        levels = self.specification.levels
        one = levels.index(self.specification.animal) < levels.index(self.specification.blocks)
        return np.ones_like(self.members.count) if one else self.members.count

    def sizes(self) -> dict[str, int]:
        """Return the number of groups of every grouping."""
        found = [len(parents) for parents in self._groups_above()]
        slots = np.zeros(len(self.inside), np.int64)
        for cell in self.cells:
            slots += cell.blocks * np.array(cell.used)
        return dict(zip(self.specification.groupings, [*found, *map(int, slots)], strict=True))

    def _groups_above(self) -> list[range]:
        return [range(int(parents[-1]) + 1) for parents in reversed(self.members.parents)]

    def statistics(self, transform: Array, total: Array) -> Statistics:
        """Return the engine's statistics of ``W @ transform``.

        Parameters
        ----------
        transform : array, shape (q, k)
        total : array, shape (k, k)
            ``(W @ transform)'(W @ transform)``.
        """
        within = self.within @ transform
        slots, widths = self._slots()
        places = [_places(cell.used, widths) for cell in self.cells]
        width = sum(widths)
        patterns = np.zeros((len(self.cells), width, width))
        for pattern, cell, where in zip(patterns, self.cells, places, strict=True):
            pattern[np.ix_(where, where)] = cell.counts
        owners = np.repeat(np.arange(len(self.cells)), [len(cell.sums) for cell in self.cells])
        sums = np.zeros((len(owners), width, transform.shape[1]))
        for position, (cell, where) in enumerate(zip(self.cells, places, strict=True)):
            sums[np.ix_(owners == position, where)] = cell.sums @ transform
        member_sums = np.zeros((len(self.members.cell), width, transform.shape[1]))
        for out, position, own in zip(member_sums, self.members.cell, self.members.sums, strict=True):
            out[places[position]] = own @ transform
        first = self.inside[0]
        return Statistics(
            rows=self.rows,
            columns=transform.shape[1],
            components=self.groupings,
            total=total,
            slots=slots,
            patterns=patterns,
            multiplicity=np.array([cell.blocks for cell in self.cells], float),
            sums=sums,
            pattern_of=owners.astype(np.int64),
            member_sums=member_sums,
            member_pattern=self.members.cell,
            member_count=self.members.count.astype(float),
            upper=tuple(
                UpperLevel(first - 1 - place, parents) for place, parents in enumerate(self.members.parents)
            ),
            within=within.T @ within,
        )  # fmt: skip

    def _slots(self) -> tuple[tuple[tuple[int, slice], ...], tuple[int, ...]]:
        widths = tuple(int(width) for width in np.max([cell.used for cell in self.cells], axis=0))
        ends = np.cumsum(widths)
        pairs = zip(self.inside, widths, ends, strict=True)
        return tuple((component, slice(int(end) - width, int(end))) for component, width, end in pairs), widths


def cells_of(statistics: Statistics) -> tuple[tuple[Cell, ...], Members]:
    """Return the cells and the members of the engine's statistics, without the places that a pattern does not use."""
    cells, kept = [], []
    for position, (used, where, counts) in enumerate(trimmed(statistics.patterns, statistics.slots)):
        kept.append(where)
        own = Symmetry.of(used, counts).pooled(statistics.sums[statistics.pattern_of == position][:, where])
        cells.append(Cell(used, counts, int(statistics.multiplicity[position]), own))
    pairs = zip(statistics.member_sums, statistics.member_pattern, strict=True)
    members = Members(
        statistics.member_pattern, statistics.member_count.astype(np.int64),
        [sums[kept[pattern]] for sums, pattern in pairs], tuple(level.parents for level in statistics.upper),
    )  # fmt: skip
    return tuple(cells), members


def trimmed(patterns: Array, slots: tuple[tuple[int, slice], ...]) -> Iterator[tuple[tuple[int, ...], Ints, Array]]:
    """Yield per pattern how many places of each grouping it uses, which these are, and the counts of them alone."""
    for counts in patterns:
        present = np.diag(counts) > 0
        where = np.flatnonzero(present)
        yield tuple(int(present[places].sum()) for _, places in slots), where, counts[np.ix_(where, where)]


def key_of(used: tuple[int, ...], counts: Array) -> Key:
    """Return what blocks of one pattern have in common, the same in every file."""
    return used, counts.astype(np.int32).tobytes()


def _places(used: tuple[int, ...], widths: tuple[int, ...]) -> Ints:
    """Return where the places of a pattern stand among those of all patterns."""
    starts = np.cumsum([0, *widths[:-1]])
    return np.concatenate([start + np.arange(count) for start, count in zip(starts, used, strict=True)])


def square(factor: Array) -> Array:
    """Fill a factor of few rows up with zeros, shape (q, q)."""
    out = np.zeros((factor.shape[1], factor.shape[1]))
    out[: len(factor)] = factor
    return out

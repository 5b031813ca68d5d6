"""Sufficient statistics that add up: those of disjoint sets of outermost groups make those of all of them.

They are of the columns ``W = [X y]`` as they come, less fixed constants, because a basis of X is known only when all
rows have been seen. Wherever sums of products are needed, W'W among them, a triangular factor of them is kept and
never the products, whose condition is its square: the factors of two parts, one below the other, have a factor that is
that of the whole. From the factor R of W follows an orthonormal basis, X = Q R, and all sums in it, since ``Z'W`` is
linear in the columns of W.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from hoofcohort.errors import InputError
from hoofcohort.models.specification import Specification
from hoofcohort.models.statistics import Ints, Statistics, UpperLevel

Array = NDArray[np.floating]
Key = tuple[tuple[int, ...], bytes]
FULL = 3
"""A triangular factor is renewed when this many times its number of rows lie below it."""


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
        Triangular factor of the blocks' ``vec(Z'W)``, m at most ``min(blocks, r q)``; never the blocks' own sums.
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
    root : array, shape (q, q)
        Upper triangular factor of W, centred.
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
    root: Array
    column_sums: Array
    variable_sums: Mapping[str, Array]
    cells: tuple[Cell, ...]
    members: Members
    parts: tuple[str, ...] = ()

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
        )  # fmt: skip

    def _slots(self) -> tuple[tuple[tuple[int, slice], ...], tuple[int, ...]]:
        widths = tuple(int(width) for width in np.max([cell.used for cell in self.cells], axis=0))
        ends = np.cumsum(widths)
        pairs = zip(self.inside, widths, ends, strict=True)
        return tuple((component, slice(int(end) - width, int(end))) for component, width, end in pairs), widths


def merge(parts: Iterable[PortableStatistics]) -> PortableStatistics:
    """Merge statistics of disjoint sets of outermost groups.

    Raises
    ------
    InputError
        When there are none, their specifications differ (saying in what), or a part comes twice.
    """
    gathered: Gathering | None = None
    seen: set[str] = set()
    for position, part in enumerate(parts, start=1):
        if gathered is None:
            gathered = Gathering(part.specification)
        differences = gathered.specification.differences(part.specification)
        if differences:
            raise InputError(
                f"part {position} is not about the same as part 1: {'; '.join(differences)} "
                "(part 1 first); make it again with --like and part 1"
            )
        if seen & set(part.parts):
            raise InputError(f"part {position} holds rows that an earlier part holds already; give each part once")
        seen |= set(part.parts)
        gathered.add(part)
    if gathered is None:
        raise InputError("there are no statistics to merge")
    return replace(gathered.result(), parts=tuple(sorted(seen)))


@dataclass
class _OpenCell:
    """A cell to which blocks are still added."""

    used: tuple[int, ...]
    counts: Array
    blocks: int = 0
    waiting: list[Array] = field(default_factory=list)
    rows: int = 0

    def add(self, sums: Array) -> None:
        self.waiting.append(sums)
        self.rows += len(sums)
        size = sums.shape[1] * sums.shape[2]
        if self.rows > (FULL + 1) * size:
            self.waiting = [self.factor()]
            self.rows = len(self.waiting[0])

    def factor(self) -> Array:
        every = np.concatenate(self.waiting)
        return triangular(every.reshape(len(every), -1)).reshape(-1, *every.shape[1:])

    def closed(self) -> Cell:
        return Cell(self.used, self.counts, self.blocks, self.factor())


class Gathering:
    """Statistics to which further outermost groups are added; its size does not depend on the number of rows."""

    def __init__(self, specification: Specification) -> None:
        self.specification = specification
        columns = len(specification.centre)
        self.rows = self.rows_dropped = self.animals = self.left_out = 0
        self.minimum: int | None = None
        self.words: dict[str, int] = {}
        self.column_sums: Array = np.zeros(columns)
        self.variable_sums: dict[str, Array] = {}
        self._roots: list[Array] = [np.zeros((0, columns))]
        self._cells: dict[Key, int] = {}
        self._open: list[_OpenCell] = []
        self._members: list[Members] = []
        self._above: list[int] = []

    def add(self, part: PortableStatistics) -> None:
        """Add statistics of other outermost groups, of the same specification."""
        self.rows += part.rows
        self.rows_dropped += part.rows_dropped
        self.animals += part.animals
        self.left_out += part.left_out
        self.minimum = part.minimum if self.minimum is None else min(self.minimum, part.minimum)
        for name, animals in part.words.items():
            self.words[name] = self.words.get(name, 0) + animals
        self.column_sums = self.column_sums + part.column_sums
        for name, sums in part.variable_sums.items():
            self.variable_sums[name] = self.variable_sums.get(name, 0.0) + sums
        self._roots = [triangular(np.concatenate([*self._roots, part.root]))]
        position = np.array([self._cell(cell) for cell in part.cells], np.int64)
        members = part.members
        above = self._above or [0] * len(members.parents)
        parents = tuple(own + start for own, start in zip(members.parents, above, strict=True))
        self._members.append(Members(position[members.cell], members.count, members.sums, parents))
        self._above = [int(own[-1]) + 1 if len(own) else start for own, start in zip(parents, above, strict=True)]

    def _cell(self, cell: Cell) -> int:
        """Add a cell and return its position."""
        position = self._cells.setdefault(cell.key, len(self._open))
        if position == len(self._open):
            self._open.append(_OpenCell(cell.used, cell.counts))
        self._open[position].blocks += cell.blocks
        self._open[position].add(cell.sums)
        return position

    def result(self) -> PortableStatistics:
        """Return what has been gathered.

        Raises
        ------
        InputError
            When nothing has.
        """
        if not self.rows:
            raise InputError("no row is left to summarise; where this is one of several parts, ask for fewer of them")
        order = sorted(self._cells)
        rank = np.empty(len(order), np.int64)
        rank[[self._cells[key] for key in order]] = np.arange(len(order))
        cells = tuple(self._open[self._cells[key]].closed() for key in order)
        parents = tuple(np.concatenate(levels) for levels in zip(*(own.parents for own in self._members), strict=True))
        members = Members(
            rank[np.concatenate([own.cell for own in self._members])],
            np.concatenate([own.count for own in self._members]),
            [sums for own in self._members for sums in own.sums],
            parents,
        )
        return PortableStatistics(
            self.specification, self.rows, self.rows_dropped, self.animals, self.left_out, self.minimum or 1,
            self.words, _square(self._roots[0]), self.column_sums, self.variable_sums, cells, members,
        )  # fmt: skip


def cells_of(statistics: Statistics) -> tuple[tuple[Cell, ...], Members]:
    """Return the cells and the members of the engine's statistics, without the places that a pattern does not use."""
    cells, kept = [], []
    for position, (used, where, counts) in enumerate(trimmed(statistics.patterns, statistics.slots)):
        kept.append(where)
        own = statistics.sums[statistics.pattern_of == position][:, where]
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


def triangular(rows: Array) -> Array:
    """Return the upper triangular factor of rows, shape (m, q), with a diagonal that is not negative."""
    factor = np.linalg.qr(rows, mode="r")
    return np.triu(factor * np.where(np.diag(factor) < 0, -1.0, 1.0)[:, None])


def _square(factor: Array) -> Array:
    """Fill a factor of few rows up with zeros, shape (q, q)."""
    out = np.zeros((factor.shape[1], factor.shape[1]))
    out[: len(factor)] = factor
    return out


def _places(used: tuple[int, ...], widths: tuple[int, ...]) -> Ints:
    """Return where the places of a pattern stand among those of all patterns."""
    starts = np.cumsum([0, *widths[:-1]])
    return np.concatenate([start + np.arange(count) for start, count in zip(starts, used, strict=True)])

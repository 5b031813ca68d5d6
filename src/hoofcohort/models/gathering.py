"""Add portable statistics up: of the chunks of one table, or of several files."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from hoofcohort.errors import InputError
from hoofcohort.models.portable import Cell, Key, Members, PortableStatistics, square
from hoofcohort.models.specification import Specification
from hoofcohort.models.statistics import triangular
from hoofcohort.models.symmetry import Symmetry

Array = NDArray[np.floating]
FULL = 3
"""A triangular factor is renewed when this many times its number of rows lie below it."""


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
        return Symmetry.of(self.used, self.counts).pooled(np.concatenate(self.waiting))

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
        self._within: list[Array] = [np.zeros((0, columns))]
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
        self._within = [triangular(np.concatenate([*self._within, part.within]))]
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
            self.words, square(self._within[0]), self.column_sums, self.variable_sums, cells, members,
        )  # fmt: skip

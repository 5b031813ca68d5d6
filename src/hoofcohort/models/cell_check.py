"""Look for animals whose own sums could be worked out from a statistics file, while its rows go by."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from hoofcohort.errors import InputError
from hoofcohort.models.grouping import Grouping
from hoofcohort.models.isolation import Found, Holding, find_isolated
from hoofcohort.models.portable import Key, key_of, trimmed
from hoofcohort.models.specification import Specification
from hoofcohort.models.statistics import Layout, block_sums
from hoofcohort.models.symmetry import Symmetry

if TYPE_CHECKING:
    import pandas as pd

Array = NDArray[np.floating]
INSIDE: Key = ((), b"")
LARGEST = 4_000
"""Rows of blocks that lie in groups of a level above, at most, since all of these must be kept."""
FARTHEST = 1e3
"""Ranges, at most, that a column may lie from the specification's centre. Further off it is the intercept over again,
but for digits that the search for small directions passes over and a file keeps."""


@dataclass(frozen=True)
class Isolated:
    """Few blocks whose own sums could be worked out.

    Attributes
    ----------
    key : Key
        Their pattern; :data:`INSIDE` for what varies inside blocks of any.
    where : str
        Which blocks' sums these would be taken from.
    of : int
        How many blocks those are, at least.
    labels : tuple of uint64
        Of the few.
    columns : tuple of str
        Names of the columns that would be combined.
    sure : bool
    """

    key: Key
    where: str
    of: int
    labels: tuple[np.uint64, ...]
    columns: tuple[str, ...]
    sure: bool


class CellCheck:
    """Goes through the rows and remembers what the question needs."""

    def __init__(self, specification: Specification, minimum: int) -> None:
        self.specification = specification
        self.minimum = minimum
        self.names: tuple[str, ...] = ()
        self.blocks: Counter[Key] = Counter()
        self._scale: Array | float = 0.0
        self._least: Array | float = np.inf
        self._most: Array | float = -np.inf
        self._holdings: dict[tuple[Key, int], Holding] = {}
        self._groups = 0

    def add(self, columns: Array, names: tuple[str, ...], grouping: Grouping, rows: pd.DataFrame) -> None:
        """Add the rows of whole outermost groups.

        Parameters
        ----------
        columns : array, shape (n, q)
            W, as it is summed.
        names : tuple of str
            Of its columns.
        grouping : Grouping
        rows : DataFrame
            With the columns that tell the groups apart.
        """
        if not self.specification.intercept:
            columns, names = np.column_stack([np.ones(len(columns)), columns]), ("number of rows", *names)
        self.names = names
        self._least = np.minimum(self._least, columns.min(axis=0))
        self._most = np.maximum(self._most, columns.max(axis=0))
        size = np.sqrt((columns**2).mean(axis=0))
        self._scale = np.where(self._scale > 0, self._scale, size)
        columns = columns / np.where(self._scale > 0, self._scale, 1.0)
        level = self.specification.block_level
        cut, sums, rest = block_sums(columns, grouping, level)
        labels = block_labels(rows, self.specification, cut)
        above = grouping.parents[level] + self._groups
        self._groups += len(grouping.parents[level - 1]) if level else 1
        order = np.argsort(cut.block, kind="stable")
        for position, (used, where, counts) in enumerate(trimmed(cut.patterns, cut.slots)):
            own = np.flatnonzero(cut.pattern == position)
            key = key_of(used, counts)
            self.blocks[key] += len(own)
            for kind, found in enumerate(Symmetry.of(used, counts).rows(sums[own][:, where])):
                self._hold(key, kind, found, labels[own], above[own])
            inside = rest[order[np.isin(cut.block[order], own)]].reshape(len(own), -1, columns.shape[1])
            if inside.shape[1] > inside.shape[2]:
                inside = np.asarray(np.linalg.qr(inside, mode="r"))
            self._hold(INSIDE, 0, inside, labels[own], above[own])

    def _hold(self, key: Key, kind: int, rows: Array, labels: NDArray[np.uint64], above: NDArray[np.int64]) -> None:
        whole = bool(self.specification.block_level) and key != INSIDE
        holding = self._holdings.setdefault((key, kind), Holding(self.minimum, whole))
        holding.add(rows, labels, above)
        if whole and len(holding.rows) * rows.shape[1] > LARGEST:
            outer = self.specification.levels[self.specification.block_level - 1]
            raise InputError(
                f"more than {LARGEST // rows.shape[1]} {self.specification.blocks}s have the same pattern of groups, "
                f"too many to check what a file with sums by {outer} would give away; leave the level '{outer}' out, "
                "or make the statistics in parts (--part)"
            )

    def isolated(self) -> list[Isolated]:
        """Return the few blocks whose own sums could be worked out; empty when there are none.

        Raises
        ------
        InputError
            When a column lies so far from the specification's centre that this cannot be told.
        """
        self._check_centre()
        found = []
        for (key, kind), holding in sorted(self._holdings.items(), key=lambda item: item[0]):
            few_blocks = len(holding.rows) + holding.dropped < self.minimum
            if not holding.rows or (few_blocks and key != INSIDE):
                continue
            rows, labels = holding.matrix(), np.array(holding.labels)
            spread = holding.spread
            while (few := find_isolated(self._with_members(rows, holding), self.minimum, spread)) is not None:
                found.append(self._named(key, kind, few, holding, labels, rows.shape[2]))
                if holding.whole or holding.dropped or len(few.blocks) == len(rows):
                    break
                rows, labels, spread = np.delete(rows, few.blocks, axis=0), np.delete(labels, few.blocks), False
        return found

    def _check_centre(self) -> None:
        if not self.names:
            return
        least, most = np.asarray(self._least), np.asarray(self._most)
        for name, low, high in zip(self.names, least, most, strict=True):
            off = max(abs(low), abs(high)) / (high - low) if high > low else 0.0
            if off > FARTHEST:
                raise InputError(
                    f"'{name}' lies {off:,.0f} times its range from the centre that the specification gives for it, "
                    "too far to check what a file would give away; make the specification from the rows, and subtract "
                    "a constant from the column where the model has no intercept"
                )

    def _with_members(self, rows: Array, holding: Holding) -> Array:
        """Add the sums over the blocks of every group above, which a file holds too."""
        if not holding.whole:
            return rows
        blocks, copies, _ = rows.shape
        _, member = np.unique(holding.members, return_inverse=True)
        sums = np.einsum("bm,ct->bcmt", np.eye(member.max() + 1)[member], np.eye(copies))
        return np.concatenate([rows, sums.reshape(blocks, copies, -1)], axis=2)

    def _named(
        self, key: Key, kind: int, few: Found, holding: Holding, labels: NDArray[np.uint64], width: int
    ) -> Isolated:
        names = [self.names[place % len(self.names)] for place in few.columns if place < width]
        if key == INSIDE:
            where = f"what varies inside {self.specification.blocks}s"
        else:
            inner = self.specification.groupings[self.specification.block_level :]
            counts = np.frombuffer(key[1], np.int32)[0]
            parts = [f"{counts} rows", *(f"{used} of {name}" for name, used in zip(inner[1:], key[0][1:], strict=True))]
            where = f"{self.specification.blocks}s with {', '.join(parts)}"
        of = len(holding.rows) + holding.dropped
        return Isolated(key, where, of, tuple(labels[few.blocks]), tuple(dict.fromkeys(names)), few.sure)


def block_labels(rows: pd.DataFrame, specification: Specification, cut: Layout) -> NDArray[np.uint64]:
    """Return what tells the blocks apart, hashed to 8 bytes each."""
    import pandas as pd

    levels = specification.levels[: specification.block_level + 1]
    columns = list(dict.fromkeys(column for level in levels for column in specification.labels[level]))
    first = np.unique(cut.block, return_index=True)[1]
    hashed = pd.util.hash_pandas_object(rows[columns].iloc[first], index=False)
    return hashed.to_numpy(np.uint64).view(np.uint64)

"""Whether sums of products over many blocks can be combined into sums over few of them.

Who holds ``F'F``, F having some rows of each block, knows ``v'F`` for every v in the span of F's columns, and nothing
else that is linear in a column that he does not know. A v that is zero but on few blocks gives away these blocks' own
sums: the column of a word that one horse has, or the difference of two words' columns that all but one horse share.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.floating]
Ints = NDArray[np.integer]
TINY = 1e-7
"""Of columns scaled to one, what is smaller is rounding."""

WHOLE = 1.0 - 1e-6
"""Share of a combination's squared weights on some blocks from which on it rests on them alone."""

NEARLY = 0.99
"""The same for a single block: others would blur its sums by a tenth at most."""

FEWEST_SETS_KEPT = 10
"""Disjoint sets of blocks kept at least, so that a single block's share is not taken for larger than it is."""

MOST_SETS = 300_000
"""Sets of blocks looked at; where more would have to be, sums are not taken as safe."""


@dataclass
class Holding:
    """Rows of blocks that come one after the other, of which no more are kept than the question needs.

    A block is dropped when its rows lie in the span of each of as many disjoint sets of blocks as the minimum is, or
    more: a combination that is zero but on fewer is zero on one of these sets, and so on the block.

    Attributes
    ----------
    minimum : int
    whole : bool
        Keep all.
    """

    minimum: int
    whole: bool = False
    rows: list[Array] = field(default_factory=list)
    labels: list[np.uint64] = field(default_factory=list)
    members: list[int] = field(default_factory=list)
    dropped: int = 0
    _layers: list[Array] = field(default_factory=list)

    def add(self, rows: Array, labels: NDArray[np.uint64], members: Ints) -> None:
        """Add blocks: rows, shape (n, c, d); what tells the blocks apart; the group that each lies in."""
        if not self._layers:
            self._layers = [np.zeros((0, rows.shape[2]))] * max(self.minimum, FEWEST_SETS_KEPT)
        left = np.arange(len(rows))
        for place in range(0 if self.whole else len(self._layers)):
            left = self._through(place, rows, labels, members, left)
        if self.whole:
            for block in left:
                self._keep(rows[block], labels[block], int(members[block]))
        else:
            self.dropped += len(left)

    def _through(
        self, place: int, rows: Array, labels: NDArray[np.uint64], members: Ints, left: Ints
    ) -> NDArray[np.int64]:
        """Keep the blocks that add to the span of one set; return those that do not."""
        passed = []
        while len(left):
            basis = self._layers[place]
            rest = rows[left] - rows[left] @ basis.T @ basis
            new = np.sqrt((rest**2).sum(axis=(1, 2))) > TINY * (1.0 + np.sqrt((rows[left] ** 2).sum(axis=(1, 2))))
            if not new.any():
                passed.append(left)
                break
            first = int(np.argmax(new))
            _, sizes, directions = np.linalg.svd(rest[first], full_matrices=False)
            more = directions[sizes > TINY * (1.0 + np.linalg.norm(rows[left[first]]))]
            self._layers[place] = np.linalg.qr(np.concatenate([basis, more]).T)[0].T
            self._keep(rows[left[first]], labels[left[first]], int(members[left[first]]))
            passed.append(left[:first])
            left = left[first + 1 :]
        return np.concatenate(passed).astype(np.int64) if passed else np.zeros(0, np.int64)

    def _keep(self, rows: Array, label: np.uint64, member: int) -> None:
        self.rows.append(rows)
        self.labels.append(label)
        self.members.append(member)

    @property
    def spread(self) -> bool:
        """Whether as many disjoint sets of blocks as the minimum all span what the blocks span.

        Then no combination rests on fewer: it would be zero on one of the sets, and so everywhere.
        """
        ranks = [len(basis) for basis in self._layers]
        return not self.whole and sum(rank == ranks[0] for rank in ranks) >= self.minimum

    def matrix(self) -> Array:
        """Return the kept rows, shape (n, c, d), blocks of fewer rows being filled up with zeros."""
        most = max(len(own) for own in self.rows)
        return np.stack([np.pad(own, ((0, most - len(own)), (0, 0))) for own in self.rows])


@dataclass(frozen=True)
class Found:
    """Blocks on which alone a combination of columns rests.

    Attributes
    ----------
    blocks : int array
        Their positions.
    columns : int array
        Columns of which the combination is made.
    sure : bool
        Whether there is one; False where there were too many sets to look at.
    """

    blocks: Ints
    columns: Ints
    sure: bool = True


def find_isolated(rows: Array, minimum: int, spread: bool = False) -> Found | None:
    """Find fewer blocks than a minimum on which alone some combination of columns rests; None when there are none.

    Parameters
    ----------
    rows : array, shape (n, c, d)
        Of n blocks, c rows each.
    minimum : int
    spread : bool
        Whether it is known that none rests on fewer, so that only single blocks are left to be looked at, on which one
        may nearly rest.
    """
    blocks, copies, width = rows.shape
    flat = rows.reshape(-1, width)
    size = np.sqrt((flat**2).sum(axis=0))
    flat = flat / np.where(size > TINY, size, np.inf)
    basis, sizes, _ = np.linalg.svd(flat, full_matrices=False)
    basis = basis[:, sizes > TINY]
    if not basis.shape[1]:
        return None
    projection = (basis @ basis.T).reshape(blocks, copies, blocks, copies).transpose(0, 2, 1, 3)
    single = np.linalg.eigvalsh(projection[np.arange(blocks), np.arange(blocks)])[:, -1]
    if single.max() >= NEARLY:
        chosen = np.array([int(np.argmax(single))])
        return Found(chosen, _columns_of(flat, projection, chosen))
    if spread:
        return None
    together = np.linalg.norm(projection, axis=(2, 3))
    seen = 0
    for sets in _candidates(together, min(minimum - 1, blocks)):
        seen += len(sets)
        share = np.linalg.eigvalsh(_within(projection, sets))[:, -1]
        if share.max() >= WHOLE:
            chosen = _fewest(projection, sets[int(np.argmax(share))])
            return Found(chosen, _columns_of(flat, projection, chosen))
        if seen > MOST_SETS:
            return Found(np.arange(blocks), np.flatnonzero(size > TINY), sure=False)
    return None


def _candidates(together: Array, size: int, batch: int = 5_000) -> Iterator[Ints]:
    """Yield all sets of blocks, shape (n, size), that a combination may rest on.

    Where it is largest, on block h, ``v_h = sum_j P_hj v_j`` over the set, P being the projection on the columns'
    span, so that the norms of ``P_hj`` sum to 1 at least.
    """
    need = WHOLE - np.sqrt((1.0 - WHOLE) * size)
    found: list[list[int]] = []
    for block, own in enumerate(together):
        others = np.argsort(-own, kind="stable")
        others = others[others != block]
        if own[block] + own[others[: size - 1]].sum() < need:
            continue
        for chosen in _subsets(own[others], size - 1, need - own[block]):
            found.append([block, *others[chosen]])
            if len(found) == batch:
                yield np.array(found)
                found = []
    if found:
        yield np.array(found)


def _subsets(values: Array, size: int, need: float, start: int = 0) -> Iterator[list[int]]:
    """Yield the subsets of so many falling values that sum to what is needed."""
    if size == 0:
        if need <= 0:
            yield []
        return
    for place in range(start, len(values) - size + 1):
        if values[place : place + size].sum() < need:
            return
        for rest in _subsets(values, size - 1, need - values[place], place + 1):
            yield [place, *rest]


def _within(projection: Array, sets: Ints) -> Array:
    """Return the projection's parts among the blocks of each set, shape (n, size c, size c)."""
    own = projection[sets[:, :, None], sets[:, None, :]].transpose(0, 1, 3, 2, 4)
    return own.reshape(len(sets), sets.shape[1] * projection.shape[2], -1)


def _fewest(projection: Array, chosen: Ints) -> Ints:
    """Leave blocks out of a set as long as a combination rests on the others alone."""
    for block in chosen:
        fewer = chosen[chosen != block]
        if len(fewer) and np.linalg.eigvalsh(_within(projection, fewer[None])[0])[-1] >= WHOLE:
            chosen = fewer
    return np.sort(chosen)


def _columns_of(flat: Array, projection: Array, chosen: Ints) -> Ints:
    """Return of which columns, the first that will do, the combination is made."""
    part = _within(projection, chosen[None])[0]
    vector = np.linalg.eigh(part)[1][:, -1]
    wanted = np.zeros((len(projection), projection.shape[2]))
    wanted[chosen] = vector.reshape(len(chosen), -1)
    kept: list[int] = []
    basis = np.zeros((len(flat), 0))
    for column in range(flat.shape[1]):
        rest = flat[:, column] - basis @ (basis.T @ flat[:, column])
        if np.linalg.norm(rest) > 10 * TINY:
            kept.append(column)
            basis = np.column_stack([basis, rest / np.linalg.norm(rest)])
    weights = np.linalg.lstsq(flat[:, kept], wanted.reshape(-1), rcond=None)[0]
    return np.array(kept)[np.abs(weights) > 1e-4 * np.abs(weights).max()]

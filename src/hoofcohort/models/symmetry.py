"""What the blocks of a pattern add to a fit, and no more: their sums of products in directions that must be told apart.

Feet of a horse that were seen equally often are exchangeable: a covariance of the groups' effects treats them alike
whatever the variances are. Of a block's sums a fit therefore needs the products of few directions, the same for every
block of the pattern, each summed over several orthogonal copies of it. In the coordinates of an orthonormal basis of Z,
every matrix between two blocks' sums in the criterion and its derivatives lies in the algebra that the groupings'
``Z_g Z_g'`` generate. Such an algebra of symmetric matrices is a direct sum of full matrix algebras, each repeated
(Wedderburn's theorem; from memory), and what it leaves free, which copy is which, is dropped.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from hoofcohort.models.statistics import Bases, triangular

Array = NDArray[np.floating]
EQUAL = 1e-9
"""Relative to the largest, eigenvalues this close are one, and entries this small are zero."""


@dataclass(frozen=True)
class Symmetry:
    """Directions of a pattern.

    Attributes
    ----------
    triangle, turn : array, shape (k, r)
        ``Q'Z``, and what turns sums ``Z'W`` into ``Q'W``, Q an orthonormal basis of Z.
    kinds : tuple of arrays, shape (k, s, c)
        Orthonormal directions: s of a kind that enter a fit together, in c copies which a fit takes alike.
    """

    triangle: Array
    turn: Array
    kinds: tuple[Array, ...]

    @classmethod
    def of(cls, used: tuple[int, ...], counts: Array) -> Symmetry:
        """Find the directions of a pattern: groups of every grouping, and ``Z'Z``, shape (r, r)."""
        return _found(used, np.asarray(counts, np.int64).tobytes())

    def rows(self, sums: Array) -> list[Array]:
        """Return blocks' sums by kind.

        Parameters
        ----------
        sums : array, shape (n, r, q)

        Returns
        -------
        list of arrays, shape (n, c, s q)
        """
        turned = self.turn @ sums
        return [np.einsum("ksc,nkq->ncsq", kind, turned).reshape(len(sums), kind.shape[2], -1) for kind in self.kinds]

    def pooled(self, sums: Array) -> Array:
        """Replace blocks' sums, shape (n, r, q), by a factor of as little as a fit needs of them, shape (m, r, q)."""
        found, columns = [], sums.shape[2]
        for kind, rows in zip(self.kinds, self.rows(sums), strict=True):
            factor = triangular(rows.reshape(-1, rows.shape[2])).reshape(-1, kind.shape[1], columns)
            found.append(np.einsum("kr,ks,msq->mrq", self.triangle, kind[:, :, 0], factor))
        return np.concatenate(found)


@lru_cache(maxsize=10_000)
def _found(used: tuple[int, ...], counts: bytes) -> Symmetry:
    size = sum(used)
    bases = Bases.of(np.frombuffer(counts, np.int64).reshape(1, size, size).astype(float))
    triangle, turn = bases.triangle[0], bases.turn[0]
    ends = np.cumsum(used)
    makers = [
        triangle[:, end - count : end] @ triangle[:, end - count : end].T for count, end in zip(used, ends, strict=True)
    ]
    kinds = _kinds([maker / np.trace(maker) for maker in makers])
    return Symmetry(triangle, turn, kinds if _hold(kinds, makers) else (np.eye(len(triangle))[:, :, None],))


def _kinds(makers: list[Array]) -> tuple[Array, ...]:
    """Decompose the algebra of symmetric matrices: eigenspaces of one member of it, linked by another."""
    rng = np.random.default_rng(0)
    first, second = _member(makers, rng), _member(makers, rng)
    values, vectors = np.linalg.eigh(first)
    cuts = np.flatnonzero(np.diff(values) > EQUAL * np.abs(values).max()) + 1
    spaces = np.split(vectors, cuts, axis=1)
    kinds, left = [], list(range(len(spaces)))
    floor = EQUAL * np.linalg.norm(second)
    while left:
        root = spaces[left.pop(0)]
        kind = [root]
        for place in list(left):
            link = root.T @ second @ spaces[place]
            if np.linalg.norm(link) > floor and link.shape[0] == link.shape[1]:
                before, _, after = np.linalg.svd(link)
                kind.append(spaces[place] @ (before @ after).T)
                left.remove(place)
        kinds.append(np.stack(kind, axis=1))
    return tuple(kinds)


def _member(makers: list[Array], rng: np.random.Generator) -> Array:
    """Return a member of the algebra that is in no special position."""
    found = np.tensordot(rng.uniform(0.5, 1.5, len(makers)), makers, 1)
    for _ in range(2):
        factor = np.tensordot(rng.uniform(0.5, 1.5, len(makers)), makers, 1)
        found = found + rng.uniform(0.5, 1.5) * (factor @ found @ factor) / np.linalg.norm(factor) ** 2
    return found


def _hold(kinds: tuple[Array, ...], makers: list[Array]) -> bool:
    """Whether every maker takes the copies of every kind alike, and mixes no two kinds."""
    for maker in makers:
        rest = maker.copy()
        for kind in kinds:
            small = np.einsum("ksc,kl,ltc->st", kind, maker, kind) / kind.shape[2]
            rest -= np.einsum("ksc,st,ltc->kl", kind, small, kind)
        if np.abs(rest).max() > 1e-8 * np.abs(maker).max():
            return False
    return True

"""Blocks on which alone a combination of columns rests, against trying every set of blocks."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from hoofcohort.models import isolation
from hoofcohort.models.isolation import Holding, find_isolated


def leaves_rank(rows, chosen):
    """Whether all combinations of the columns can be told from the other blocks' rows."""
    flat = rows.reshape(-1, rows.shape[2])
    others = np.delete(rows, list(chosen), axis=0).reshape(-1, rows.shape[2])
    return np.linalg.matrix_rank(others, tol=1e-8) == np.linalg.matrix_rank(flat, tol=1e-8)


def any_isolated(rows, minimum):
    size = min(minimum - 1, len(rows))
    return not all(leaves_rank(rows, chosen) for chosen in combinations(range(len(rows)), size))


def share_of(rows, chosen):
    """Return the largest share of a combination's squared weights that can lie on some blocks."""
    flat = rows.reshape(-1, rows.shape[2])
    basis, sizes, _ = np.linalg.svd(flat, full_matrices=False)
    basis = basis[:, sizes > 1e-9 * sizes[0]].reshape(len(rows), rows.shape[1], -1)
    return np.linalg.norm(basis[chosen].reshape(-1, basis.shape[2]), 2) ** 2


def columns_of(rng, blocks, copies, kind):
    """Return words, numbers or both, of blocks or of their rows, with repeats and dependent columns."""
    shape = (blocks, copies)
    parts = [np.ones(shape)]
    for _ in range(rng.integers(1, 4)):
        by_block = rng.random() < 0.6
        if kind == "words" or (kind == "both" and rng.random() < 0.5):
            word = rng.integers(0, rng.integers(2, 4), (blocks, 1) if by_block else shape)
            parts += [np.broadcast_to(word == value, shape).astype(float) for value in range(1, 3)]
        else:
            parts.append(np.broadcast_to(rng.normal(size=(blocks, 1) if by_block else shape), shape))
    return np.stack(parts, axis=2)


@pytest.mark.parametrize("kind", ["words", "numbers", "both"])
@pytest.mark.parametrize("copies", [1, 3])
def test_whether_there_are_any_is_what_trying_every_set_says(kind, copies):
    rng = np.random.default_rng([copies, len(kind)])
    said, near = [], 0
    for _ in range(120):
        minimum = int(rng.integers(2, 5))
        rows = columns_of(rng, int(rng.integers(3, 11)), copies, kind)
        found = find_isolated(rows, minimum)
        wanted = any_isolated(rows, minimum)
        if found is None:
            assert not wanted
        else:
            assert len(found.blocks) < minimum
            assert share_of(rows, found.blocks) > (1 - 2e-6 if len(found.blocks) > 1 else 0.989)
            near += leaves_rank(rows, found.blocks)
        said.append(found is None)
    assert 10 < sum(said) < 110
    assert near < 12


@pytest.mark.parametrize("kind", ["words", "both"])
def test_dropping_blocks_changes_no_answer(kind):
    rng = np.random.default_rng(len(kind))
    said, dropped, spread = [], 0, 0
    for _ in range(60):
        minimum = int(rng.integers(2, 4))
        rows = columns_of(rng, 80, 1, kind)
        few = rng.choice(80, int(rng.integers(1, 5)), replace=False)
        rows = np.concatenate([rows, np.isin(np.arange(80), few)[:, None, None].astype(float)], axis=2)
        holding = Holding(minimum)
        labels, members = np.arange(80, dtype=np.uint64), np.zeros(80, np.int64)
        for part in np.array_split(np.arange(80), 7):
            holding.add(rows[part], labels[part], members[part])
        dropped += holding.dropped
        assert holding.dropped + len(holding.rows) == 80
        kept, every = find_isolated(holding.matrix(), minimum, holding.spread), find_isolated(rows, minimum)
        spread += holding.spread
        assert not holding.spread or not any_isolated(rows, minimum)
        assert (kept is None) == (every is None)
        if kept is not None:
            assert set(np.array(holding.labels)[kept.blocks]) == set(every.blocks)
        said.append(kept is None)
    assert dropped > 500
    assert spread > 5
    assert 5 < sum(said) < 55


def test_the_columns_that_are_combined_are_named():
    first, second = np.arange(20) < 8, np.arange(20) < 7
    rows = np.stack([np.ones(20), np.random.default_rng(0).normal(size=20), first, second], axis=1)[:, None, :]
    found = find_isolated(rows, 5)
    assert found.blocks.tolist() == [7]
    assert found.columns.tolist() == [2, 3]
    assert find_isolated(rows[:, :, :3], 5) is None
    assert find_isolated(rows[:, :, :3], 9).blocks.tolist() == list(range(8))


def test_a_block_that_nearly_carries_a_combination_is_found():
    values = np.random.default_rng(1).normal(size=30)
    for outlier, alone in ((200.0, True), (5.0, False)):
        values[3] = outlier
        rows = np.stack([np.ones(30), values], axis=1)[:, None, :]
        found = find_isolated(rows, 3)
        assert (found is not None) == alone
        assert not alone or found.blocks.tolist() == [3]


def test_what_cannot_be_looked_at_is_not_taken_as_safe(monkeypatch):
    rows = np.random.default_rng(2).normal(size=(24, 1, 9))
    monkeypatch.setattr(isolation, "MOST_SETS", 5)
    found = find_isolated(rows, 9)
    assert not found.sure
    assert len(found.blocks) == 24

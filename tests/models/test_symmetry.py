"""What is kept of the blocks of a pattern: enough for every fit, and nothing of which foot or visit was which."""

from __future__ import annotations

import numpy as np
import pytest

from hoofcohort.models.symmetry import Symmetry


def indicators(rows):
    """Return the groups' columns of the rows of a horse, ``(foot, visit)`` each, and how many of each grouping."""
    rows = np.array(rows)
    feet, visits = (rows[:, [place]] == np.unique(rows[:, place]) for place in (0, 1))
    return np.hstack([np.ones((len(rows), 1)), feet, visits]), (1, feet.shape[1], visits.shape[1])


FULL = [(foot, visit) for foot in range(4) for visit in range(3)]
PATTERNS = {
    "full": FULL,
    "a reading missing": FULL[1:],
    "two missing of one visit": FULL[2:6] + FULL[7:] + FULL[:1],
    "two missing apart": FULL[1:7] + FULL[8:],
    "one visit": FULL[::3],
    "one foot": FULL[:3],
    "very ragged": [(0, 0), (0, 0), (0, 1), (1, 1), (2, 1), (2, 2), (3, 2), (3, 2), (3, 2)],
}
KINDS = {"full": {(1, 1), (1, 3), (1, 2)}, "one visit": {(1, 1), (1, 3)}, "one foot": {(1, 1), (1, 2)}}


def between(z, used, ratios):
    """Return what stands between two blocks' sums ``Z'W`` in the criterion, shape (r, r): ``(D^-1 + Z'Z)^-1``."""
    return np.linalg.inv(np.diag(np.repeat(1.0 / np.array(ratios), used)) + z.T @ z)


@pytest.mark.parametrize("name", PATTERNS)
def test_every_fit_gets_the_same_whatever_the_variances(name):
    z, used = indicators(PATTERNS[name])
    rng = np.random.default_rng(1)
    sums = np.array([z.T @ rng.normal(3, 1, (len(z), 4)) for _ in range(9)])
    pooled = Symmetry.of(used, z.T @ z).pooled(sums)
    project = np.linalg.pinv(z.T @ z)
    for ratios in ([1, 1, 1], [0.01, 3, 0.2], [50, 1e-3, 2]):
        first = between(z, used, ratios)
        slope = first @ z.T @ z[:, 1 : 1 + used[1]] @ z[:, 1 : 1 + used[1]].T @ z @ first
        for middle in (first, slope, project):
            ours, theirs = (np.einsum("nri,rs,nsj->ij", own, middle, own) for own in (pooled, sums))
            np.testing.assert_allclose(ours, theirs, rtol=1e-10, atol=1e-10 * np.abs(theirs).max())


@pytest.mark.parametrize("name", KINDS)
def test_a_full_pattern_has_one_kind_for_each_grouping(name):
    z, used = indicators(PATTERNS[name])
    assert {kind.shape[1:] for kind in Symmetry.of(used, z.T @ z).kinds} == KINDS[name]


@pytest.mark.parametrize("name", PATTERNS)
def test_directions_are_an_orthonormal_basis(name):
    z, used = indicators(PATTERNS[name])
    kinds = Symmetry.of(used, z.T @ z).kinds
    every = np.hstack([kind.reshape(len(kind), -1) for kind in kinds])
    np.testing.assert_allclose(every.T @ every, np.eye(np.linalg.matrix_rank(z)), atol=1e-12)


def test_which_foot_and_which_visit_cannot_be_told_from_what_is_kept():
    z, used = indicators(FULL)
    rng = np.random.default_rng(2)
    values = rng.normal(size=(9, 4, 3, 2))
    turned = np.array([own[rng.permutation(4)][:, rng.permutation(3)] for own in values])
    kept, lost = [], []
    for own in (values, turned):
        sums = np.array([z.T @ horse.reshape(12, 2) for horse in own])
        lost.append(np.einsum("nri,nsj->risj", sums, sums))
        kept.append(np.einsum("nri,nsj->risj", *[Symmetry.of(used, z.T @ z).pooled(sums)] * 2))
    assert np.abs(lost[0] - lost[1]).max() > 1
    np.testing.assert_allclose(kept[0], kept[1], atol=1e-10)

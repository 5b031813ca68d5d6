"""What is withheld cannot be had back: counted out over every row that agrees with what is shown."""

from __future__ import annotations

import itertools
import random

import pytest

from hoofcohort.privacy.owners import owners_of
from hoofcohort.privacy.small_numbers import suppress


def draw_row(draw, wide, people):
    """Counts of horses and their owners; some cells empty, many with one owner or two."""
    owners = [frozenset(draw.sample(range(people), draw.randint(0, 4))) for _ in range(wide)]
    return [len(own) + (draw.randint(0, 2) if own else 0) for own in owners], owners


def every_row(shown, total):
    """Yield every row of counts of which the withheld ones (None) are at least 1; an unknown total is any up to 20."""
    free = [place for place, value in enumerate(shown) if value is None]
    told = sum(value for value in shown if value is not None)
    totals = range(told + len(free), 21) if total is None else [total]
    for values in itertools.product(range(1, max(totals) - told + 1), repeat=len(free)):
        if sum(values) + told in totals:
            yield values


@pytest.mark.parametrize("fewest", [2, 3, 5])
def test_no_cell_of_a_row_can_be_worked_out(fewest):
    draw = random.Random(fewest)
    looked_at = 0
    for _ in range(200):
        counts, owners = draw_row(draw, draw.randint(2, 4), 9)
        out, whole = suppress(counts, owners, fewest)
        assert all(gone for gone, own in zip(out, owners, strict=True) if 0 < len(own) < fewest)
        assert not any(gone for gone, own in zip(out, owners, strict=True) if not own)
        assert whole or not 0 < len(frozenset().union(*owners)) < fewest
        if not any(out):
            continue
        together = frozenset().union(*(own for own, gone in zip(owners, out, strict=True) if gone))
        assert whole or len(together) >= fewest
        shown = [None if gone else value for value, gone in zip(counts, out, strict=True)]
        possible = [set(values) for values in zip(*every_row(shown, None if whole else sum(counts)), strict=True)]
        assert all(len(values) > 1 for values in possible)
        looked_at += 1
    assert looked_at > 60


def test_the_least_that_does_is_withheld():
    own = [frozenset(range(n)) for n in (1, 4, 6, 9)]
    assert suppress([2, 4, 6, 9], own, 3) == ([True, True, False, False], False)
    assert suppress([4, 6, 9], own[1:], 3) == ([False, False, False], False)
    assert suppress([1], own[:1], 3) == ([True], True)


def test_two_small_cells_of_the_same_owner_need_a_third():
    own = [frozenset("a"), frozenset("a"), frozenset("bcd"), frozenset("efghij")]
    assert suppress([2, 3, 5, 9], own, 3) == ([True, True, True, False], False)


def test_horses_without_a_known_owner_count_as_one_owners():
    assert len(owners_of(["a", None, float("nan"), " ", "b"])) == 3

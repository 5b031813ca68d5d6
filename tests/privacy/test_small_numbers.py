"""What is withheld cannot be had back: counted out over every table that agrees with what is shown."""

from __future__ import annotations

import itertools
import random

import numpy as np
import pytest
from scipy.optimize import linprog

from hoofcohort.privacy.owners import owners_of
from hoofcohort.privacy.small_numbers import Withheld, suppress, suppress_table


def draw_table(draw, high, wide, people):
    """Counts of horses and their owners; some cells empty, many with one owner or two."""
    owners = [[frozenset(draw.sample(range(people), draw.randint(0, 4))) for _ in range(wide)] for _ in range(high)]
    return [[len(own) + (draw.randint(0, 2) if own else 0) for own in row] for row in owners], owners


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
        (counts,), (owners,) = draw_table(draw, 1, draw.randint(2, 4), 9)
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


def spread(counts, result):
    """Least and most of every withheld number by linear programming, all of them 1 or more."""
    high, wide = np.shape(counts)
    names = [("c", r, c) for r in range(high) for c in range(wide)]
    names += [*(("r", r) for r in range(high)), *(("k", c) for c in range(wide)), "whole"]
    sums = np.array(counts)
    true = [*sums.ravel(), *sums.sum(axis=1), *sums.sum(axis=0), sums.sum()]
    gone = [*itertools.chain(*result.cells), *result.rows, *result.columns, result.whole]
    equal = []

    def equation(parts, whole):
        equal.append([(name in parts) * 1 - (name == whole) * 1 for name in names])

    for r in range(high):
        equation([("c", r, c) for c in range(wide)], ("r", r))
    for c in range(wide):
        equation([("c", r, c) for r in range(high)], ("k", c))
    equation([("r", r) for r in range(high)], "whole")
    equation([("k", c) for c in range(wide)], "whole")
    bounds = [(1, None) if out else (value, value) for value, out in zip(true, gone, strict=True)]
    for place, out in enumerate(gone):
        if out:
            goal = np.eye(len(names))[place]
            ends = [linprog(sign * goal, A_eq=equal, b_eq=np.zeros(len(equal)), bounds=bounds) for sign in (1, -1)]
            yield names[place], ends[0].fun, (np.inf if ends[1].status == 3 else -ends[1].fun)


def test_no_cell_or_sum_of_a_table_can_be_worked_out():
    draw = random.Random(1)
    looked_at = 0
    for _ in range(120):
        high, wide, fewest = draw.randint(2, 4), draw.randint(2, 4), draw.choice((2, 3, 5))
        counts, owners = draw_table(draw, high, wide, 14)
        result = suppress_table(counts, owners, fewest)
        small = [0 < len(own) < fewest for own in itertools.chain(*owners)]
        gone = list(itertools.chain(*result.cells))
        assert all(out for out, few in zip(gone, small, strict=True) if few)
        for name, least, most in spread(counts, result):
            looked_at += 1
            assert most - least > 0.5, (counts, result, name)
    assert looked_at > 500


def test_hiding_the_small_cells_alone_would_not_do():
    counts, owners = [[1, 5, 6], [7, 8, 9]], [[frozenset(range(n)) for n in row] for row in ((1, 5, 6), (7, 8, 9))]
    result = suppress_table(counts, owners, 3)
    assert result.cells[0][0]
    assert sum(result.cells[0]) > 1
    assert sum(row[0] for row in result.cells) > 1
    alone = Withheld([[True, False, False], [False] * 3], [False] * 2, [False] * 3, False)
    assert [most - least for _, least, most in spread(counts, alone)] == pytest.approx([0])


def test_a_row_of_one_owner_has_its_sum_withheld_too():
    owners = [
        [frozenset("a"), frozenset("a")],
        [frozenset("bcd"), frozenset("efg")],
        [frozenset("hij"), frozenset("klm")],
    ]
    result = suppress_table([[1, 2], [3, 4], [5, 6]], owners, 3)
    assert result.rows[0]
    assert result.cells[0] == [True, True]
    assert not all(result.rows)


def test_horses_without_a_known_owner_count_as_one_owners():
    assert len(owners_of(["a", None, float("nan"), " ", "b"])) == 3

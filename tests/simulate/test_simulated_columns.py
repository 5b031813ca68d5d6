"""The simulated tables against the declared ones: the same columns in the same order, only declared words."""

from __future__ import annotations

import pytest

from hoofcohort.simulate import simulate_cohort
from hoofcohort.tables import TABLES

NOT_SIMULATED = ("farrier_id",)
"""Columns that a file may lack and the invented association did not keep."""


def simulated(name):
    columns = TABLES[name].columns
    assert not any(column.required for column in columns if column.name in NOT_SIMULATED)
    return [column for column in columns if column.name not in NOT_SIMULATED]


@pytest.fixture(scope="module")
def cohort():
    return simulate_cohort(300, seed=4, mistakes=False)


@pytest.mark.parametrize("name", ["horses", "management", "feet"])
def test_columns_in_declared_order(cohort, name):
    assert list(getattr(cohort, name).columns) == [column.name for column in simulated(name)]


@pytest.mark.parametrize("name", ["horses", "management", "feet"])
def test_only_declared_words(cohort, name):
    frame = getattr(cohort, name)
    words = {column.name: set(column.words) for column in TABLES[name].columns if column.kind == "word"}
    assert words
    for column, allowed in words.items():
        found = set(frame[column].dropna())
        assert found and found <= allowed, column


def inside(values, limits):
    low, high = (bound if bound is not None else default for bound, default in zip(limits, (-1e9, 1e9), strict=True))
    return values.between(low, high)


@pytest.mark.parametrize("name", ["horses", "management", "feet"])
def test_every_clean_value_is_possible_and_hardly_any_implausible(cohort, name):
    frame = getattr(cohort, name)
    for column in simulated(name):
        values = frame[column.name].dropna()
        if column.possible:
            assert inside(values, column.possible).all(), column.name
        if column.plausible:
            assert inside(values, column.plausible).mean() > 0.999, column.name
        if column.pattern:
            assert values.str.fullmatch(column.pattern).all(), column.name
        if not column.nullable:
            assert frame[column.name].notna().all(), column.name
    for relation in TABLES[name].relations:
        first, second = frame[relation.first], frame[relation.second]
        value = (first - second if relation.kind == "difference" else first / second).dropna()
        assert inside(value, relation.plausible).mean() > 0.999, relation.name
        assert inside(value, relation.possible or (None, None)).all(), relation.name


def test_planted_numbers_lie_on_the_right_side_of_the_limits():
    planted = simulate_cohort(640, seed=4).truth["mistakes"]
    out_of_range = ("typed in cm", "typed in inches", "negative length")
    checked = 0
    for mistake in planted:
        if mistake["kind"] not in (*out_of_range, "implausible but possible"):
            continue
        column = TABLES[mistake["file"].removesuffix(".csv")].by_name[mistake["column"]]
        (least, most), (low, high) = column.possible, column.plausible
        value = float(mistake["value"])
        checked += 1
        if mistake["expected"] == "rejected":
            assert not least <= value <= most, mistake
        else:
            assert least <= value <= most and not low <= value <= high, mistake
    assert checked == 10 * (2 + 1 + 1 + 4)

"""The simulated tables against the declared ones: the same columns in the same order, only declared words."""

from __future__ import annotations

import pytest

from hoofcohort.simulate import simulate_cohort
from hoofcohort.tables import TABLES


@pytest.fixture(scope="module")
def cohort():
    return simulate_cohort(300, seed=4, mistakes=False)


@pytest.mark.parametrize("name", ["horses", "management", "feet"])
def test_columns_in_declared_order(cohort, name):
    assert list(getattr(cohort, name).columns) == [column.name for column in TABLES[name].columns]


@pytest.mark.parametrize("name", ["horses", "management", "feet"])
def test_only_declared_words(cohort, name):
    frame = getattr(cohort, name)
    words = {column.name: set(column.words) for column in TABLES[name].columns if column.kind == "word"}
    assert words
    for column, allowed in words.items():
        found = set(frame[column].dropna())
        assert found and found <= allowed, column

"""Take in the three small files, some of them changed."""

from __future__ import annotations

import datetime as dt

import pytest
from small_files import FEET, HORSES, MANAGEMENT

from hoofcohort.intake.run import take_in


@pytest.fixture
def take(tmp_path):
    """Take in the small files, some of them replaced by other text or bytes."""

    def run(horses=HORSES, management=MANAGEMENT, feet=FEET, as_of=dt.date(2026, 9, 30)):
        paths = {}
        for name, content in {"horses": horses, "management": management, "feet": feet}.items():
            paths[name] = tmp_path / f"{name}.csv"
            paths[name].write_bytes(content if isinstance(content, bytes) else content.encode())
        return take_in(paths, as_of)

    return run


@pytest.fixture
def reject(take):
    """Take the small files in with one more row, and return that row's rejects as (column, value, reason, remedy)."""

    def run(table, row, **others):
        base = {"horses": HORSES, "management": MANAGEMENT, "feet": FEET}[table]
        line = base.count("\n") + 1
        found = take(**{table: base + row + "\n"}, **others).rejects
        assert {(reject[0], reject[1]) for reject in found} <= {(f"{table}.csv", line)}
        return [reject[2:6] for reject in found]

    return run

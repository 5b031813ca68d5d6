"""Memory of statistics made from a Parquet file must not grow with its rows."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT / "workflow/benchmarks"))

from streaming import MODEL, measure, write  # noqa: E402


@pytest.mark.slow
def test_memory_does_not_grow_with_rows(tmp_path):
    peaks = {}
    for least in (1_100_000, 4_400_000):
        data, out = tmp_path / f"{least}.parquet", tmp_path / f"{least}.json"
        rows = write(data, least)
        peaks[least] = measure("statistics-make", str(data), *MODEL, "--minimum", "1", "--out", str(out))[2]
        assert json.loads(out.read_text())["rows"] == rows >= least
    small, large = peaks.values()
    assert large < 1.15 * small
    assert large < 2000

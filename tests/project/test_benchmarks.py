"""The benchmark programs run, fit the same model and print what they measured; how fast is no test."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from pathlib import Path
from shutil import which

import numpy as np
import pytest

HERE = Path(__file__).parents[2] / "workflow/benchmarks"
ONE_THREAD = {name: "1" for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS")}


def run(program: str, *arguments: str) -> dict:
    done = subprocess.run(
        [sys.executable, HERE / "programs.py", program, *arguments],
        capture_output=True, text=True, check=True, env=os.environ | ONE_THREAD,
    )  # fmt: skip
    return json.loads(done.stdout.splitlines()[-1])


@pytest.fixture(scope="module")
def ours() -> dict:
    return run("hoofcohort", "40", "1.0", "True")


def test_ours_is_timed_whole_and_from_its_statistics(ours):
    assert ours["rows"] == 40 * 4 * 3
    assert set(ours["seconds"]) == {"total", "from statistics"}
    assert 0 < ours["seconds"]["from statistics"] < ours["seconds"]["total"] < 60
    assert ours["peak_mb"] > 20


@pytest.mark.parametrize("program", ["statsmodels", "R"])
def test_another_program_is_given_the_same_model(ours, program):
    if program == "R" and not which("Rscript"):
        pytest.skip("Rscript is not installed")
    theirs = run(program, "40", "1.0", "True")
    differences = np.subtract(theirs["coefficients"], ours["coefficients"]) / ours["errors"]
    assert np.abs(differences).max() < 1e-3
    np.testing.assert_allclose(theirs["errors"], ours["errors"], rtol=2e-3)
    assert theirs["seconds"]["total"] > 0


def test_a_program_that_cannot_be_imported_is_left_out_with_the_reason(monkeypatch):
    monkeypatch.syspath_prepend(HERE)
    import engine

    monkeypatch.setitem(engine.LARGEST, "no such program", 100)
    assert engine.run("no such program", 10, 1.0, False).startswith("failed: KeyError")
    assert engine.run("statsmodels", 10**6, 0.9, False) == "not run"
    assert engine.cell("not run", {}) == "not run"
    assert engine.cell({"seconds": {"total": 3.0}}, {"seconds": {"total": 0.02}}) == "3 s (150)"


def test_parquet_and_parts_measure_what_they_made(monkeypatch, tmp_path):
    monkeypatch.syspath_prepend(HERE)
    import parts

    path = str(tmp_path / "cohort.parquet")
    rows = parts.write_parquet(path, 120)
    assert rows == len(parts.invent(120, visits=True, seed=0).y)
    found = parts.from_parquet(path, True)
    whole = parts.measured(120, 0.9, True)
    assert found["off"] < 2.0
    assert {"statistics", "refit from statistics, with KR", "all, from arrays and labels"} <= set(whole)
    assert whole["rows"] == len(parts.invent(120, visits=True).y)


def test_refits_are_timed_beside_single_fits(monkeypatch):
    monkeypatch.syspath_prepend(HERE)
    import parts

    found = parts.refitted(12, 0.9, True, 1, 40)
    assert found["rows"] == len(parts.invent(12, 0.9, True).y)
    assert 0 < found["bootstrap"] < found["one by one"]


def test_the_inbox_is_timed_beside_a_bare_read_and_its_ledger_adds_up():
    done = subprocess.run(
        [sys.executable, HERE / "inbox.py", "--readings", "2400", "--files", "30", "--bad", "0.05"],
        capture_output=True, text=True, env=os.environ | ONE_THREAD,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr
    assert "\nThe ledger is what was written.\n" in done.stdout
    spoilt = sum(map(int, re.findall(r"(\d+) [a-z]", re.search("^spoilt: .*", done.stdout, flags=re.M)[0])))
    assert spoilt > 50
    assert f" {spoilt} rejected" in done.stdout
    ours, bare = (line.split(" | ") for line in done.stdout.splitlines() if line.startswith(("| inbox", "| bare")))
    assert float(ours[4].rstrip(" |")) > 1
    assert bare[4].rstrip(" |") == "1"

"""Time and peak memory of statistics made from a Parquet file of any size, and of the fit from them.

    .venv/bin/python workflow/benchmarks/streaming.py --rows 10000000

Invented rows: horses with four feet, each measured on one to five visits, ten fixed-effect columns.
"""

from __future__ import annotations

import argparse
import os
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq

HORSES = 20_000
"""Horses written at once."""
DIETS, GROUNDS, FEET = ("grass", "hay", "haylage", "mixed"), ("hard", "sand", "soft"), ("LF", "RF", "LH", "RH")
MODEL = ["--outcome", "y", "--terms", "diet", "ground", "age", "mass", "trim", "season", "--levels", "horse", "foot"]


def invented(rng: np.random.Generator, first: int) -> pa.Table:
    """Return the rows of :data:`HORSES` horses, numbered from ``first``."""
    visits = rng.integers(1, 5, (HORSES, 4)) + (rng.random((HORSES, 4)) < 0.2)
    foot_of_horse = np.repeat(np.arange(HORSES * 4), visits.ravel())
    horse, foot, rows = foot_of_horse // 4, foot_of_horse % 4, len(foot_of_horse)
    age, mass = rng.uniform(2, 25, HORSES)[horse], rng.normal(520, 60, HORSES)[horse]
    trim = rng.uniform(3, 12, rows)
    effects = rng.normal(0, 2, HORSES)[horse] + rng.normal(0, 1, HORSES * 4)[foot_of_horse]

    def words(codes: np.ndarray, values: tuple[str, ...]) -> pa.DictionaryArray:
        return pa.DictionaryArray.from_arrays(pa.array(codes.astype("int8")), list(values))

    return pa.table(
        {
            "horse": pa.array((horse + first).astype("int32")),
            "foot": words(foot, FEET),
            "diet": words(rng.integers(0, 4, HORSES)[horse], DIETS),
            "ground": words(rng.integers(0, 3, HORSES)[horse], GROUNDS),
            "age": age,
            "mass": mass,
            "trim": trim,
            "season": rng.normal(size=rows),
            "y": 50 + 0.1 * age + 0.4 * trim + effects + rng.normal(0, 1, rows),
        }
    )


def write(path: Path, least: int) -> int:
    """Write at least so many rows, sorted by horse, and return their number."""
    rng = np.random.default_rng(1)
    table = invented(rng, 0)
    rows = 0
    with pq.ParquetWriter(path, table.schema) as writer:
        first = 0
        while rows < least:
            writer.write_table(table)
            rows, first = rows + len(table), first + HORSES
            table = invented(rng, first)
    return rows


def measure(*command: str) -> tuple[float, float, float]:
    """Run a subcommand of hoofcohort; return its seconds, its processor seconds and its peak memory in MB."""
    before, start = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    threads = {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
    process = subprocess.Popen(
        [sys.executable, "-m", "hoofcohort", *command], env={**os.environ, **threads}, stdout=subprocess.DEVNULL
    )
    _, status, used = os.wait4(process.pid, 0)
    if status:
        raise SystemExit(f"hoofcohort {command[0]} failed")
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    worked = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    unit = 1e6 if sys.platform == "darwin" else 1e3
    return time.perf_counter() - start, worked, used.ru_maxrss / unit


def main() -> None:
    """Write the rows, make the statistics, fit them, print what it took."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rows", type=int, default=10_000_000)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        data, statistics = Path(folder) / "rows.parquet", f"{folder}/statistics.json"
        print(f"{write(data, asked.rows)} rows")
        made = measure("statistics-make", str(data), *MODEL, "--minimum", "1", "--out", statistics)
        fitted = measure("statistics-fit", statistics, "--out", f"{folder}/fit.json")
    for name, (seconds, worked, memory) in {"make": made, "fit": fitted}.items():
        print(f"{name}: {seconds:.1f} s, {worked:.1f} s of processor time, {memory:.0f} MB at the peak")


if __name__ == "__main__":
    main()

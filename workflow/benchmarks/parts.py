"""The engine's parts beside their targets: each in a process of its own, so that its peak memory is its own."""

from __future__ import annotations

import resource
import tempfile
import time
from collections.abc import Callable, Iterator
from multiprocessing import get_context
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from invented import COLUMNS, TRUTH, Invented, invent
from printed import seconds_text, table
from programs import timed

BIG = 100_000
"""Horses of the big cohort: 1.08 million rows with 90% of 12 readings each."""

YARDS = (100, 1_000, 10_000)
LONG, CHUNK, BATCH = 926_000, 50_000, 200_000
"""Horses of the Parquet file (10 million rows), horses written at a time, rows read at a time."""


def peak_mb() -> float:
    """Return the peak memory of this process so far, in megabytes."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def alone(function: Callable[..., Any], *arguments: Any) -> Any:
    """Call a function in a fresh process."""
    with get_context("spawn").Pool(1) as pool:
        return pool.apply(function, arguments)


def steps(data: Invented, visits: bool, yards: bool = False) -> dict[str, float]:
    """Return the seconds of each step on its own, and of all together."""
    from hoofcohort.models import fit_mixed_model
    from hoofcohort.models.basis import orthonormal_basis
    from hoofcohort.models.inference import KenwardRoger
    from hoofcohort.models.optimise import minimise
    from hoofcohort.models.statistics import sufficient_statistics

    design, grouping = data.design(), data.grouping(visits, yards)
    found: dict[str, float] = {}
    found["number the groups"], _ = timed(lambda: data.grouping(visits, yards))
    found["basis of the columns"], basis = timed(lambda: orthonormal_basis(design.matrix))
    columns = np.column_stack([basis.q, (data.y - basis.q @ (basis.q.T @ data.y)) / data.y.std()])
    found["statistics"], statistics = timed(lambda: sufficient_statistics(columns, grouping))
    functions = np.eye(basis.q.shape[1])
    found["refit from statistics, with KR"], _ = timed(
        lambda: KenwardRoger.of(minimise(statistics, True, grouping.names)).degrees(functions)
    )
    found["all, from arrays and numbered groups"], _ = timed(
        lambda: fit_mixed_model(data.y, data.design(), grouping).linear(functions)
    )
    found["all, from arrays and labels"], _ = timed(
        lambda: fit_mixed_model(data.y, data.design(), data.grouping(visits, yards)).linear(functions)
    )
    return found


def measured(horses: int, kept: float, visits: bool, yards: int = 1) -> dict[str, float]:
    """Return rows, steps and memory of one cohort."""
    data = invent(horses, kept, visits, yards)
    before = peak_mb()
    steps(invent(40, 1.0, visits), visits)
    took = steps(data, visits, yards > 1)
    return {"rows": len(data.y), **took, "before": before, "peak": peak_mb()}


def parts() -> None:
    """Print every step's time for a 40-horse study and the big cohort, with the targets."""
    cohorts = [(40, 1.0, False), (40, 1.0, True), (BIG, 0.9, False), (BIG, 0.9, True)]
    found = [alone(measured, *cohort) for cohort in cohorts]
    targets = {
        "refit from statistics, with KR": ["", "", "20 ms", ""],
        "all, from arrays and numbered groups": ["3 ms", "", "2 s", "4 s"],
    }
    rows = []
    for name in list(found[0])[1:-2]:
        aims = [f" (target {aim})" if aim else "" for aim in targets.get(name, [""] * len(found))]
        rows.append([name, *(seconds_text(own[name]) + aim for own, aim in zip(found, aims, strict=True))])
    rows.append(["peak memory (the readings alone)", *(f"{own['peak']:.0f} MB ({own['before']:.0f})" for own in found)])
    model = [", horse:visit" if cohort[2] else "" for cohort in cohorts]
    head = ["step", *(f"{own['rows']:,.0f} rows{extra}" for own, extra in zip(found, model, strict=True))]
    print(
        f"\nSteps, horse > foot, intercept and ten columns, Kenward-Roger for all:\n\n{table(head, rows)}", flush=True
    )


def yards() -> None:
    """Print what many distinct yards cost at the big cohort."""
    rows = []
    for count in YARDS:
        own = alone(measured, BIG, 0.9, True, count)
        names = ("statistics", "refit from statistics, with KR", "all, from arrays and labels")
        rows.append([f"{count:,}", *(seconds_text(own[name]) for name in names), f"{own['peak']:.0f} MB"])
    head = ["yards", "statistics", "refit from statistics, with KR", "all, from arrays and labels", "peak memory"]
    print(f"\nyard > horse > foot and horse:visit, {own['rows']:,.0f} rows:\n\n{table(head, rows)}", flush=True)


def write_parquet(path: str, horses: int) -> int:
    """Write an invented cohort piece by piece and return its rows."""
    import pyarrow as pa
    import pyarrow.parquet as pq

    rows, writer = 0, None
    for start in range(0, horses, CHUNK):
        data = invent(min(CHUNK, horses - start), visits=True, seed=start)
        labels = {"horse": start + data.horse, "foot": data.foot, "visit": data.visit, "y": data.y}
        piece = pa.table(labels | {name: data.x[:, k] for k, name in enumerate(COLUMNS)})
        writer = writer or pq.ParquetWriter(path, piece.schema)
        writer.write_table(piece)
        rows += len(data.y)
    assert writer is not None
    writer.close()
    return rows


def from_parquet(path: str, visits: bool) -> dict[str, float]:
    """Stream the file into statistics and fit them; return seconds and the peak memory of all of it."""
    import pyarrow.parquet as pq

    from hoofcohort.models.rowless import fit_statistics
    from hoofcohort.models.specification import Coding, Specification
    from hoofcohort.models.streaming import summarise

    labels = {name: (name,) for name in ("horse", "foot", *(["visit"] if visits else []))}
    specification = Specification(
        "y", COLUMNS, True, tuple(Coding(name, "number", (name,)) for name in COLUMNS), ("horse", "foot"),
        ("horse:visit",) if visits else (), labels, "horse", "horse", (0.0,) * 11 + (50.0,),
    )  # fmt: skip

    def chunks() -> Iterator[pd.DataFrame]:
        with pq.ParquetFile(path) as file:
            for batch in file.iter_batches(BATCH, columns=specification.columns, use_threads=False):
                yield batch.to_pandas()

    start = time.process_time()
    portable = summarise(chunks, specification)
    made = time.process_time()
    solution = fit_statistics(portable)
    solution.linear(np.eye(11))
    off = float(np.max(np.abs(solution.coefficients[1:] - TRUTH)))
    return {"statistics": made - start, "fit": time.process_time() - made, "peak": peak_mb(), "off": off}


def parquet() -> None:
    """Print the time and the memory of ten million rows that never are in memory together."""
    rows = []
    with tempfile.TemporaryDirectory() as folder:
        path = str(Path(folder, "cohort.parquet"))
        count = alone(write_parquet, path, LONG)
        size = Path(path).stat().st_size / 2**20
        for visits in (False, True):
            own = alone(from_parquet, path, visits)
            model = "horse > foot" + (" and horse:visit" if visits else "")
            memory = f"{own['peak']:.0f} MB (target 2000 MB)"
            rows.append([model, seconds_text(own["statistics"]), seconds_text(own["fit"]), memory, f"{own['off']:.2g}"])
    head = ["model", "statistics from the file", "fit, with KR", "peak memory", "largest error of a coefficient"]
    print(f"\n{count:,} rows from a Parquet file of {size:.0f} MB:\n\n{table(head, rows)}", flush=True)


def refitted(horses: int, kept: float, visits: bool, yards: int, replicates: int) -> dict[str, float]:
    """Return the seconds of a parametric bootstrap, of a test of the feet's variance, and of as many single fits."""
    from hoofcohort.models import fit_mixed_model
    from hoofcohort.models.bootstrap import parametric_bootstrap
    from hoofcohort.models.likelihood_ratio import likelihood_ratio_test

    data = invent(horses, kept, visits, yards)
    design, grouping = data.design(), data.grouping(visits, yards > 1)
    fit = fit_mixed_model(data.y, design, grouping)
    parametric_bootstrap(fit, 20)
    likelihood_ratio_test(fit, "foot", replicates=20)
    bootstrap, _ = timed(lambda: parametric_bootstrap(fit, replicates))
    test, _ = timed(lambda: likelihood_ratio_test(fit, "foot", replicates=replicates))
    single, _ = timed(lambda: fit_mixed_model(data.y, design, grouping))
    return {"rows": len(data.y), "bootstrap": bootstrap, "test": test, "one by one": replicates * single}


def refits() -> None:
    """Print how long a thousand refits of a study of 40 horses take."""
    rows = []
    for kept, visits, yards in [(1.0, False, 1), (1.0, True, 1), (0.9, False, 1), (0.9, True, 1), (0.9, True, 12)]:
        own = alone(refitted, 40, kept, visits, yards, 1000)
        model = f"{'yard > ' if yards > 1 else ''}horse > foot{' and horse:visit' if visits else ''}"
        aim = " (target 1 s)" if kept == 1.0 else ""
        times = [seconds_text(own[name]) for name in ("bootstrap", "test", "one by one")]
        rows.append([f"{own['rows']:,.0f}", model, times[0] + aim, *times[1:]])
    head = ["rows", "model", "1,000 simulated and refitted", "1,000 for a test of the feet", "1,000 single fits"]
    print(f"\nA study of 40 horses, intercept and ten columns:\n\n{table(head, rows)}", flush=True)

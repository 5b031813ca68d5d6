"""Time the model engine beside other programs, and its parts beside their targets.

    python workflow/benchmarks/engine.py [beside] [parts] [yards] [parquet] [refits]

Prints Markdown tables; without a word, all of them (about half an hour; `beside` takes most of it). Every program fits
the same invented readings on the same machine in a process of its own, with one thread, one after the other; times are
seconds of processor time. A program that cannot be imported is left out, with the reason. Needs Rscript with lme4 and
pbkrtest for R's columns, and `pip install gpboost glmm`, best in an environment of their own, for those two.
"""

from __future__ import annotations

import json
import os
import platform
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import parts
from printed import seconds_text, table

HERE = Path(__file__).parent
SIZES = ((40, 1.0), (370, 0.9), (1_111, 0.9), (9_260, 0.9), (100_000, 0.9))
"""Horses, and the share of their 12 readings (4 feet, 3 visits) that is kept."""

LARGEST = {"hoofcohort": 10**9, "R": 10_000, "statsmodels": 2_000, "gpboost": 10_000, "glmm": 10**9}
"""Most horses that a program is given: beyond, it took minutes."""

LIMIT = 600
"""Seconds after which a program is stopped."""

Result = dict[str, Any]


def run(program: str, horses: int, kept: float, visits: bool) -> Result | str:
    """Run one program in its own process and return its result, or why there is none."""
    if horses > LARGEST[program]:
        return "not run"
    command = [sys.executable, str(HERE / "programs.py"), program, str(horses), str(kept), str(visits)]
    try:
        done = subprocess.run(command, capture_output=True, text=True, timeout=LIMIT, check=True)
    except subprocess.TimeoutExpired:
        return f"over {LIMIT} s"
    except subprocess.CalledProcessError as error:
        return f"failed: {error.stderr.strip().splitlines()[-1]}"
    result: Result = json.loads(done.stdout.splitlines()[-1])
    return result


def cell(result: Result | str, ours: Result, part: str = "total") -> str:
    """Return a program's time with its ratio to ours."""
    if isinstance(result, str):
        return result
    if part not in result["seconds"]:
        return "not run"
    took = result["seconds"][part]
    return f"{seconds_text(took)} ({took / ours['seconds']['total']:.3g})"


def gap(result: Result, ours: Result) -> float:
    """Return the largest difference of a coefficient from ours, in our standard errors."""
    differences = np.subtract(result["coefficients"], ours["coefficients"])
    return float(np.max(np.abs(differences) / ours["errors"]))


def beside() -> None:
    """Print one table a model: every program's time, and its ratio to ours."""
    versions: dict[str, str] = {}
    for visits in (False, True):
        rows = []
        gaps: dict[str, list[float]] = {}
        for horses, kept in SIZES:
            found = {program: run(program, horses, kept, visits) for program in LARGEST}
            ours = found["hoofcohort"]
            assert isinstance(ours, dict), ours
            for program, result in found.items():
                if isinstance(result, dict):
                    versions[program] = result["version"]
                    gaps.setdefault(program, []).append(gap(result, ours))
            own = [f"{ours['rows']:,}", seconds_text(ours["seconds"]["total"])]
            others = [cell(found[name], ours) for name in list(LARGEST)[2:]]
            rows.append([*own, cell(found["R"], ours), cell(found["R"], ours, "fit"), *others])
        print(f"\nhorse > foot{' and horse:visit' if visits else ''}, intercept and ten columns:\n")
        head = ["rows", "hoofcohort, with KR", "lmer and pbkrtest", "lmer alone", "statsmodels", "gpboost", "glmm"]
        print(table(head, rows))
        worst = ", ".join(f"{name} {max(own):.2g}" for name, own in gaps.items() if name != "hoofcohort")
        print(f"\nLargest difference of a coefficient from ours, in standard errors: {worst}.", flush=True)
    print(f"\n{', '.join(versions.values())}; numpy {np.__version__}, Python {platform.python_version()}.")


def main() -> None:
    """Print the tables asked for."""
    for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
        os.environ[name] = "1"
    known: dict[str, Callable[[], None]] = {
        "beside": beside, "parts": parts.parts, "yards": parts.yards, "parquet": parts.parquet,
        "refits": parts.refits,
    }  # fmt: skip
    for word in sys.argv[1:] or known:
        if word not in known:
            sys.exit(f"found '{word}'; allowed: {', '.join(known)}")
        known[word]()


if __name__ == "__main__":
    main()

"""Time the model engine beside statsmodels' MixedLM and, where Rscript is installed, R's lme4 with pbkrtest.

    python workflow/benchmarks/engine.py [ROWS ...]

Same invented data (yard > horse > foot and horse:visit, five columns), same machine, one run; prints seconds and the
ratio to ours. Ours and R's include Kenward-Roger for every coefficient; statsmodels has none. The slow ones are left
out above the sizes given in LARGEST.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
import warnings
from pathlib import Path
from shutil import which

import numpy as np
import pandas as pd

from hoofcohort.models import Covariate, Factor, Grouping, build_design, fit_mixed_model
from hoofcohort.simulate import simulate_cohort

LARGEST = {"statsmodels": 12_000, "R": 12_000}
R_PROGRAM = """
suppressMessages({library(lme4); library(pbkrtest)})
d <- read.csv(commandArgs(TRUE)[1], stringsAsFactors = TRUE)
t0 <- proc.time()[3]
m <- lmer(y ~ concentrate + pasture + trim + fore + (1 | yard) + (1 | horse) + (1 | horse:foot) + (1 | horse:visit), d)
t1 <- proc.time()[3]
V <- vcovAdj(m)
for (i in 1:5) invisible(get_Lb_ddf(m, as.numeric(1:5 == i)))
cat(t1 - t0, proc.time()[3] - t1)
"""


def cohort(rows: int) -> pd.DataFrame:
    """Return about that many readings of an invented cohort with every column known."""
    found = simulate_cohort(horses=max(16, round(rows / 11.5)), seed=1, mistakes=False)
    feet, terms = found.feet, found.terms
    yards = found.horses.set_index("horse_id").yard_id
    table = pd.DataFrame(
        {
            "yard": yards.reindex(feet.horse_id).to_numpy(),
            "horse": feet.horse_id.to_numpy(),
            "foot": feet.foot.to_numpy(),
            "visit": feet.visit_date.astype(str).to_numpy(),
            "concentrate": terms["diet[concentrate]"].to_numpy(),
            "pasture": terms["diet[pasture]"].to_numpy(),
            "trim": terms["trim_interval_days"].to_numpy(),
            "fore": feet.foot.isin(["LF", "RF"]).to_numpy().astype(float),
            "y": (feet.toe_angle_deg - feet.heel_angle_deg).to_numpy(float),
        }
    )
    return table.dropna().reset_index(drop=True)


def ours(table: pd.DataFrame) -> tuple[float, np.ndarray]:
    """Return seconds, Kenward-Roger included, and the coefficients."""
    start = time.perf_counter()
    grouping = Grouping.from_labels(
        {name: table[name].to_numpy() for name in ("yard", "horse", "foot")}, {"horse:visit": table.visit.to_numpy()}
    )
    names = ["concentrate", "pasture", "trim", "fore"]
    variables: list[Covariate | Factor] = [Covariate(name, table[name].to_numpy()) for name in names]
    fit = fit_mixed_model(table.y.to_numpy(), build_design(variables, names), grouping)
    fit.linear(np.eye(5))
    return time.perf_counter() - start, np.asarray(fit.coefficients)


def statsmodels(table: pd.DataFrame) -> tuple[float, np.ndarray]:
    """Return seconds and the coefficients of MixedLM with the yard as its group."""
    from statsmodels.regression.mixed_linear_model import MixedLM

    start = time.perf_counter()
    formulas = {"horse": "0 + C(horse)", "foot": "0 + C(horse):C(foot)", "visit": "0 + C(horse):C(visit)"}
    with warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always")
        model = MixedLM.from_formula(
            "y ~ concentrate + pasture + trim + fore", table, groups="yard", re_formula="1", vc_formula=formulas
        )
        fit = model.fit(method=["lbfgs", "powell"])
    print(f"  statsmodels: converged {fit.converged}, {len(caught)} warnings")
    return time.perf_counter() - start, fit.fe_params.to_numpy()


def r_language(table: pd.DataFrame) -> float:
    """Return the seconds of lmer and Kenward-Roger in R."""
    with tempfile.TemporaryDirectory() as folder:
        data, program = Path(folder, "data.csv"), Path(folder, "program.R")
        table.to_csv(data, index=False)
        program.write_text(R_PROGRAM)
        done = subprocess.run(["Rscript", program, data], capture_output=True, text=True, check=True)
    return sum(map(float, done.stdout.split()))


def main() -> None:
    """Print one line a size and program."""
    ours(cohort(400))
    for rows in map(int, sys.argv[1:] or ["400", "4000", "12000", "1000000"]):
        table = cohort(rows)
        seconds, coefficients = ours(table)
        print(f"{len(table)} rows, {table.horse.nunique()} horses: ours {seconds:.3f} s")
        if rows <= LARGEST["statsmodels"]:
            theirs, found = statsmodels(table)
            gap = np.max(np.abs(found - coefficients))
            print(f"  statsmodels {theirs:.2f} s, ratio {theirs / seconds:.0f}, largest difference {gap:.1g}")
        if rows <= LARGEST["R"] and which("Rscript"):
            theirs = r_language(table)
            print(f"  R {theirs:.2f} s, ratio {theirs / seconds:.0f}")


if __name__ == "__main__":
    main()

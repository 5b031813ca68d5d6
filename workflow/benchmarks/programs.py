"""The programs that the benchmark sets beside each other, each a function from the same readings to seconds.

Every function takes readings and whether horse:visit is in the model, and returns the seconds of processor time that
each of its parts took (one thread: what else the machine does hardly matters), the coefficients and their standard
errors. Run in a process of its own, one program at a time:

    python workflow/benchmarks/programs.py PROGRAM HORSES KEPT VISITS
"""

from __future__ import annotations

import json
import resource
import subprocess
import sys
import tempfile
import time
import warnings
from collections.abc import Callable
from importlib.metadata import version
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from invented import COLUMNS, Invented, invent

SHORT, MOST_TIMES = 1.0, 5
"""A run shorter than this many seconds is repeated, up to so many times; the fastest counts."""

R_PROGRAM = """
suppressMessages({library(lme4); library(pbkrtest)})
given <- commandArgs(TRUE)
d <- read.csv(given[1]); visits <- given[2] == "True"; kr <- given[3] == "True"
for (name in c("horse", "foot", "visit")) d[[name]] <- factor(d[[name]])
f <- y ~ x1 + x2 + x3 + x4 + x5 + x6 + x7 + x8 + x9 + x10 + (1 | horse) + (1 | foot)
if (visits) f <- update(f, . ~ . + (1 | visit))
best <- c(Inf, Inf); times <- 0; spent <- 0
while (times == 0 || (spent < as.numeric(given[4]) && times < as.numeric(given[5]))) {
  t0 <- sum(proc.time()[1:2])
  m <- suppressMessages(lmer(f, d))
  t1 <- sum(proc.time()[1:2])
  if (kr) {
    V <- vcovAdj(m)
    for (i in 1:11) invisible(get_Lb_ddf(m, as.numeric(1:11 == i)))
  }
  t2 <- sum(proc.time()[1:2])
  best <- pmin(best, c(t1 - t0, t2 - t1)); spent <- spent + t2 - t0; times <- times + 1
}
cat(best, fixef(m), sqrt(diag(as.matrix(vcov(m)))), sep = " ")
cat("\\nR ", as.character(getRversion()), ", lme4 ", as.character(packageVersion("lme4")), ", pbkrtest ",
    as.character(packageVersion("pbkrtest")), sep = "")
"""
R_KR_LARGEST = 15_000
"""Rows up to which R is asked for Kenward-Roger too: 100,000 would take minutes and gigabytes."""

Result = dict[str, Any]


def timed(run: Callable[[], Any]) -> tuple[float, Any]:
    """Return the fastest time and the last answer."""
    best, spent, times = np.inf, 0.0, 0
    while times == 0 or (spent < SHORT and times < MOST_TIMES):
        start = time.process_time()
        answer = run()
        took = time.process_time() - start
        best, spent, times = min(best, took), spent + took, times + 1
    return best, answer


def ours(data: Invented, visits: bool) -> Result:
    """From arrays to the Kenward-Roger interval of every coefficient; the same with its statistics alone."""
    from hoofcohort.models import fit_mixed_model
    from hoofcohort.models.inference import KenwardRoger
    from hoofcohort.models.optimise import minimise

    def whole() -> Any:
        fit = fit_mixed_model(data.y, data.design(), data.grouping(visits))
        return fit, fit.linear(np.eye(len(fit.coefficients)))

    def again() -> Any:
        return KenwardRoger.of(minimise(fit.statistics, True, fit.grouping.names)).degrees(fit.transform)

    whole()
    seconds, (fit, found) = timed(whole)
    return {
        "seconds": {"total": seconds, "from statistics": timed(again)[0]},
        "coefficients": [own.estimate for own in found],
        "errors": np.sqrt(np.diag(fit.transform @ fit.optimum.at.covariance @ fit.transform.T)) * fit.scale,
        "version": f"hoofcohort {version('hoofcohort')}",
    }


def frame(data: Invented) -> pd.DataFrame:
    """Return the readings as one table."""
    labels = {"horse": data.horse, "foot": data.foot, "visit": data.visit, "y": data.y}
    return pd.DataFrame(labels | {name: data.x[:, k] for k, name in enumerate(COLUMNS)})


def with_statsmodels(data: Invented, visits: bool) -> Result:
    """MixedLM with the horse as its group; no small-sample degrees of freedom."""
    from statsmodels.regression.mixed_linear_model import MixedLM

    table = frame(data)
    formulas = {"foot": "0 + C(foot)"} | ({"visit": "0 + C(visit)"} if visits else {})

    def run() -> Any:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            formula = "y ~ " + " + ".join(COLUMNS)
            model = MixedLM.from_formula(formula, table, groups="horse", re_formula="1", vc_formula=formulas)
            return model.fit(method=["lbfgs", "powell"])

    seconds, fit = timed(run)
    return {
        "seconds": {"total": seconds},
        "coefficients": fit.fe_params.to_numpy(),
        "errors": fit.bse_fe.to_numpy(),
        "version": f"statsmodels {version('statsmodels')}",
    }


def with_gpboost(data: Invented, visits: bool) -> Result:
    """GPModel with grouped effects; REML is not offered, so maximum likelihood; no small-sample df."""
    import gpboost

    groups = np.column_stack([data.horse, data.foot, *([data.visit] if visits else [])])
    x = np.column_stack([np.ones(len(data.y)), data.x])

    def run() -> Any:
        model = gpboost.GPModel(group_data=groups, likelihood="gaussian", num_parallel_threads=1)
        model.fit(y=data.y, X=x)
        return np.asarray(model.get_coef(std_err=True, format_pandas=False), float).reshape(2, -1)

    seconds, found = timed(run)
    return {
        "seconds": {"total": seconds},
        "coefficients": found[0],
        "errors": found[1],
        "version": f"gpboost {version('gpboost')}",
    }


def with_glmm(data: Invented, visits: bool) -> Result:
    """The glmm package by REML, with its Satterthwaite degrees of freedom; it has no Kenward-Roger."""
    import glmm

    table = frame(data).astype({"horse": str, "foot": str, "visit": str})
    formula = "y ~ " + " + ".join(COLUMNS) + " + (1 | horse) + (1 | foot)" + (" + (1 | visit)" if visits else "")

    def run() -> Any:
        fit = glmm.fit(table, formula)
        return fit, np.asarray(fit.coef_df)

    seconds, (fit, _) = timed(run)
    return {
        "seconds": {"total": seconds},
        "coefficients": np.asarray(fit.beta),
        "errors": np.asarray(fit.se),
        "version": f"glmm {version('glmm')}",
    }


def with_r(data: Invented, visits: bool) -> Result:
    """R's lmer, and then pbkrtest's Kenward-Roger for every coefficient."""
    kr = len(data.y) <= R_KR_LARGEST
    with tempfile.TemporaryDirectory() as folder:
        csv, program = Path(folder, "data.csv"), Path(folder, "program.R")
        frame(data).to_csv(csv, index=False)
        program.write_text(R_PROGRAM)
        command = ["Rscript", program, csv, str(visits), str(kr), str(SHORT), str(MOST_TIMES)]
        done = subprocess.run(command, capture_output=True, text=True, check=True)
    numbers, versions = done.stdout.split("\n")
    fit, test, *rest = map(float, numbers.split())
    seconds = {"fit": fit, "total": fit + test} if kr else {"fit": fit}
    return {"seconds": seconds, "coefficients": rest[:11], "errors": rest[11:], "version": versions}


PROGRAMS: dict[str, Callable[[Invented, bool], Result]] = {
    "hoofcohort": ours,
    "R": with_r,
    "statsmodels": with_statsmodels,
    "gpboost": with_gpboost,
    "glmm": with_glmm,
}


def main() -> None:
    """Run one program on one cohort and print its result as JSON, with the process's peak memory in megabytes."""
    program, horses, kept, visits = sys.argv[1], int(sys.argv[2]), float(sys.argv[3]), sys.argv[4] == "True"
    data = invent(horses, kept, visits)
    result = PROGRAMS[program](data, visits) | {"rows": len(data.y)}
    children = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss
    result["peak_mb"] = max(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss, children) / 1024
    result |= {name: list(map(float, result[name])) for name in ("coefficients", "errors")}
    print(json.dumps(result))


if __name__ == "__main__":
    main()

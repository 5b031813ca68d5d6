"""Do the intervals hold what they promise? Fit many simulated cohorts and count how often they cover the truth.

Run it as ``python -m hoofcohort.study.calibration config/demo.yaml``; 1,000 cohorts take some minutes.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from hoofcohort.indices.derive import derive
from hoofcohort.models import build_design
from hoofcohort.plan import OutcomeSettings, Plan, load_plan
from hoofcohort.simulate import simulate_cohort
from hoofcohort.simulate.truth import OUTCOMES
from hoofcohort.study.effects import Effect, estimate_effects, planned_effects
from hoofcohort.study.levels import Levels, fit_with_levels
from hoofcohort.study.table import build_table
from hoofcohort.study.terms import build_terms

FIRST_SEED = 40_000_000


@dataclass(frozen=True)
class Coverage:
    """How an effect's intervals fared.

    Attributes
    ----------
    outcome, label : str
    truth : float
    cohorts : int
        Cohorts in which the effect could be estimated.
    covered : float
        Share of the intervals that hold the truth.
    bias : float
        Mean of estimate minus truth.
    spread, std_error : float
        Standard deviation of the estimates; root mean square of their standard errors.
    """

    outcome: str
    label: str
    truth: float
    cohorts: int
    covered: float
    bias: float
    spread: float
    std_error: float


def true_effect(effect: Effect, outcome: str) -> float:
    """Return the simulation's effect for an effect of an exposure."""
    effects = OUTCOMES[outcome].effects
    if effect.per is not None:
        return effects[effect.exposure] * effect.per
    first, second = (effects.get(f"{effect.exposure}[{word}]", 0.0) for word in (effect.first, effect.second))
    return first - second


def calibrate(plan: Plan, cohorts: int, first_seed: int = FIRST_SEED, horses: int = 64) -> list[Coverage]:
    """Simulate cohorts, fit the adjusted model of each outcome with a known truth, and count.

    Parameters
    ----------
    plan : Plan
        With outcomes among those whose truth the simulation knows; others are left aside.
    cohorts : int
        Cohort i has seed ``first_seed + i``.
    horses : int
        Horses per cohort.
    """
    rows: list[tuple[str, str, float, float, float, float, float]] = []
    for cohort in range(cohorts):
        simulated = simulate_cohort(horses=horses, seed=first_seed + cohort, mistakes=False)
        readings = derive(simulated.feet, simulated.horses)
        for name in plan.outcomes:
            if name in OUTCOMES:
                settings = plan.for_outcome(name)
                rows += _one(settings, readings, simulated.horses, simulated.management)
        if (cohort + 1) % 100 == 0:
            print(f"{cohort + 1} of {cohorts} cohorts", file=sys.stderr)
    columns = ["outcome", "label", "truth", "estimate", "std_error", "low", "high"]
    return _summary(pd.DataFrame(rows, columns=columns))


def _one(
    settings: OutcomeSettings, readings: pd.DataFrame, horses: pd.DataFrame, management: pd.DataFrame
) -> list[tuple[str, str, float, float, float, float, float]]:
    table = build_table(settings, readings, horses, management)
    terms = build_terms(settings, table)
    design = build_design(terms.variables.values(), terms.adjusted)
    levels = Levels(tuple(settings.levels), tuple(settings.also))
    fit, _ = fit_with_levels(table.frame, settings.name, design, levels, (), settings.confidence)
    effects = planned_effects(settings, terms)
    return [
        (settings.name, effect.label, true_effect(effect, settings.name),
         found["estimate"], found["std_error"], found["low"], found["high"])
        for effect, found in zip(effects, estimate_effects(fit, effects), strict=True)
        if found is not None
    ]  # fmt: skip


def _summary(rows: pd.DataFrame) -> list[Coverage]:
    found = []
    for (outcome, label), own in rows.groupby(["outcome", "label"], sort=False):
        truth, estimate = own["truth"].to_numpy(), own["estimate"].to_numpy()
        covered = (own["low"].to_numpy() <= truth) & (truth <= own["high"].to_numpy())
        found.append(
            Coverage(
                str(outcome),
                str(label),
                float(truth[0]),
                len(own),
                float(covered.mean()),
                float((estimate - truth).mean()),
                float(estimate.std(ddof=1)),
                float(np.sqrt((own["std_error"] ** 2).mean())),
            )
        )
    return found


def main(argv: Sequence[str] | None = None) -> None:
    """Print a table of coverages."""
    parser = argparse.ArgumentParser(prog="python -m hoofcohort.study.calibration", description=__doc__)
    parser.add_argument("plan", metavar="PLAN.yaml")
    parser.add_argument("--cohorts", type=int, default=1000)
    parser.add_argument("--first-seed", type=int, default=FIRST_SEED)
    parser.add_argument("--horses", type=int, default=64)
    args = parser.parse_args(argv)
    print(f"{'outcome':20} {'effect':52} {'truth':>7} {'n':>5} {'covered':>8} {'bias':>8} {'sd':>7} {'rms se':>7}")
    for row in calibrate(load_plan(args.plan), args.cohorts, args.first_seed, args.horses):
        print(
            f"{row.outcome:20} {row.label:52} {row.truth:7.3f} {row.cohorts:5} {row.covered:8.1%} {row.bias:8.4f} "
            f"{row.spread:7.4f} {row.std_error:7.4f}"
        )


if __name__ == "__main__":
    main()

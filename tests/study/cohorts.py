"""Simulated cohorts as typed frames, and the true value of every planned effect."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pandas as pd

from hoofcohort.indices.derive import derive
from hoofcohort.models import Fit, build_design
from hoofcohort.plan import OutcomeSettings, Plan, load_plan
from hoofcohort.simulate import simulate_cohort
from hoofcohort.simulate.truth import OUTCOMES
from hoofcohort.study.effects import Effect, planned_effects
from hoofcohort.study.levels import Levels, fit_with_levels
from hoofcohort.study.table import build_table
from hoofcohort.study.terms import build_terms

ROOT = Path(__file__).parents[2]


def demo_plan() -> Plan:
    """Return the plan of the demo."""
    return load_plan(ROOT / "config" / "demo.yaml")


def cohort_frames(seed: int, horses: int = 64, **more: Any) -> dict[str, pd.DataFrame]:
    """Simulate a cohort without mistakes, as the intake and derive would hand it on."""
    cohort = simulate_cohort(horses=horses, seed=seed, mistakes=False, **more)
    return {
        "readings": derive(cohort.feet, cohort.horses),
        "horses": cohort.horses,
        "management": cohort.management,
    }


def adjusted_effects(settings: OutcomeSettings, frames: Mapping[str, pd.DataFrame]) -> tuple[Fit, list[Effect]]:
    """Return the adjusted model of an outcome and the effects that the plan asks of it."""
    table = build_table(settings, **frames)
    terms = build_terms(settings, table)
    design = build_design(terms.variables.values(), terms.adjusted)
    levels = Levels(tuple(settings.levels), tuple(settings.also))
    fit, _ = fit_with_levels(table.frame, settings.name, design, levels, (), settings.confidence)
    return fit, planned_effects(settings, terms)


def true_effect(outcome: str, effect: Effect) -> float:
    """Return the simulated value of an effect, from the simulation's own statement of it."""
    truth = OUTCOMES[outcome].effects
    if effect.per is not None:
        return truth.get(effect.exposure, 0.0) * effect.per
    if effect.weights is not None:
        return sum(weight * truth.get(f"{effect.exposure}[{word}]", 0.0) for word, weight in effect.weights)
    first, second = (truth.get(f"{effect.exposure}[{word}]", 0.0) for word in (effect.first, effect.second))
    return first - second

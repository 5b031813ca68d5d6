"""The effects that a study reports: differences between words of an exposure, and slopes in the plan's units."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from hoofcohort.models import Covariate, Design, Fit, Shares
from hoofcohort.models.design import average
from hoofcohort.plan import OutcomeSettings
from hoofcohort.study.terms import Terms

Array = NDArray[np.floating]


@dataclass(frozen=True)
class Effect:
    """One effect of an exposure, as a change in its settings.

    Attributes
    ----------
    exposure, label : str
    high, low : array
        Settings of the exposure (a number, or weights over its words) whose difference is meant.
    of_interest : bool
        Whether the plan names it as the outcome's comparison.
    within : dict of str to str
        For a simple effect, the value at which an interacting factor is held.
    """

    exposure: str
    label: str
    high: Array
    low: Array
    of_interest: bool
    within: dict[str, str]


def list_effects(settings: OutcomeSettings, terms: Terms) -> list[Effect]:
    """List every exposure's effects, then, for interactions with a factor, those at each of its values."""
    found = []
    for name in terms.exposures:
        for effect in _main_effects(settings, terms, name):
            found.append(effect)
            for other in _partners(terms, name):
                found += [
                    Effect(name, f"{effect.label}; {other} {value}", effect.high, effect.low, False, {other: value})
                    for value in terms.variables[other].values  # type: ignore[union-attr]
                ]
    return found


def function_of(effect: Effect, design: Design) -> Array:
    """Return the linear function of a design's coefficients that is the effect, shape (columns,)."""
    settings = {name: average(variable) for name, variable in design.variables.items()}
    for name, value in effect.within.items():
        if name in design.variables:
            words = design.variables[name].values  # type: ignore[union-attr]
            settings[name] = np.eye(len(words))[words.index(value)]
    return design.row(settings | {effect.exposure: effect.high}) - design.row(settings | {effect.exposure: effect.low})


def estimate(effect: Effect, fit: Fit) -> dict[str, float | None]:
    """Return an effect's estimate, standard error, df, interval and p value; None where not estimable."""
    found = vars(fit.linear(function_of(effect, fit.design))[0])
    return {key: value if np.isfinite(value) else None for key, value in found.items()}


def _main_effects(settings: OutcomeSettings, terms: Terms, name: str) -> Iterator[Effect]:
    variable = terms.variables[name]
    interest = settings.comparison if settings.comparison and settings.comparison.exposure == name else None
    if isinstance(variable, Covariate):
        per = settings.exposures[name].per or 1.0
        centre = float(np.mean(np.asarray(variable.values, float)))
        label = f"per {per:g} {_unit(terms, name)}".rstrip()
        yield Effect(name, label, np.array([centre + per]), np.array([centre]), interest is not None, {})
        return
    words = variable.values
    pairs = [(word, words[0]) for word in words[1:]]
    wanted = (interest.first, interest.second) if interest else None
    if wanted and wanted not in pairs and set(wanted) <= set(words):
        pairs.append((str(wanted[0]), str(wanted[1])))
    note = " (all days v all days)" if isinstance(variable, Shares) else ""
    weights = dict(zip(words, np.eye(len(words)), strict=True))
    for first, second in pairs:
        label = f"{first} v {second}{note}"
        yield Effect(name, label, weights[first], weights[second], (first, second) == wanted, {})


def _partners(terms: Terms, name: str) -> list[str]:
    """Return the factors that an exposure interacts with."""
    found = []
    for term in terms.interactions:
        parts = term.split(":")
        if name in parts:
            found += [part for part in parts if part != name and not isinstance(terms.variables[part], Covariate)]
    return found


def _unit(terms: Terms, name: str) -> str:
    return next(str(row["unit"]) for row in terms.descriptions if row["name"] == name)


def effect_rows(effects: list[Effect], unit: str, adjusted: Fit, unadjusted: dict[str, Fit]) -> list[dict[str, Any]]:
    """Return unadjusted beside adjusted estimates of every effect; a simple effect has no unadjusted estimate."""
    return [
        {
            "exposure": effect.exposure,
            "label": effect.label,
            "unit": unit,
            "of_interest": effect.of_interest,
            "within": effect.within,
            "unadjusted": None if effect.within else estimate(effect, unadjusted[effect.exposure]),
            "adjusted": estimate(effect, adjusted),
        }
        for effect in effects
    ]

"""The effects of the exposures: what is compared with what, as functions of a model's coefficients."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from hoofcohort.models import Covariate, Design, Factor, Fit
from hoofcohort.plan import OutcomeSettings
from hoofcohort.study.terms import ModelVariable, Terms, title_of
from hoofcohort.tables import TABLES

Array = NDArray[np.floating]
HOW = {"share": "all days v all days", "as_of": "on the day of the visit", "mean": "mean over the window"}


@dataclass(frozen=True)
class Condition:
    """The value of an interacting variable at which an effect is stated.

    Attributes
    ----------
    variable, text : str
        Its name, and its value in words.
    value : array
        The value of a covariate, or weights over a categorical variable's values.
    """

    variable: str
    text: str
    value: Array


@dataclass(frozen=True)
class Effect:
    """One effect of an exposure.

    Attributes
    ----------
    exposure, label : str
    first, second : str or None
        Word exposures: the effect is ``first`` minus ``second``.
    per : float or None
        Number exposures: the effect of this many units more.
    of_interest : bool
        Whether it is the plan's comparison of interest.
    at : Condition or None
        For an effect at one value of an interacting variable; None for the effect averaged over all of them.
    """

    exposure: str
    label: str
    first: str | None = None
    second: str | None = None
    per: float | None = None
    of_interest: bool = False
    at: Condition | None = None

    def function(self, design: Design) -> Array:
        """Return the effect as a function of the coefficients, shape (p,); NaN when the model has no such effect."""
        variable = design.variables.get(self.exposure)
        settings = {name: average(own) for name, own in design.variables.items()}
        if self.at is not None:
            settings[self.at.variable] = self.at.value
        if isinstance(variable, Covariate):
            low = settings[self.exposure]
            high = low + (self.per or 1.0)
        elif variable is not None and {self.first, self.second} <= set(variable.values):
            unit = np.eye(len(variable.values))
            high, low = (unit[variable.values.index(str(word))] for word in (self.first, self.second))
        else:
            return np.full(len(design.names), np.nan)
        return design.row(settings | {self.exposure: high}) - design.row(settings | {self.exposure: low})


def average(variable: ModelVariable) -> Array:
    """Return where a variable stands while an effect is averaged over it: equal weights for words, else the mean."""
    if isinstance(variable, Factor):
        return np.full(len(variable.values), 1.0 / len(variable.values))
    values = variable.values if isinstance(variable, Covariate) else variable.matrix
    return np.atleast_1d(np.asarray(values, float).mean(axis=0))


def planned_effects(settings: OutcomeSettings, terms: Terms) -> list[Effect]:
    """Return the effects to state, in the plan's order of exposures.

    For a word exposure every word against the base, and the comparison of interest where it is another one; for a
    number exposure its slope. With interactions, each is averaged over the interacting variable, and then stated at
    its values (a covariate's: mean, and one standard deviation to either side).
    """
    effects: list[Effect] = []
    for name in settings.exposures:
        main = list(_main_effects(name, settings, terms))
        effects += main
        for condition in _conditions(name, terms):
            label = f"{title_of(condition.variable)}: {condition.text}"
            effects += [
                Effect(e.exposure, f"{e.label}; {label}", e.first, e.second, e.per, False, condition) for e in main
            ]
    return effects


def _main_effects(name: str, settings: OutcomeSettings, terms: Terms) -> Iterator[Effect]:
    exposure, wanted = settings.exposures[name], settings.comparison
    asked = wanted is not None and wanted.exposure == name
    variable = terms.variables.get(name)
    how = HOW[exposure.form or "as_of"]
    column = TABLES["management"].by_name[name]
    if not column.words:
        if variable is not None or asked:
            label = f"{column.title}, per {exposure.per:g} {column.unit} ({how})"
            yield Effect(name, label, per=exposure.per, of_interest=asked)
        return
    pairs: list[tuple[str | None, str | None]] = []
    if variable is not None and not isinstance(variable, Covariate):
        pairs = [(word, variable.values[0]) for word in variable.values[1:]]
    chosen = (wanted.first, wanted.second) if asked and wanted is not None else None
    if chosen and chosen not in pairs:
        pairs = [*(pair for pair in pairs if pair != chosen[::-1]), chosen]
    for first, second in pairs:
        yield Effect(name, f"{first} v {second} ({how})", first, second, of_interest=(first, second) == chosen)


def _conditions(name: str, terms: Terms) -> Iterator[Condition]:
    for term in terms.interactions:
        parts = term.split(":")
        if name not in parts:
            continue
        other = parts[1 - parts.index(name)]
        variable = terms.variables[other]
        if isinstance(variable, Covariate):
            values = np.asarray(variable.values, float)
            for text, shift in (("mean - SD", -1.0), ("mean", 0.0), ("mean + SD", 1.0)):
                point = values.mean() + shift * values.std(ddof=1)
                yield Condition(other, f"{point:.4g} ({text})", np.atleast_1d(point))
        else:
            for word, weights in zip(variable.values, np.eye(len(variable.values)), strict=True):
                yield Condition(other, word, weights)


def estimate_effects(fit: Fit, effects: Sequence[Effect]) -> list[dict[str, float] | None]:
    """Return estimate, std_error, df, low, high and p of every effect; None where the model cannot give it."""
    functions = np.array([effect.function(fit.design) for effect in effects]).reshape(-1, len(fit.design.names))
    possible = np.flatnonzero(np.isfinite(functions).all(axis=1))
    found: list[dict[str, Any] | None] = [None] * len(effects)
    for place, estimate in zip(possible, fit.linear(functions[possible]) if len(possible) else [], strict=True):
        if np.isfinite(estimate.estimate):
            found[place] = {key: getattr(estimate, key) for key in ("estimate", "std_error", "df", "low", "high", "p")}
    return found

"""The effects of the exposures: what is compared with what, as functions of a model's coefficients."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from hoofcohort.models import Covariate, Design, Fit
from hoofcohort.models.design import average
from hoofcohort.plan import OutcomeSettings
from hoofcohort.study.shape import compared_values
from hoofcohort.study.terms import Terms
from hoofcohort.tables import TABLES
from hoofcohort.tables.variables import title_of

Array = NDArray[np.floating]
NUMBERS = ("estimate", "std_error", "df", "low", "high", "p")
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
    ends : pair of float or None
        Number exposures with a shape: the effect is the first value minus the second.
    weights : tuple of pairs of str and float, or None
        A contrast of the plan: weights of words, those above zero adding up to 1, those below to -1.
    """

    exposure: str
    label: str
    first: str | None = None
    second: str | None = None
    per: float | None = None
    of_interest: bool = False
    at: Condition | None = None
    ends: tuple[float, float] | None = None
    weights: tuple[tuple[str, float], ...] | None = None

    def function(self, design: Design) -> Array:
        """Return the effect as a function of the coefficients, shape (p,); NaN when the model has no such effect."""
        variable = design.variables.get(self.exposure)
        settings: dict[str, ArrayLike] = {name: average(own) for name, own in design.variables.items()}
        if self.at is not None:
            settings[self.at.variable] = self.at.value
        if isinstance(variable, Covariate):
            mean = average(variable)
            ends: tuple[ArrayLike, ArrayLike] = self.ends or (mean + (self.per or 1.0), mean)
        elif variable is not None and {word for word, _ in self._weights()} <= set(variable.values):
            high, low = np.zeros(len(variable.values)), np.zeros(len(variable.values))
            for word, weight in self._weights():
                (high if weight > 0 else low)[variable.values.index(word)] = abs(weight)
            ends = high, low
        else:
            return np.full(len(design.names), np.nan)
        first, second = (design.row(settings | {self.exposure: end}) for end in ends)
        return first - second

    def _weights(self) -> tuple[tuple[str, float], ...]:
        return self.weights or ((str(self.first), 1.0), (str(self.second), -1.0))


def planned_effects(settings: OutcomeSettings, terms: Terms) -> list[Effect]:
    """Return the effects to state, in the plan's order of exposures.

    For a word exposure every word against the base, the comparison of interest where it is another one, and the plan's
    contrasts; for a number exposure its slope, or, where it has a shape, differences between values. With interactions,
    each is averaged over the interacting variable, and then stated at its values (a covariate's: mean, and one standard
    deviation to either side).
    """
    effects: list[Effect] = []
    for name in settings.exposures:
        main = list(_main_effects(name, settings, terms))
        effects += main
        for condition in _conditions(name, terms):
            label = f"{title_of(condition.variable)}: {condition.text}"
            effects += [replace(e, label=f"{e.label}; {label}", of_interest=False, at=condition) for e in main]
    return effects


def _main_effects(name: str, settings: OutcomeSettings, terms: Terms) -> Iterator[Effect]:
    exposure, wanted = settings.exposures[name], settings.comparison
    asked = wanted is not None and wanted.exposure == name
    variable = terms.variables.get(name)
    how = HOW[exposure.form or "as_of"]
    column = TABLES["management"].by_name[name]
    if not column.words:
        if isinstance(variable, Covariate) and name in settings.shapes:
            yield from _between_values(name, settings, variable)
        elif variable is not None or asked:
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
    for contrast in settings.contrasts:
        if contrast.exposure == name:
            yield Effect(name, f"{contrast.name} ({how})", weights=_scaled(contrast.weights))


def _between_values(name: str, settings: OutcomeSettings, variable: Covariate) -> Iterator[Effect]:
    """Yield the differences between set values of an exposure with a shape, that of interest first."""
    exposure, wanted = settings.exposures[name], settings.comparison
    column, how = TABLES["management"].by_name[name], HOW[exposure.form or "as_of"]
    for place, (ends, chosen_as) in enumerate(compared_values(variable, settings.shapes[name])):
        label = f"{column.title}, {ends[0]:.4g} v {ends[1]:.4g} {column.unit}"
        said = f"{chosen_as}; {how}" if chosen_as else how
        asked = place == 0 and wanted is not None and wanted.exposure == name
        yield Effect(name, f"{label} ({said})", ends=ends, of_interest=asked)


def _scaled(weights: Mapping[str, float]) -> tuple[tuple[str, float], ...]:
    """Return the weights other than zero, each side divided by its sum: a plan writes thirds as 0.333."""
    sides = {sign: sum(abs(weight) for weight in weights.values() if weight * sign > 0) for sign in (1, -1)}
    return tuple((word, weight / sides[1 if weight > 0 else -1]) for word, weight in weights.items() if weight)


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
            found[place] = {key: getattr(estimate, key) for key in NUMBERS}
    return found

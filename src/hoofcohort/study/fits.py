"""The models of one outcome: adjusted, unadjusted, and without the groupings that cross the foot."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from hoofcohort.errors import ModelError
from hoofcohort.models import Covariate, Curve, Fit, build_design
from hoofcohort.models.profile import profile_intervals
from hoofcohort.models.record import with_profile
from hoofcohort.plan import OutcomeSettings
from hoofcohort.study.effects import Effect, estimate_effects
from hoofcohort.study.levels import Levels, fit_with_levels, unnested
from hoofcohort.study.shape import curve_record
from hoofcohort.study.table import AnalysisTable
from hoofcohort.study.terms import Terms
from hoofcohort.tables.variables import title_of


@dataclass(frozen=True)
class Models:
    """The fitted models of one outcome, all on the same rows and with the same levels.

    Attributes
    ----------
    adjusted : Fit
        All exposures, adjustments and interactions.
    unadjusted : dict of str to Fit
        Each exposure alone.
    without_also : Fit or None
        The adjusted model without the groupings that cross the foot; None when it has none.
    levels : Levels
        Those in the models.
    messages : tuple of str
        What happened to the levels, and what the other models had to say that the adjusted one had not.
    """

    adjusted: Fit
    unadjusted: dict[str, Fit]
    without_also: Fit | None
    levels: Levels
    messages: tuple[str, ...]


def fit_models(settings: OutcomeSettings, table: AnalysisTable, terms: Terms) -> Models:
    """Fit all models of an outcome.

    Raises
    ------
    ModelError
        When one of them cannot be fitted, with the reason.
    """
    planned = Levels(tuple(settings.levels), tuple(settings.also), crossed=tuple(settings.crossed))
    adjusted, levels = _fit(settings, table, terms, terms.adjusted, planned)
    unadjusted: dict[str, Fit] = {}
    messages = [*levels.messages]

    def fit_beside(title: str, chosen: Sequence[str], own: Levels) -> Fit:
        fit, left = _fit(settings, table, terms, chosen, own)
        said = [*left.messages[len(own.messages) :], *fit.messages]
        messages.extend(f"{title}: {text}" for text in said if text not in adjusted.messages)
        return fit

    for name in terms.exposures:
        unadjusted[name] = fit_beside(f"Unadjusted model of {title_of(name)}", [name], levels)
    without = None
    if levels.also:
        without = fit_beside(f"Model without {', '.join(levels.also)}", terms.adjusted, unnested(levels))
    return Models(adjusted, unadjusted, without, levels, tuple(messages))


def _fit(
    settings: OutcomeSettings, table: AnalysisTable, terms: Terms, chosen: Sequence[str], levels: Levels
) -> tuple[Fit, Levels]:
    design = build_design(terms.variables.values(), chosen)
    words = [name for name in terms.exposures if name in chosen and not isinstance(terms.variables[name], Covariate)]
    try:
        return fit_with_levels(table.frame, settings.name, design, levels, words, settings.confidence)
    except ModelError as error:
        what = ", ".join(" × ".join(map(title_of, term.split(":"))) for term in chosen)
        raise ModelError(f"the model of {what} could not be fitted: {error}") from error


def effects_record(models: Models, effects: Sequence[Effect], unit: str) -> list[dict[str, Any]]:
    """Return every effect with its unadjusted and its adjusted estimate, None where there is none.

    The unadjusted model holds no interaction, so an effect at one value of an interacting variable has no unadjusted
    estimate.
    """
    records = []
    for effect, adjusted in zip(effects, estimate_effects(models.adjusted, effects), strict=True):
        alone = models.unadjusted.get(effect.exposure)
        unadjusted = estimate_effects(alone, [effect])[0] if alone is not None and effect.at is None else None
        records.append({
            **_identity(effect), "unit": unit, "first": effect.first, "second": effect.second, "per": effect.per,
            "values": None if effect.ends is None else list(effect.ends),
            "weights": None if effect.weights is None else dict(effect.weights),
            "at": None if effect.at is None else {"variable": effect.at.variable, "value": effect.at.text},
            "unadjusted": unadjusted, "adjusted": adjusted,
        })  # fmt: skip
    return records


def adjusted_record(models: Models, effects: Sequence[Effect], terms: Terms) -> dict[str, Any]:
    """Return the adjusted model's record, with profile intervals of its variances and shares where it converged.

    The F test of an exposure that interacts is that of its stated effects.

    The engine's type III test of an exposure stands at zero of a number that it interacts with (a horse of age 0 and
    mass 0). The test given instead is of all its effects as stated, or of all columns of a curve: numbers at their
    mean, words weighted equally, shares at their mean.
    """
    record = models.adjusted.to_dict()
    if models.adjusted.optimum.converged:
        record = with_profile(record, profile_intervals(models.adjusted))
    design = models.adjusted.design
    for name, variable in terms.variables.items():
        own = [effect for effect in effects if effect.exposure == name and effect.at is None]
        if not _partners(name, terms) or not (own or isinstance(variable, Curve)):
            continue
        if isinstance(variable, Curve):
            what, functions = "its curve", design.basis_functions(name)
        else:
            what, functions = "its effects as stated", np.array([effect.function(design) for effect in own])
        try:
            test = vars(models.adjusted.joint_test(functions))
        except ModelError:
            test = dict.fromkeys(("num_df", "den_df", "f", "p"))
        record["messages"].append(
            f"The F test of {title_of(name)} is that of {what}: numbers that it interacts with at "
            "their mean, words weighted equally."
        )
        record["tests"] = [{"term": name, **test} if row["term"] == name else row for row in record["tests"]]
    return record


def without_also_record(models: Models, effects: Sequence[Effect]) -> dict[str, Any] | None:
    """Return the adjusted effects as they come out without the groupings that cross the foot."""
    if models.without_also is None:
        return None
    found = estimate_effects(models.without_also, effects)
    return {
        "left_out": list(models.levels.also),
        "effects": [
            {**_identity(effect), "adjusted": estimate} for effect, estimate in zip(effects, found, strict=True)
        ],
    }


def shapes_record(models: Models, terms: Terms) -> list[dict[str, Any]]:
    """Return the curve of every variable with a shape, exposures first, as in ``study/shape.py``."""
    return [
        {"variable": name, "title": title_of(name), "role": "exposure" if name in terms.exposures else "adjustment"}
        | {"interacts": [title_of(other) for other in _partners(name, terms)]}
        | curve_record(models.adjusted, models.unadjusted.get(name), name)
        for name, variable in terms.variables.items()
        if isinstance(variable, Curve)
    ]


def _partners(name: str, terms: Terms) -> list[str]:
    pairs = [term.split(":") for term in terms.interactions]
    return [other for pair in pairs if name in pair for other in pair if other != name]


def _identity(effect: Effect) -> dict[str, Any]:
    return {"exposure": effect.exposure, "label": effect.label, "of_interest": effect.of_interest}

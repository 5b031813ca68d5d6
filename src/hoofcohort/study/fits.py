"""The models of one outcome: adjusted, each exposure alone, and without the groupings that cross the foot."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from hoofcohort.errors import ModelError, UnidentifiableLevelError
from hoofcohort.models import Fit, Grouping, Shares, build_design, fit_mixed_model
from hoofcohort.models.design import Factor
from hoofcohort.plan import OutcomeSettings
from hoofcohort.study.terms import Terms

COLUMNS = {"yard": "yard_id", "horse": "horse_id", "foot": "foot", "visit": "visit_date"}
"""Column of the analysis table that holds the label of each level."""


@dataclass(frozen=True)
class Fits:
    """The fitted models of one outcome.

    Attributes
    ----------
    adjusted : Fit
    unadjusted : dict of str to Fit
        Each exposure alone, on the same rows and levels.
    without_crossing : Fit or None
        The adjusted model without the groupings that cross the foot; None when there are none.
    messages : list of str
        Levels that had to be left out, with the reason.
    """

    adjusted: Fit
    unadjusted: dict[str, Fit]
    without_crossing: Fit | None
    messages: list[str]


def fit_models(settings: OutcomeSettings, rows: pd.DataFrame, terms: Terms) -> Fits:
    """Fit every model of an outcome.

    Raises
    ------
    ModelError
        When the adjusted model cannot be fitted even without the levels that the data cannot tell apart.
    """
    levels, also = list(settings.levels), list(settings.also)
    words = [name for name in terms.exposures if isinstance(terms.variables[name], Shares | Factor)]
    everything = [*terms.exposures, *terms.adjustments, *terms.interactions]
    messages: list[str] = []
    adjusted = None
    while adjusted is None:
        try:
            adjusted = _fit(settings, rows, terms, everything, levels, also, words)
        except UnidentifiableLevelError as error:
            if error.level == "horse" or error.level not in levels + also:
                raise ModelError(f"{settings.name}: {error}") from error
            levels = [level for level in levels if level != error.level]
            also = [name for name in also if name != error.level and name.split(":")[0] in levels]
            messages.append(f"The level '{error.level}' is left out of the models: {error}.")
        except ModelError as error:
            raise ModelError(f"{settings.name}: {error}") from error
    unadjusted = {name: _fit(settings, rows, terms, [name], levels, also, []) for name in terms.exposures}
    plain = _fit(settings, rows, terms, everything, levels, [], []) if also else None
    return Fits(adjusted, unadjusted, plain, messages)


def grouping_of(rows: pd.DataFrame, levels: Sequence[str], also: Sequence[str]) -> Grouping:
    """Number the levels of an analysis table; ``also`` entries are written ``level:visit``."""
    return Grouping.from_labels(
        {level: rows[COLUMNS[level]].astype(str).to_numpy() for level in levels},
        {name: rows[COLUMNS[name.split(":")[1]]].dt.strftime("%Y-%m-%d").to_numpy() for name in also},
    )


def refit_without(fit: Fit, dropped: NDArray[np.bool_]) -> Fit:
    """Fit the same model again without some of its rows."""
    kept = ~dropped
    grouping = Grouping.from_labels(
        {
            name: code[kept]
            for name, code in zip(fit.grouping.names, fit.grouping.codes, strict=True)
            if ":" not in name
        },
        {name: code[kept] for name, code in zip(fit.grouping.names, fit.grouping.codes, strict=True) if ":" in name},
    )
    design = replace(fit.design, matrix=fit.design.matrix[kept])
    return fit_mixed_model(fit.outcome[kept], design, grouping, fit.method, fit.df, (), fit.confidence)


def _fit(
    settings: OutcomeSettings, rows: pd.DataFrame, terms: Terms, chosen: Sequence[str], levels: Sequence[str],
    also: Sequence[str], means: Sequence[str],
) -> Fit:  # fmt: skip
    design = build_design(terms.variables.values(), chosen)
    grouping = grouping_of(rows, levels, also)
    outcome = rows[settings.name].to_numpy(float)
    return fit_mixed_model(outcome, design, grouping, means=means, confidence=settings.confidence)

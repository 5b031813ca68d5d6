"""How much one horse, or one yard, carries an effect: what the model gives without each in turn."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from hoofcohort.errors import ModelError
from hoofcohort.models.deletions import Deletions, delete_groups
from hoofcohort.study.effects import Effect, estimate_effects
from hoofcohort.study.fits import Models
from hoofcohort.study.levels import LABELS

LEVELS = ("horse", "yard")
SHOWN = 10


def influence(frame: pd.DataFrame, models: Models, effect: Effect) -> dict[str, Any]:
    """Leave out each horse, then each yard, in turn.

    Parameters
    ----------
    frame : DataFrame
        The analysis table.
    models : Models
    effect : Effect
        The effect that is looked at.

    Returns
    -------
    dict
        ``of`` (the effect's label), ``whole`` (its estimate from all rows), ``skipped_reason``, and per level in
        ``levels``: ``level``, ``n`` deletions, ``failed`` of them without an estimate, ``turned`` of them after which
        the interval says otherwise whether zero lies in it, ``skipped_reason``, and ``rows``: the ten that change the
        estimate most. A row has the ``label``, estimate and interval without it, ``change_in_se``, the change in
        standard errors of the estimate from all rows, and ``distance``, Cook's distance over all coefficients.
    """
    whole = estimate_effects(models.adjusted, [effect])[0]
    record: dict[str, Any] = {"of": effect.label, "whole": whole, "skipped_reason": "", "levels": []}
    if whole is None:
        return record | {"skipped_reason": "the effect could not be estimated"}
    return record | {"levels": [_level(frame, models, effect, whole, level) for level in LEVELS]}


def _level(frame: pd.DataFrame, models: Models, effect: Effect, whole: dict[str, float], level: str) -> dict[str, Any]:
    record: dict[str, Any] = {"level": level, "n": 0, "failed": 0, "turned": 0, "rows": [], "skipped_reason": ""}
    if level not in models.levels.nested:
        return record | {"skipped_reason": f"the {level} is no level of this model"}
    fit = models.adjusted
    try:
        deletions = delete_groups(fit, level)
    except ModelError as error:
        return record | {"skipped_reason": str(error)}
    code = fit.grouping.codes[fit.grouping.names.index(level)]
    names = frame[LABELS[level]].to_numpy()[np.unique(code, return_index=True)[1]]
    table = _table(deletions, effect.function(fit.design), whole)
    size = -np.nan_to_num(np.abs(table["change_in_se"]), nan=-1.0)
    order = [k for k in np.lexsort((names, size))[:SHOWN] if np.isfinite(table["change_in_se"][k])]
    apart = _excludes_zero(table["low_without"], table["high_without"])
    given = np.isfinite(table["change_in_se"])
    turned = given & (apart != _excludes_zero(np.array(whole["low"]), np.array(whole["high"])))
    return record | {
        "n": len(names), "failed": int((~given).sum()), "turned": int(turned.sum()),
        "rows": [{"label": str(names[k])} | {key: float(own[k]) for key, own in table.items()} for k in order],
    }  # fmt: skip


def _table(
    deletions: Deletions, function: NDArray[np.floating], whole: dict[str, float]
) -> dict[str, NDArray[np.floating]]:
    """Return what every deletion changes, shape (D,) each."""
    from scipy.stats import t as student

    estimate, error, degrees = (own[:, 0] for own in deletions.linear(function[None, :]))
    half = student.ppf(0.5 + deletions.fit.confidence / 2, degrees) * error
    return {
        "estimate_without": estimate,
        "low_without": estimate - half,
        "high_without": estimate + half,
        "change_in_se": (estimate - whole["estimate"]) / whole["std_error"],
        "distance": deletions.distances(),
    }


def _excludes_zero(low: NDArray[np.floating], high: NDArray[np.floating]) -> NDArray[np.bool_]:
    return (low > 0) | (high < 0)

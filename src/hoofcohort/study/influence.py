"""How much one horse, or one yard, carries an effect: refit without each in turn."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd

from hoofcohort.errors import ModelError
from hoofcohort.models import Design, fit_mixed_model
from hoofcohort.study.effects import Effect, estimate_effects
from hoofcohort.study.fits import Models
from hoofcohort.study.levels import Levels, group

MOST_REFITS = 300
"""Most refits of one outcome; 300 on 3,000 rows take about a quarter of a minute."""
SHOWN = 10


def influence(frame: pd.DataFrame, outcome: str, models: Models, effect: Effect) -> dict[str, Any]:
    """Refit the adjusted model without each horse in turn; without each yard when there are too many horses.

    Parameters
    ----------
    frame : DataFrame
        The analysis table.
    outcome : str
    models : Models
    effect : Effect
        The effect that is looked at.

    Returns
    -------
    dict
        ``level``, ``of`` (the effect's label), ``n`` refits, ``failed`` of them, ``skipped_reason``, and ``rows``:
        the ten that change the estimate most, with ``estimate_without`` and ``change_in_se``, the change in standard
        errors of the estimate from all rows.
    """
    record: dict[str, Any] = {"level": "horse", "rows": [], "of": effect.label, "n": 0, "failed": 0}
    whole = estimate_effects(models.adjusted, [effect])[0]
    if whole is None:
        return record | {"skipped_reason": "the effect could not be estimated"}
    horses, yards = (int(frame[column].nunique()) for column in ("horse_id", "yard_id"))
    level, said = "horse", ""
    if horses > MOST_REFITS:
        level = "yard"
        said = f"{horses} horses are more than the {MOST_REFITS} refits allowed; yards were left out instead"
    if level == "yard" and not 2 < yards <= MOST_REFITS:
        return record | {
            "level": "yard",
            "skipped_reason": f"{horses} horses and {yards} yards: neither can be left out",
        }
    labels = frame[f"{level}_id"]
    codes, names = pd.factorize(labels, sort=True)
    function = effect.function(models.adjusted.design)
    estimates = np.array([_without(frame, outcome, models, codes != code, function) for code in range(len(names))])
    change = (estimates - whole["estimate"]) / whole["std_error"]
    order = np.lexsort((np.arange(len(names)), -np.nan_to_num(np.abs(change), nan=-1.0)))[:SHOWN]
    rows = [
        {"label": str(names[k]), "estimate_without": float(estimates[k]), "change_in_se": float(change[k])}
        for k in order
        if np.isfinite(change[k])
    ]
    failed = int((~np.isfinite(change)).sum())
    return record | {"level": level, "rows": rows, "n": len(names), "failed": failed, "skipped_reason": said}


def _without(frame: pd.DataFrame, outcome: str, models: Models, keep: np.ndarray, function: np.ndarray) -> float:
    """Return the estimate from the rows kept; NaN when the model cannot be fitted to them or cannot give it."""
    design: Design = replace(models.adjusted.design, matrix=models.adjusted.design.matrix[keep])
    levels: Levels = models.levels
    try:
        fit = fit_mixed_model(frame[outcome].to_numpy()[keep], design, group(frame[keep], levels))
    except ModelError:
        return float("nan")
    return fit.linear(function[None, :])[0].estimate if fit.optimum.converged else float("nan")

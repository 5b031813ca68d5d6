"""Cluster-robust standard errors of the effects, beside those of the model."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from hoofcohort.errors import ModelError
from hoofcohort.models.robust import cluster_robust
from hoofcohort.study.effects import NUMBERS, Effect
from hoofcohort.study.fits import Models


def robust_record(models: Models, effects: Sequence[Effect]) -> dict[str, Any]:
    """Return every effect of the adjusted model with its cluster-robust standard error, df, interval and p.

    ``chance_low`` and ``chance_high`` are the limits between which the ratio of the robust standard error to the true
    one falls in 95 of 100 cases if the model is right: its square times the df is then about chi-square.

    Returns
    -------
    dict
        ``cluster`` (the outermost level), ``clusters``, ``skipped_reason`` and ``effects``, each with ``exposure``,
        ``label``, ``of_interest`` and ``robust``, None where the model cannot give the effect or the robust standard
        error is zero.
    """
    from scipy.stats import chi2

    fit = models.adjusted
    level = fit.grouping.names[0]
    record: dict[str, Any] = {"cluster": level, "clusters": len(fit.grouping.labels[0])}
    functions = np.array([effect.function(fit.design) for effect in effects]).reshape(-1, len(fit.design.names))
    possible = np.flatnonzero(np.isfinite(functions).all(axis=1))
    found: list[dict[str, float] | None] = [None] * len(effects)
    try:
        estimates = cluster_robust(fit).linear(functions[possible]) if len(possible) else []
    except ModelError as error:
        return record | {"skipped_reason": str(error), "effects": []}
    for place, estimate in zip(possible, estimates, strict=True):
        if np.isfinite([estimate.std_error, estimate.df]).all() and estimate.std_error > 0:
            low, high = np.sqrt(chi2.ppf([0.025, 0.975], estimate.df) / estimate.df)
            numbers = {key: getattr(estimate, key) for key in NUMBERS}
            found[place] = numbers | {"chance_low": float(low), "chance_high": float(high)}
    return record | {
        "skipped_reason": "",
        "effects": [
            {"exposure": effect.exposure, "label": effect.label, "of_interest": effect.of_interest, "robust": own}
            for effect, own in zip(effects, found, strict=True)
        ],
    }

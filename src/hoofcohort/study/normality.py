"""How far residuals and predicted effects are from a normal shape: described, not tested."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from hoofcohort.models import Fit, RandomEffects

FEWEST = 4
"""Fewest values for which excess kurtosis is defined."""


def shapes(fit: Fit, effects: Mapping[str, RandomEffects]) -> dict[str, dict[str, Any]]:
    """Return skewness and excess kurtosis (sample-adjusted, 0 for a normal shape) of each level, the residual first.

    Both are None where a level has fewer than four groups or does not vary (a variance at zero).
    """
    values = {"residual": fit.residuals} | {name: effect.values for name, effect in effects.items()}
    return {name: _shape(own) for name, own in values.items()}


def _shape(values: NDArray[np.floating]) -> dict[str, Any]:
    from scipy.stats import kurtosis, skew

    spread = float(np.ptp(values)) if len(values) else 0.0
    if len(values) < FEWEST or spread <= 1e-12 * max(1.0, float(np.abs(values).max())):
        return {"skew": None, "kurtosis": None, "n": len(values)}
    return {"skew": float(skew(values, bias=False)), "kurtosis": float(kurtosis(values, bias=False)), "n": len(values)}

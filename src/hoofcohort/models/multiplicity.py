"""Adjustment of p-values for several comparisons."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np


def holm(p_values: Sequence[float]) -> list[float]:
    """Adjust p-values by Holm's step-down method (Scand J Stat 1979;6:65-70); NaN stays NaN and does not count."""
    p = np.asarray(p_values, float)
    out = np.full(len(p), np.nan)
    order = [place for place in np.argsort(p, kind="stable") if np.isfinite(p[place])]
    running = 0.0
    for rank, place in enumerate(order):
        running = max(running, min(1.0, float(p[place]) * (len(order) - rank)))
        out[place] = running
    return [float(value) for value in out]

"""Diagnostics of an adjusted model: residuals against fitted values, normal quantile plots of every level."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd
import seaborn as sns
from matplotlib.axes import Axes

from hoofcohort.report.figures.canvas import FIRST, MUTED, SECOND, Figure, Panel, draw, rasterised
from hoofcohort.report.numbers import unit_words
from hoofcohort.report.text.words import level_name, upper_first

DOT: dict[str, Any] = {"s": 9, "color": FIRST, "alpha": 0.55, "linewidths": 0}
SIZE = (2.7, 2.4)
SMOOTHED_POINTS = 3000
"""Points that the smooth line through the residuals is drawn through at most: evenly spaced in fitted value."""


def diagnostics_figure(model: Mapping[str, Any], analysis: pd.DataFrame, effects: pd.DataFrame) -> Figure:
    """Draw residuals against fitted values, then one normal quantile plot per level, the residual first.

    Parameters
    ----------
    model : mapping
        The outcome's results.
    analysis : DataFrame
        ``fitted`` (with random effects) and ``residual``, in the outcome's unit.
    effects : DataFrame
        ``level`` and ``value``, the predicted effect of each group.
    """
    name, unit = model["outcome"]["name"], unit_words(model["outcome"]["unit"])
    residual = analysis["residual"].to_numpy(float)
    panels = [_residuals(f"residuals-{name}", analysis["fitted"].to_numpy(float), residual, unit)]
    panels.append(_quantiles(f"quantiles-{name}-residual", residual, "Residuals", unit))
    for place, row in enumerate(row for row in model["adjusted"]["variances"] if row["level"] != "residual"):
        own = effects.loc[effects["level"] == row["level"], "value"].to_numpy(float)
        title = f"Predicted effects of {level_name(row['level'])}"
        panels.append(_quantiles(f"quantiles-{name}-{place}", own, title, unit))
    caption = (
        f"{upper_first(model['outcome']['title'])}: residuals against fitted values with a smooth line; then residuals "
        "and predicted effects in order of size against those of a normal shape (line through the quartiles)."
    )
    return Figure(f"diagnostics-{name}", caption, tuple(panels))


def _residuals(name: str, fitted: np.ndarray, residual: np.ndarray, unit: str) -> Panel:
    def plot(axes: Axes) -> None:
        axes.axhline(0, color=MUTED, linewidth=0.8)
        axes.scatter(fitted, residual, rasterized=rasterised(len(fitted)), **DOT)
        if len(fitted) >= 20 and np.ptp(fitted) > 0:
            step = math.ceil(len(fitted) / SMOOTHED_POINTS)
            order = np.argsort(fitted, kind="stable")[::step]
            sns.regplot(
                x=fitted[order], y=residual[order], lowess=True, scatter=False, ci=None, seed=1, ax=axes,
                line_kws={"color": SECOND, "linewidth": 1.4},
            )  # fmt: skip
        axes.set(xlabel=f"Fitted value ({unit})", ylabel=f"Residual ({unit})")
        axes.set_title("Residuals and fitted values")

    return draw(name, f"Scatter of {len(fitted)} residuals against fitted values.", SIZE, plot)


def _quantiles(name: str, values: np.ndarray, title: str, unit: str) -> Panel:
    known = values[np.isfinite(values)]
    flat = len(known) < 3 or float(np.ptp(known)) <= 1e-12 * max(1.0, float(np.abs(known).max()))
    why = "fewer than 3 groups" if len(known) < 3 else "variance at zero"

    def plot(axes: Axes) -> None:
        axes.set(xlabel="Normal quantile", ylabel=unit)
        axes.set_title(title, fontsize=8.5)
        if flat:
            axes.text(0.5, 0.5, why, ha="center", va="center", transform=axes.transAxes, color=MUTED)
            axes.set(xticks=[], yticks=[])
        else:
            _against_normal(axes, known)

    said = f"not drawn: {why}" if flat else f"{len(known)} values in order of size against normal quantiles"
    return draw(name, f"{title}: {said}.", SIZE, plot)


def _against_normal(axes: Axes, values: np.ndarray) -> None:
    from scipy.stats import norm

    expected = norm.ppf((np.arange(1, len(values) + 1) - 0.5) / len(values))
    lower, upper = np.quantile(values, [0.25, 0.75])
    slope = float(upper - lower) / float(2 * norm.ppf(0.75))
    axes.axline((0.0, float(lower + upper) / 2), slope=slope, color=SECOND, linewidth=1.2)
    axes.scatter(expected, np.sort(values), rasterized=rasterised(len(values)), **DOT)

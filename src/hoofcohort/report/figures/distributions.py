"""Distributions of measurements and indices."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

import numpy as np
import pandas as pd
import seaborn as sns
from matplotlib.axes import Axes

from hoofcohort.planning.cutoffs import Cutoff
from hoofcohort.report.figures.canvas import FIRST, MUTED, SECOND, Figure, Panel, draw
from hoofcohort.report.numbers import unit_words
from hoofcohort.report.text.words import measure, upper_first

MOST_BINS = 24
PARTS = (("fore feet", ("LF", "RF"), FIRST, "-"), ("hind feet", ("LH", "RH"), SECOND, "--"))


def distribution_figure(readings: pd.DataFrame, outcomes: Sequence[str], cutoffs: Sequence[Cutoff]) -> Figure:
    """Draw each outcome's distribution, fore and hind feet apart, with the cut-offs that apply to it."""
    panels = tuple(
        _outcome(readings, name, _limits(cutoffs, name)) for name in outcomes if readings[name].notna().any()
    )
    caption = "Distributions of the outcomes among the accepted readings, fore and hind feet apart. Dotted: a cut-off."
    return Figure("outcome-distributions", caption, panels)


def _limits(cutoffs: Sequence[Cutoff], name: str) -> list[float]:
    found = {cutoff.value for cutoff in cutoffs if cutoff.index == name}
    return sorted(found | {-cutoff.value for cutoff in cutoffs if cutoff.index == name and cutoff.absolute})


def _outcome(readings: pd.DataFrame, name: str, limits: Sequence[float]) -> Panel:
    values, (title, unit) = readings[name].astype("float64"), measure(name)
    bins = bin_edges(values.dropna())

    def plot(axes: Axes) -> None:
        for label, feet, colour, line in PARTS:
            own = values[readings["foot"].isin(feet) & values.notna()].to_numpy()
            sns.histplot(x=own, bins=bins.tolist(), element="step", color=colour, alpha=0.18, linewidth=0, ax=axes)
            axes.stairs(*np.histogram(own, bins), color=colour, linestyle=line, linewidth=1.3, label=label)
        for limit in limits:
            axes.axvline(limit, color=MUTED, linestyle=":", linewidth=1.2)
        axes.set(ylabel="Readings", xlabel=unit_words(unit))
        axes.set_title("\n".join(textwrap.wrap(upper_first(title), 36)))
        axes.legend(loc="upper left", bbox_to_anchor=(0, -0.22), ncols=2, borderaxespad=0)

    return draw(f"distribution-{name}", f"Histogram of {title}. {_spread(values)}", (3.3, 2.7), plot)


def all_distributions(readings: pd.DataFrame, names: list[str]) -> Figure:
    """Draw a small histogram of every measurement, score and index."""
    caption = "Every measurement, score and index of the accepted readings: number of readings by value."
    return Figure("all-distributions", caption, tuple(_small(readings, name) for name in names))


def _small(readings: pd.DataFrame, name: str) -> Panel:
    values, (title, unit) = readings[name].astype("float64").dropna(), measure(name)

    def plot(axes: Axes) -> None:
        axes.stairs(*np.histogram(values, bin_edges(values)), fill=True, color=FIRST, alpha=0.55)
        lines = textwrap.wrap(upper_first(title), 30)
        axes.set_title("\n".join(lines), fontsize=8, fontweight="normal")
        axes.set_xlabel(unit_words(unit), fontsize=7.5, labelpad=1)
        axes.set_ylabel("Readings", fontsize=7.5)
        axes.tick_params(labelsize=7, length=2)
        axes.locator_params(nbins=4)

    return draw(f"small-{name}", f"Histogram of {title}. {_spread(values)}", (2.2, 1.75), plot)


def _spread(values: pd.Series) -> str:
    known = values.dropna()
    middle = known.quantile([0.05, 0.5, 0.95]).map("{:.4g}".format)
    return f"{len(known)} readings; median {middle[0.5]}, 90% of them from {middle[0.05]} to {middle[0.95]}."


def bin_edges(values: pd.Series) -> np.ndarray:
    """Return bin edges: one bin per whole number where there are few, else 4 to 24 by the Freedman-Diaconis rule."""
    low, high = float(values.min()), float(values.max())
    if high == low:
        return np.array([low - 0.5, low + 0.5])
    if high - low <= MOST_BINS and bool((values == values.round()).all()):
        return np.arange(low - 0.5, high + 1)
    width = 2 * float(np.subtract(*np.quantile(values, [0.75, 0.25]))) / len(values) ** (1 / 3)
    rule = (high - low) / width if width > 0 else MOST_BINS
    return np.linspace(low, high, int(np.clip(np.ceil(rule), 4, MOST_BINS)) + 1)

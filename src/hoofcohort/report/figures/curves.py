"""Curves of numbers that need not be straight lines, with pointwise intervals and where the readings lie."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
from matplotlib.axes import Axes

from hoofcohort.report.figures.canvas import FIRST, MUTED, SECOND, WIDE, Figure, Panel, draw
from hoofcohort.report.numbers import has_interval, percent_level, unit_words
from hoofcohort.report.text.shapes import curve_sentence, variable_unit
from hoofcohort.report.text.words import upper_first

SIZE, ALONE = (2.6, 2.5), (WIDE, 3.1)
"""Inches: one panel among others, and the only one."""
FLOOR = 0.16
"""Share of the panel's height that the histogram takes up."""


def curves_figure(model: Mapping[str, Any]) -> Figure | None:
    """Draw the curve of every variable with a shape; None when there is none that can be drawn."""
    shapes = [shape for shape in model.get("shapes") or [] if len(_drawn(shape)) > 1]
    panels = tuple(_panel(model, shape, SIZE if len(shapes) > 1 else ALONE) for shape in shapes)
    if not panels:
        return None
    outcome, level = model["outcome"], percent_level(model["settings"]["confidence"])
    caption = (
        f"{upper_first(outcome['title'])}: adjusted difference from the median of each variable, with its pointwise "
        f"{level} interval (shaded), between the 1st and the 99th percentile of the readings. Triangles: the median, "
        "where the difference is nothing by definition. At the foot: where the readings lie."
    )
    return Figure(f"curves-{outcome['name']}", caption, panels)


def _panel(model: Mapping[str, Any], shape: Mapping[str, Any], size: tuple[float, float]) -> Panel:
    unit, outcome = variable_unit(shape["variable"]), model["outcome"]
    value, middle, low, high = (
        np.array([row[key] for row in _drawn(shape)], float) for key in ("value", "estimate", "low", "high")
    )

    def plot(axes: Axes) -> None:
        axes.fill_between(value, low, high, color=FIRST, alpha=0.18, linewidth=0)
        axes.plot(value, middle, color=FIRST, linewidth=1.6)
        axes.axhline(0, color=MUTED, linewidth=0.9, zorder=0)
        axes.plot(shape["reference"], 0, marker="^", color=SECOND, markersize=5.5)
        axes.set_xlim(value[0], value[-1])
        _histogram(axes, shape["histogram"])
        axes.set_xlabel(f"{upper_first(shape['title'])}{f' ({unit})' if unit else ''}")
        axes.set_ylabel(f"Difference ({unit_words(outcome['unit'])})")
        axes.grid(axis="y")
        axes.set_axisbelow(True)

    label = f"Curve of {outcome['title']} over {shape['title']}. {curve_sentence(model, shape)}"
    return draw(f"curve-{outcome['name']}-{shape['variable']}", label, size, plot)


def _drawn(shape: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    """Return the points of a curve whose interval says something."""
    return [row for row in shape["grid"] if has_interval(row)]


def _histogram(axes: Axes, histogram: Mapping[str, Any]) -> None:
    """Put the readings' histogram at the foot, below the curve's interval."""
    bottom, top = axes.get_ylim()
    axes.set_ylim(bottom - FLOOR / (1 - FLOOR) * (top - bottom), top)
    counts = np.asarray(histogram["counts"], float)
    heights = 0.9 * FLOOR * counts / max(counts.max(), 1.0)
    axes.stairs(
        heights, histogram["edges"], fill=True, color=MUTED, alpha=0.45, transform=axes.get_xaxis_transform()
    )  # fmt: skip

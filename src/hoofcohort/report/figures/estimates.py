"""Dots and intervals: effects unadjusted beside adjusted, and marginal means."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from itertools import accumulate
from typing import Any

from matplotlib.axes import Axes
from matplotlib.lines import Line2D

from hoofcohort.report.figures.canvas import FIRST, GRID, INK, MUTED, PAPER, SECOND, WIDE, Figure, draw
from hoofcohort.report.numbers import estimate, has_interval, interval, percent_level, unit_words
from hoofcohort.report.text.words import effect_label, exposure_title, upper_first

LABEL_CHARACTERS = 62
EXTRA_LINE = 0.28
"""Height of one more line of a label, in rows."""

GROUND = {"facecolor": PAPER, "edgecolor": "none", "pad": 0.8}
"""Behind a label, so that no line runs through it."""


def effects_figure(model: Mapping[str, Any]) -> Figure | None:
    """Draw the effects of one outcome, unadjusted beside adjusted; None when there are none."""
    rows = [row for row in model["effects"] if has_interval(row["adjusted"]) or has_interval(row["unadjusted"])]
    if not rows:
        return None
    outcome, level = model["outcome"], percent_level(model["settings"]["confidence"])
    said = "; ".join(
        f"{row['label']}: adjusted {estimate(row['adjusted'], outcome['unit'])}, "
        f"{interval(row['adjusted'], outcome['unit'])}"
        for row in rows
        if has_interval(row["adjusted"])
    )
    places = _places(rows)
    label = f"Estimates with {level} intervals for {outcome['title']}. {said}."

    def plot(axes: Axes) -> None:
        for y, row in zip(places, rows, strict=True):
            _pair(axes, row, y)
        axes.axvline(0, color=MUTED, linewidth=0.9, zorder=0)
        axes.set_ylim(places[-1] - 0.55, 0.72 + places[0] + EXTRA_LINE * (len(_lines(rows[0])) - 1))
        axes.set(yticks=[], xlabel=f"Difference or slope ({unit_words(outcome['unit'])})")
        axes.spines["left"].set_visible(False)
        axes.grid(axis="x")
        axes.set_axisbelow(True)
        axes.legend(
            handles=[
                Line2D([], [], marker="o", color=FIRST, label="adjusted", markersize=5.5),
                Line2D([], [], marker="s", color=SECOND, markerfacecolor="white", label="unadjusted", markersize=5),
            ],
            loc="lower right",
            bbox_to_anchor=(1, 1),
            ncols=2,
            borderaxespad=0.1,
        )

    panel = draw(f"effects-{outcome['name']}", label, (WIDE, 0.95 + 0.55 * (1 - places[-1])), plot)
    caption = (
        f"{upper_first(outcome['title'])}: estimates with {level} intervals, unadjusted beside adjusted. The "
        "comparison of interest is in bold; the vertical line marks no difference."
    )
    return Figure(f"effects-{outcome['name']}", caption, (panel,))


def _lines(row: Mapping[str, Any]) -> list[str]:
    return textwrap.wrap(effect_label(row), LABEL_CHARACTERS)


def _places(rows: Sequence[Mapping[str, Any]]) -> list[float]:
    """Return how high each row stands, the first at 0: one step down, more where a label needs more lines."""
    steps = [1 + EXTRA_LINE * (len(_lines(row)) - 1) for row in rows[1:]]
    return [0.0, *(-float(height) for height in accumulate(steps))]


def _pair(axes: Axes, row: Mapping[str, Any], y: float) -> None:
    weight = "bold" if row["of_interest"] else "normal"
    axes.text(
        0, y + 0.27, "\n".join(_lines(row)), fontsize=8.5, fontweight=weight,
        color=INK, va="bottom", transform=axes.get_yaxis_transform(), bbox=GROUND,
    )  # fmt: skip
    for kind, colour, face, marker, shift in (
        ("adjusted", FIRST, FIRST, "o", 0.12), ("unadjusted", SECOND, "white", "s", -0.14),
    ):  # fmt: skip
        found = row[kind]
        if has_interval(found):
            axes.plot([found["low"], found["high"]], [y + shift] * 2, color=colour, linewidth=1.5)
            axes.plot(found["estimate"], y + shift, marker=marker, markersize=5.5, color=colour, markerfacecolor=face)


def means_figure(model: Mapping[str, Any]) -> Figure | None:
    """Draw the marginal means of one outcome; None when there are none."""
    rows = model["adjusted"]["means"]
    rows = [row for row in rows if has_interval(row)]
    if not rows:
        return None
    outcome, level = model["outcome"], percent_level(model["settings"]["confidence"])
    said = "; ".join(
        f"{exposure_title(row['factor'])} {row['value']}: {estimate(row, outcome['unit'])}, "
        f"{interval(row, outcome['unit'])}"
        for row in rows
    )
    factors = list(dict.fromkeys(row["factor"] for row in rows))
    places = [-(index + 0.6 * factors.index(row["factor"])) for index, row in enumerate(rows)]

    def plot(axes: Axes) -> None:
        for y, row in zip(places, rows, strict=True):
            axes.plot([row["low"], row["high"]], [y, y], color=FIRST, linewidth=1.5)
            axes.plot(row["estimate"], y, marker="o", markersize=5.5, color=FIRST)
        names = [f"{exposure_title(row['factor'])}: {row['value']}" for row in rows]
        axes.set_yticks(places, [textwrap.shorten(upper_first(name), 34, placeholder=" …") for name in names])
        axes.tick_params(axis="y", length=0)
        axes.set_ylim(min(places) - 0.6, 0.6)
        axes.set_xlabel(f"{upper_first(outcome['title'])}\n({unit_words(outcome['unit'])})")
        axes.spines["left"].set_visible(False)
        axes.grid(axis="x", color=GRID)
        axes.set_axisbelow(True)

    height = 0.75 + 0.26 * (1 - min(places))
    label = f"Adjusted marginal means of {outcome['title']} with {level} intervals. {said}."
    caption = f"{upper_first(outcome['title'])}: adjusted marginal means with {level} intervals."
    panel = draw(f"means-{outcome['name']}", label, (WIDE, height), plot)
    return Figure(f"means-{outcome['name']}", caption, (panel,))

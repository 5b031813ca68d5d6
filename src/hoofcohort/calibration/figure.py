"""The calibration's figure: coverage by number of horses, a panel per shape, errors and level."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pandas as pd

from hoofcohort.calibration.cells import ERRORS, HORSES, LEVELS, METHODS, NOMINAL, SHAPES, SPREADS
from hoofcohort.files import write_atomic

COLOURS = dict(zip(METHODS, ("#1b5e86", "#b5651d", "#7a7a7a"), strict=True))
MARKS = dict(zip(METHODS, ("o", "s", "^"), strict=True))


def draw_figure(table: pd.DataFrame, out: Path) -> None:
    """Write the figure as SVG; the same table gives the same bytes."""
    import matplotlib as mpl

    mpl.use("svg")
    from matplotlib import pyplot as plt

    style: Any = {"svg.hashsalt": "calibration", "svg.fonttype": "none", "font.size": 8, "font.family": "sans-serif"}
    with mpl.rc_context(style):
        columns = [(shape, errors) for errors in ERRORS for shape in SHAPES]
        figure, axes = plt.subplots(len(LEVELS), len(columns), figsize=(9.5, 6.6), sharex=True, sharey=True)
        for row, level in enumerate(LEVELS):
            for column, (shape, errors) in enumerate(columns):
                own = table[(table.level == level) & (table["shape"] == shape) & (table.errors == errors)]
                _panel(axes[row, column], own)
                if row == 0:
                    axes[row, column].set_title(f"{shape}, {errors}")
            axes[row, 0].set_ylabel(f"exposure of the {level}\ncoverage, %")
        for column in range(len(columns)):
            axes[-1, column].set_xlabel("horses")
        shown = 100 * table[table.level.isin(LEVELS)].coverage
        axes[0, 0].set_ylim(min(93.0, shown.min() - 0.7), max(97.0, shown.max() + 0.7))
        handles, labels = axes[0, 0].get_legend_handles_labels()
        figure.legend(handles, labels, loc="lower center", ncols=3, frameon=False)
        figure.tight_layout(rect=(0, 0.08, 1, 1))
        nothing = dict.fromkeys(("Date", "Creator", "Format", "Type"))
        write_atomic(out, lambda path: figure.savefig(path, format="svg", metadata=nothing))
        plt.close(figure)


def _panel(axes: Any, own: pd.DataFrame) -> None:
    """Draw one panel: the band from 94% to 96%, and a line a method and spread with 1.96 Monte Carlo errors."""
    axes.axhspan(94, 96, color="#e4ecf1", zorder=0, linewidth=0)
    axes.axhline(100 * NOMINAL, color="#9aa7b0", linewidth=0.7, zorder=1)
    places = {horses: place for place, horses in enumerate(HORSES)}
    for which, method in enumerate(METHODS):
        for spread, style in zip(SPREADS, ("-", ":"), strict=True):
            rows = own[(own.method == method) & (own.spread == spread)]
            at = [places[horses] + 0.12 * (which - 1) for horses in rows.horses]
            axes.errorbar(
                at, 100 * rows.coverage, yerr=196 * rows.mc_se, linestyle=style, linewidth=0.9,
                marker=MARKS[method], markersize=3, color=COLOURS[method], label=f"{method}, {spread} differences",
            )  # fmt: skip
    axes.set_xticks(range(len(HORSES)), [str(horses) for horses in HORSES])

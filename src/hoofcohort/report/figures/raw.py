"""The outcome by exposure as it was measured, one point per horse, beside what the adjusted model says."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd
from matplotlib.axes import Axes

from hoofcohort.privacy.small_numbers import WITHHELD, withheld_note
from hoofcohort.report.figures.canvas import FIRST, MUTED, SECOND, Figure, Panel, draw, rasterised
from hoofcohort.report.numbers import estimate, has_interval, of_things, percent_level, unit_words
from hoofcohort.report.text.words import exposure_title, exposure_unit, upper_first

SIZE = (2.6, 2.5)
SPREAD = 0.3
"""How far to either side of its word a horse's point may stand."""


def dots_shown(models: Iterable[Mapping[str, Any]]) -> bool:
    """Tell whether a report may draw single horses: only where no outcome's model withholds a word of an exposure.

    A horse's dot has the same height in every panel, and much the same place in every outcome's: one that is left out
    here is found by looking for what is too many there.
    """
    return not any(_hidden(row) for model in models for row in model["variables"] if row["role"] == "exposure")


def _hidden(row: Mapping[str, Any]) -> Sequence[str]:
    """Return the words of a variable that are withheld, as the stage before decided."""
    return row.get("withheld") or ()


def raw_figure(
    model: Mapping[str, Any], analysis: pd.DataFrame, fewest_owners: int = 1, *, dots: bool = True
) -> Figure | None:
    """Draw each horse's mean of the outcome by exposure; None when no exposure is in the model.

    Parameters
    ----------
    model : mapping
        The content of ``models/<outcome>.json``.
    analysis : DataFrame
        The analysed readings.
    fewest_owners : int
        That a published number must rest on, for the note.
    dots : bool
        As from ``dots_shown``; without, the figure has the model only, and counts of horses as far as they are shown.
    """
    exposures = [row for row in model["variables"] if row["role"] == "exposure" and _columns(row, analysis)]
    panels = tuple((_words if row["values"] else _numbers)(model, analysis, row, dots=dots) for row in exposures)
    if not panels:
        return None
    level = percent_level(model["settings"]["confidence"])
    seen = (
        "Dots: the mean of each horse's readings, as measured; for words, under the word that the horse had most. "
        if dots
        else "Single horses are not drawn. "
    )
    apart = " Dots and model differ where adjustments differ between horses." if dots else ""
    caption = (
        f"{upper_first(model['outcome']['title'])} by exposure. {seen}Squares and lines: the adjusted model, marginal "
        f"means with {level} intervals, or its line or curve through the mean of the readings.{apart}"
    )
    if not dots:
        caption += f" {withheld_note(fewest_owners)}"
    return Figure(f"raw-{model['outcome']['name']}", caption, panels)


def _columns(row: Mapping[str, Any], analysis: pd.DataFrame) -> list[str]:
    """Return the analysis table's columns of an exposure: one per word for shares, else one."""
    name = row["name"]
    shares = [f"{name}__{word}" for word in row["values"]]
    if row["values"] and set(shares) <= set(analysis.columns):
        return shares
    return [column for column in (f"{name}__mean", name) if column in analysis.columns][:1]


def _panel(model: Mapping[str, Any], name: str, label: str, plot: Any) -> Panel:
    outcome = model["outcome"]

    def framed(axes: Axes) -> None:
        plot(axes)
        axes.set_ylabel("\n".join(textwrap.wrap(f"{upper_first(outcome['title'])}, {unit_words(outcome['unit'])}", 30)))
        axes.grid(axis="y")
        axes.set_axisbelow(True)

    return draw(f"raw-{outcome['name']}-{name}", label, SIZE, framed)


def _words(model: Mapping[str, Any], analysis: pd.DataFrame, row: Mapping[str, Any], *, dots: bool) -> Panel:
    outcome, words, columns = model["outcome"], row["values"], _columns(row, analysis)
    if len(columns) == len(words):
        shares = analysis[columns].to_numpy(float)
    else:
        shares = (analysis[columns[0]].to_numpy()[:, None] == np.array(words)).astype(float)
    horse = analysis["horse_id"].to_numpy()
    group = pd.DataFrame(shares).groupby(horse).mean().to_numpy().argmax(axis=1)
    means = analysis[outcome["name"]].astype(float).groupby(horse).mean().to_numpy()
    withheld = [word in _hidden(row) for word in words]
    adjusted = {own["value"]: own for own in model["adjusted"]["means"] if own["factor"] == row["name"]}

    def plot(axes: Axes) -> None:
        for place, word in enumerate(words):
            own = np.sort(means[group == place] if dots else means[:0])
            _dots(axes, place + _offsets(len(own)), own)
            if has_interval(adjusted.get(word)):
                found = adjusted[word]
                axes.plot([place, place], [found["low"], found["high"]], color=SECOND, linewidth=1.8)
                axes.plot(place, found["estimate"], marker="s", markersize=6, color=SECOND)
        shown = [textwrap.shorten(word, 16, placeholder=" …") for word in words]
        axes.set_xticks(
            range(len(words)), [f"{own}\n({WITHHELD})" if withheld[k] else own for k, own in enumerate(shown)]
        )
        axes.set_xlim(-0.6, len(words) - 0.4)
        axes.set_xlabel(upper_first(exposure_title(row["name"])))

    counts = ", ".join(
        f"{word} {WITHHELD if withheld[place] else int((group == place).sum())}" for place, word in enumerate(words)
    )
    said = "; ".join(f"{word} {estimate(own, outcome['unit'])}" for word, own in adjusted.items() if has_interval(own))
    what = f"Mean of {outcome['title']} per horse" if dots else upper_first(outcome["title"])
    label = f"{what} by {exposure_title(row['name'])} (horses: {counts}). Adjusted marginal means: {said or 'none'}."
    return _panel(model, row["name"], label, plot)


def _numbers(model: Mapping[str, Any], analysis: pd.DataFrame, row: Mapping[str, Any], *, dots: bool) -> Panel:
    outcome, title = model["outcome"], exposure_title(row["name"])
    per_horse = analysis[[*_columns(row, analysis), outcome["name"]]].astype(float).groupby(analysis["horse_id"]).mean()
    x, y = per_horse.to_numpy().T
    line = _line(model, analysis, row)

    def plot(axes: Axes) -> None:
        _dots(axes, *((x, y) if dots else (x[:0], y[:0])))
        if line is not None:
            axes.plot(*line, color=SECOND, linewidth=1.8)
        axes.set_xlabel(f"{upper_first(title)}, {exposure_unit(row['name'])}")

    said = "with the adjusted model's line" if line is not None else "without a line"
    what = f"Mean of {outcome['title']} per horse" if dots else upper_first(outcome["title"])
    label = f"{what} by {title}, {of_things(len(x), 'horse')}, {said}."
    return _panel(model, row["name"], label, plot)


def _line(
    model: Mapping[str, Any], analysis: pd.DataFrame, row: Mapping[str, Any]
) -> tuple[np.ndarray, np.ndarray] | None:
    """Return the adjusted model's line or curve, shifted so that it runs through the mean of the fitted fixed part."""
    values = analysis[_columns(row, analysis)[0]].to_numpy(float)
    level = float(analysis["fixed_fitted"].mean())
    shape = next((own for own in model.get("shapes") or [] if own["variable"] == row["name"]), None)
    if shape is not None:
        at, difference = np.array([(own["value"], own["estimate"]) for own in shape["grid"]], float).T
        return at, difference - np.interp(values, at, difference).mean() + level
    slopes = [own for own in model["effects"] if own["exposure"] == row["name"] and not own.get("at")]
    found = slopes[0]["adjusted"] if slopes else None
    if found is None:
        return None
    ends = slopes[0].get("values")
    slope = found["estimate"] / ((ends[0] - ends[1]) if ends else (row["per"] or 1.0))
    at = np.array([values.min(), values.max()])
    return at, level + slope * (at - values.mean())


def _dots(axes: Axes, x: np.ndarray, y: np.ndarray) -> None:
    axes.plot(
        x, y, linestyle="none", marker="o", markersize=3.6, color=FIRST, alpha=0.55, markeredgewidth=0,
        rasterized=rasterised(len(y)),
    )  # fmt: skip
    axes.margins(0.06)
    axes.tick_params(color=MUTED)


def _offsets(count: int) -> np.ndarray:
    """Return where points stand beside their word: spread evenly by the golden ratio, the same every time."""
    return SPREAD * (2 * ((np.arange(count) * 0.6180339887) % 1) - 1)

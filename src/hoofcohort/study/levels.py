"""Group the rows of an analysis table by the plan's levels, and leave out, aloud, a level that they cannot carry."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import pandas as pd

from hoofcohort.errors import ModelError, UnidentifiableLevelError
from hoofcohort.models import Design, Fit, Grouping, fit_mixed_model

LABELS = {"yard": "yard_id", "horse": "horse_id", "foot": "foot", "visit": "visit_date"}
"""The column that tells the groups of a level apart within the group that holds them."""


@dataclass(frozen=True)
class Levels:
    """The groupings of a model.

    Attributes
    ----------
    nested : tuple of str
        Outermost first.
    also : tuple of str
        Groupings inside a level that cross the inner ones, as ``level:visit``.
    messages : tuple of str
        What was left out and why.
    crossed : tuple of str
        Factors that cut across the levels: columns of the analysis table.
    """

    nested: tuple[str, ...]
    also: tuple[str, ...]
    messages: tuple[str, ...] = ()
    crossed: tuple[str, ...] = ()

    @property
    def names(self) -> tuple[str, ...]:
        """All groupings, in the engine's order."""
        return (*self.nested, *self.also, *self.crossed)

    def without(self, name: str, reason: str) -> Levels:
        """Return the groupings without one, and without those that lie across it."""
        hosted = [other for other in self.also if other.split(":")[0] == name]
        kind = "crossed factor" if name in self.crossed else "level"
        said = [f"The {kind} '{name}' was left out of the models: {reason}."]
        said += [f"The level '{other}' was left out with '{name}', inside which it lies." for other in hosted]
        return Levels(
            tuple(level for level in self.nested if level != name),
            tuple(other for other in self.also if other != name and other not in hosted),
            (*self.messages, *said),
            tuple(other for other in self.crossed if other != name),
        )


def group(frame: pd.DataFrame, levels: Levels) -> Grouping:
    """Return the engine's grouping of the rows of an analysis table."""
    if "horse" not in levels.nested:
        frame = frame.assign(foot=frame["horse_id"] + ":" + frame["foot"])
    return Grouping.from_labels(
        {name: frame[LABELS[name]].to_numpy() for name in levels.nested},
        {name: frame[LABELS[name.split(":")[1]]].to_numpy() for name in levels.also},
        {name: frame[name].to_numpy() for name in levels.crossed},
    )


def fit_with_levels(
    frame: pd.DataFrame, outcome: str, design: Design, levels: Levels, means: Sequence[str], confidence: float
) -> tuple[Fit, Levels]:
    """Fit with all levels that the rows can tell apart.

    Returns
    -------
    Fit
    Levels
        Those in the model; a message says for each that is not what made it impossible to estimate.

    Raises
    ------
    ModelError
        When the model cannot be fitted for another reason, or no level is left.
    """
    levels = _one_horse_per_yard(frame, levels)
    while True:
        try:
            fit = fit_mixed_model(
                frame[outcome].to_numpy(), design, group(frame, levels), means=means, confidence=confidence
            )
        except UnidentifiableLevelError as error:
            if error.level == "horse" and frame["horse_id"].duplicated().any():
                raise ModelError(
                    f"{error}. Without that level the readings of one horse would count as if they were of several; "
                    "there are too few horses for this model"
                ) from error
            levels = levels.without(error.level, str(error).split("; leave")[0])
        else:
            return fit, levels


def _one_horse_per_yard(frame: pd.DataFrame, levels: Levels) -> Levels:
    """Give up the yard, and not the horse, where every yard has one horse only."""
    pairs = len(frame[["yard_id", "horse_id"]].drop_duplicates())
    if {"yard", "horse"} <= set(levels.nested) and pairs == frame["yard_id"].nunique():
        return levels.without("yard", "every yard has one horse only, so the two cannot be told apart")
    return levels


def unnested(levels: Levels) -> Levels:
    """Return the levels without the groupings that cross inside one of them."""
    return replace(levels, also=())

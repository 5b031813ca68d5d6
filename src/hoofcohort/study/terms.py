"""The variables of an outcome's models, from the analysis table, and those that these rows cannot carry."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from hoofcohort.errors import ModelError
from hoofcohort.models import Covariate, Factor, Shares
from hoofcohort.plan import Exposure, OutcomeSettings, Shape
from hoofcohort.study.shape import beyond, shaped
from hoofcohort.study.table import AnalysisTable, exposure_columns
from hoofcohort.tables import TABLES
from hoofcohort.tables.variables import VARIABLES, title_of

ModelVariable = Covariate | Factor | Shares


@dataclass(frozen=True)
class Terms:
    """What the models of an outcome are made of.

    Attributes
    ----------
    variables : dict of str to Covariate, Factor or Shares
        Exposures first, then adjustments, in the plan's order.
    exposures, adjustments, interactions : tuple of str
        Names of those in the models; an interaction is written ``a:b``.
    messages : tuple of str
        What was left out and why, in sentences.
    """

    variables: dict[str, ModelVariable]
    exposures: tuple[str, ...]
    adjustments: tuple[str, ...]
    interactions: tuple[str, ...]
    messages: tuple[str, ...]

    @property
    def adjusted(self) -> list[str]:
        """Terms of the adjusted model."""
        return [*self.exposures, *self.adjustments, *self.interactions]


def build_terms(settings: OutcomeSettings, table: AnalysisTable) -> Terms:
    """Turn the analysis table's columns into the models' variables.

    A variable that does not vary among the rows used, a word that does not occur there, and an interaction with such a
    variable are left out, each with a sentence.

    Raises
    ------
    ModelError
        When no exposure varies.
    """
    messages: list[str] = []
    found: dict[str, ModelVariable | None] = {}
    for name, exposure in settings.exposures.items():
        found[name] = _exposure(name, exposure, settings.shapes.get(name), table.frame, messages)
    for name in settings.adjustments:
        found[name] = _adjustment(name, settings, table, messages)
    variables = {name: variable for name, variable in found.items() if variable is not None}
    messages += [
        f"The {title_of(name)} is the same in all rows used; it was left out."
        for name, variable in found.items()
        if variable is None
    ]
    exposures = tuple(name for name in settings.exposures if name in variables)
    if not exposures:
        raise ModelError(f"no exposure varies among the {len(table.frame)} readings that could be used")
    interactions = []
    for pair in settings.interactions:
        if all(name in variables for name in pair):
            interactions.append(":".join(pair))
        else:
            messages.append(f"The interaction of {' and '.join(map(title_of, pair))} was left out with its variable.")
    adjustments = tuple(name for name in settings.adjustments if name in variables)
    return Terms(variables, exposures, adjustments, tuple(interactions), tuple(messages))


def _exposure(
    name: str, exposure: Exposure, shape: Shape | None, frame: pd.DataFrame, messages: list[str]
) -> ModelVariable | None:
    columns = exposure_columns(name, exposure)
    words = TABLES["management"].by_name[name].words
    if not words:
        variable = _covariate(name, frame[columns[0]], shape, messages)
        if variable is not None and shape is not None:
            messages += beyond(TABLES["management"].by_name[name], variable, shape)
        return variable
    if exposure.form == "as_of":
        present = set(frame[name].unique())
    else:
        present = {word for word, column in zip(words, columns, strict=True) if (frame[column] > 0).any()}
    ordered = _base_first(name, words, present, words, exposure.reference, messages)
    if len(ordered) < 2:
        return None
    if exposure.form == "as_of":
        return _factor(name, frame[name], ordered)
    return Shares(name, frame[[f"{name}__{word}" for word in ordered]].to_numpy(), ordered)


def _adjustment(
    name: str, settings: OutcomeSettings, table: AnalysisTable, messages: list[str]
) -> ModelVariable | None:
    values, reference = table.frame[name], settings.references.get(name)
    if VARIABLES[name].kind == "number":
        return _covariate(name, values, settings.shapes.get(name), messages)
    words = VARIABLES[name].words or table.present[name]
    ordered = _base_first(name, words, set(values.unique()), table.present[name], reference, messages)
    return _factor(name, values, ordered) if len(ordered) > 1 else None


def _base_first(
    name: str, words: Sequence[str], present: set[str], expected: Sequence[str], reference: str | None,
    messages: list[str],
) -> tuple[str, ...]:  # fmt: skip
    """Return the words that occur, the base first; say which of those expected do not."""
    ordered = [word for word in words if word in present]
    absent = [word for word in expected if word not in present]
    if absent and len(ordered) > 1:
        listed = ", ".join(f"'{word}'" for word in absent)
        messages.append(f"No row used has {title_of(name)} {listed}; nothing is estimated for it.")
    if reference in present:
        ordered.sort(key=lambda word: word != reference)
    elif reference is not None and len(ordered) > 1:
        messages.append(f"The base of {title_of(name)}, '{reference}', does not occur; '{ordered[0]}' is used instead.")
    return tuple(ordered)


def _covariate(name: str, values: pd.Series, shape: Shape | None, messages: list[str]) -> Covariate | None:
    numbers = values.to_numpy(dtype=float)
    if not np.ptp(numbers) > 0:
        return None
    return Covariate(name, numbers) if shape is None else shaped(name, numbers, shape, title_of(name), messages)


def _factor(name: str, values: pd.Series, words: tuple[str, ...]) -> Factor:
    return Factor(name, pd.Index(words).get_indexer(pd.Index(values)), words)

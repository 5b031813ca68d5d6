"""From the analysis table to the engine's variables and terms, with a sentence for whatever is left out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from hoofcohort.errors import ModelError
from hoofcohort.models import Covariate, Factor, Shares
from hoofcohort.models.design import Variable
from hoofcohort.plan import Exposure, OutcomeSettings
from hoofcohort.study.table import AnalysisTable
from hoofcohort.study.variables import VARIABLES
from hoofcohort.tables import TABLES

MEANING = {Covariate: "covariate", Factor: "factor", Shares: "shares"}


@dataclass(frozen=True)
class Terms:
    """What enters the models.

    Attributes
    ----------
    variables : dict of str to Variable
    exposures, adjustments, interactions : list of str
        Terms that are in the model; interactions written ``a:b``.
    descriptions : list of dict
        One per variable, for the record.
    messages : list of str
    """

    variables: dict[str, Variable]
    exposures: list[str]
    adjustments: list[str]
    interactions: list[str]
    descriptions: list[dict[str, Any]]
    messages: list[str]


def build_terms(settings: OutcomeSettings, table: AnalysisTable) -> Terms:
    """Make the engine's variables of an outcome.

    Raises
    ------
    ModelError
        When no exposure varies among the rows.
    """
    messages: list[str] = []
    variables: dict[str, Variable] = {}
    descriptions: list[dict[str, Any]] = []
    for role, names in (("exposure", list(settings.exposures)), ("adjustment", settings.adjustments)):
        for name in names:
            if role == "exposure":
                variable = _exposure(table.rows, name, settings.exposures[name], messages)
            else:
                variable = _adjustment(table.rows, name, settings.references.get(name), messages)
            if variable is None:
                continue
            variables[name] = variable
            per = settings.exposures[name].per if role == "exposure" else None
            descriptions.append(_describe(variable, role, per, table.missing.get(name, 0)))
    exposures = [name for name in settings.exposures if name in variables]
    if not exposures:
        raise ModelError(f"{settings.name}: no exposure varies among the {len(table.rows)} readings that could be used")
    interactions = []
    for pair in settings.interactions:
        if all(name in variables for name in pair):
            interactions.append(":".join(pair))
        else:
            messages.append(f"The interaction of {' and '.join(pair)} is left out, because one of them is.")
    adjustments = [name for name in settings.adjustments if name in variables]
    return Terms(variables, exposures, adjustments, interactions, descriptions, messages)


def _exposure(rows: pd.DataFrame, name: str, exposure: Exposure, messages: list[str]) -> Variable | None:
    words = TABLES["management"].by_name[name].words
    if exposure.form == "mean":
        return _covariate(rows[f"{name}__mean"], name, messages)
    if exposure.form == "as_of" and not words:
        return _covariate(rows[name].astype(float), name, messages)
    if exposure.form == "as_of":
        return _factor(rows[name], name, words, exposure.reference, messages)
    shares = {word: rows[f"{name}__{word}"].to_numpy(float) for word in words}
    present = tuple(word for word in words if shares[word].any())
    order = _ordered(name, words, present, exposure.reference, messages)
    if len(order) < 2:
        return _constant(name, messages)
    return Shares(name, np.column_stack([shares[word] for word in order]), order)


def _adjustment(rows: pd.DataFrame, name: str, reference: str | None, messages: list[str]) -> Variable | None:
    if VARIABLES[name].kind == "number":
        return _covariate(rows[name], name, messages)
    return _factor(rows[name], name, VARIABLES[name].words, reference, messages)


def _covariate(values: pd.Series, name: str, messages: list[str]) -> Variable | None:
    numbers = values.to_numpy(float)
    return Covariate(name, numbers) if len(numbers) and np.ptp(numbers) > 0 else _constant(name, messages)


def _factor(
    values: pd.Series, name: str, words: tuple[str, ...], reference: str | None, messages: list[str]
) -> Variable | None:
    present = tuple(sorted(values.unique()))
    order = _ordered(name, words or present, present, reference, messages)
    if len(order) < 2:
        return _constant(name, messages)
    return Factor(name, pd.Categorical(values, categories=list(order)).codes.astype(np.int64), order)


def _ordered(
    name: str, words: tuple[str, ...], present: tuple[str, ...], reference: str | None, messages: list[str]
) -> tuple[str, ...]:
    """Return the words that occur, the reference first, then in their declared order."""
    absent = [word for word in words if word not in present]
    if absent:
        messages.append(f"No reading that could be used has {name} {' or '.join(absent)}: nothing is said about it.")
    known = [word for word in words if word in present]
    if reference in known:
        known = [reference, *(word for word in known if word != reference)]
    elif reference and known:
        messages.append(f"{name}: the plan's reference, {reference}, does not occur; compared with {known[0]} instead.")
    return tuple(known)


def _constant(name: str, messages: list[str]) -> None:
    messages.append(f"{name} is the same on all readings that could be used and is left out of the models.")


def _describe(variable: Variable, role: str, per: float | None, missing: int) -> dict[str, Any]:
    """Describe a variable for the record."""
    if role == "exposure":
        column = TABLES["management"].by_name[variable.name]
        title, unit = column.title, column.unit
    else:
        title, unit = VARIABLES[variable.name].title, VARIABLES[variable.name].unit
    numbers = np.asarray(variable.values, float) if isinstance(variable, Covariate) else None
    return {
        "name": variable.name,
        "title": title,
        "role": role,
        "kind": MEANING[type(variable)],
        "unit": unit or "",
        "values": [] if isinstance(variable, Covariate) else list(variable.values),
        "reference": None if isinstance(variable, Covariate) else variable.values[0],
        "mean": None if numbers is None else float(numbers.mean()),
        "sd": None if numbers is None else float(numbers.std(ddof=1)),
        "missing": missing,
        "per": per,
    }

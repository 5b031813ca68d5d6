"""Describe an outcome and the variables of its models for the record."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from hoofcohort.indices.catalogue import CATALOGUE
from hoofcohort.models import Covariate, Factor
from hoofcohort.plan import OutcomeSettings
from hoofcohort.study.table import AnalysisTable
from hoofcohort.study.terms import ModelVariable, Terms
from hoofcohort.tables import TABLES
from hoofcohort.tables.variables import VARIABLES, title_of

FORMS = {
    "share": "share of the {days} days up to the visit",
    "mean": "mean over the {days} days up to the visit",
    "as_of": "on the day of the visit",
}


def describe_outcome(settings: OutcomeSettings) -> dict[str, Any]:
    """Return what an outcome is: its name, title, unit, role, formula, source and window."""
    if settings.name in CATALOGUE:
        index = CATALOGUE[settings.name]
        title, unit, formula, source = index.title, index.unit, index.formula, index.source
    else:
        column = TABLES["feet"].by_name[settings.name]
        title, unit, formula, source = column.title, column.unit, column.meaning, column.source
    return {
        "name": settings.name, "title": title, "unit": unit, "role": settings.role, "formula": formula,
        "source": source, "window_days": settings.window_days,
    }  # fmt: skip


def describe_variables(
    settings: OutcomeSettings,
    terms: Terms,
    table: AnalysisTable,
    withheld: Mapping[str, Sequence[str]],
    any_day: Mapping[str, Sequence[str]],
) -> list[dict[str, Any]]:
    """Return one record per variable of the models: what it is, its base, its spread, how often it was missing.

    ``mean`` and ``sd`` (n - 1) are over the rows used, for numbers. ``rows`` gives, per word, the rows with it; for
    shares, ``mean_share`` gives the mean share of days; of an exposure ``horses`` gives the horses with any day on it.
    A word in ``withheld`` has None in all of these, one in ``any_day`` alone in the last, and then no share is told:
    they sum to 1. Among all accepted readings, ``missing`` counts those without a value, and ``short`` those on record
    for fewer days than the plan asks (None for what is no exposure over a window).
    """
    days = {name: any_day.get(name, ()) for name in settings.exposures}
    return [
        _describe(name, settings, variable, table)
        | {"withheld": list(withheld.get(name, ()))}
        | _by_word(variable, table, withheld.get(name, ()), days.get(name))
        for name, variable in terms.variables.items()
    ]


def _describe(name: str, settings: OutcomeSettings, variable: ModelVariable, table: AnalysisTable) -> dict[str, Any]:
    exposure = settings.exposures.get(name)
    record: dict[str, Any] = {
        "name": name,
        "title": TABLES["management"].by_name[name].title if exposure else title_of(name),
        "role": "exposure" if exposure else "adjustment",
        "kind": type(variable).__name__.lower(),
        "unit": TABLES["management"].by_name[name].unit if exposure else VARIABLES[name].unit,
        "form": FORMS[exposure.form or "as_of"].format(days=settings.window_days) if exposure else "",
        "values": [],
        "reference": None,
        "mean": None,
        "sd": None,
        "missing": table.missing[name],
        "short": table.short.get(name),
        "per": exposure.per if exposure else None,
    }
    if isinstance(variable, Covariate):
        numbers = np.asarray(variable.values, float)
        return record | {"mean": float(numbers.mean()), "sd": float(numbers.std(ddof=1))}
    return record | {"values": list(variable.values), "reference": variable.values[0]}


def _by_word(
    variable: ModelVariable, table: AnalysisTable, withheld: Sequence[str], any_day: Sequence[str] | None
) -> dict[str, dict[str, float | None]]:
    """Return what is counted of each word; nothing of a number."""
    if isinstance(variable, Covariate):
        return {}
    words, found = variable.values, {}
    if isinstance(variable, Factor):
        has = np.asarray(variable.codes)[:, None] == np.arange(len(words))
        found["rows"] = has.sum(axis=0).tolist()
    else:
        matrix = np.asarray(variable.matrix, float)
        has = matrix > 0
        found["mean_share"] = (
            [None] * len(words) if set(any_day or ()) - set(withheld) else matrix.mean(axis=0).tolist()
        )
    if any_day is not None:
        horse = table.frame["horse_id"]
        found["horses"] = [int(horse[has[:, k]].nunique()) for k in range(len(words))]
    return {
        key: {
            word: None if word in withheld or (key == "horses" and word in (any_day or ())) else number
            for word, number in zip(words, numbers, strict=True)
        }
        for key, numbers in found.items()
    }

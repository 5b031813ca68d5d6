"""What an outcome's adjusted model is about, as statistics files state it."""

from __future__ import annotations

import json
from pathlib import Path

import pandas as pd

from hoofcohort.errors import InputError
from hoofcohort.models import Curve, Factor, Shares
from hoofcohort.models.coding import Coding
from hoofcohort.models.design import Variable
from hoofcohort.models.specification import Specification
from hoofcohort.models.specify import specify
from hoofcohort.plan import OutcomeSettings
from hoofcohort.study.levels import LABELS
from hoofcohort.study.table import AnalysisTable, exposure_columns
from hoofcohort.study.terms import build_terms
from hoofcohort.tables.variables import VARIABLES


def study_specification(model: str, analysis: str) -> Specification:
    """Return the specification of an outcome's adjusted model.

    Parameters
    ----------
    model : str
        The run's models/<outcome>.json.
    analysis : str
        The run's data/analysis/<outcome>.parquet: the rows that the model used.

    Raises
    ------
    InputError
        When the files cannot be read, the outcome was not analysed, or a factor of its model crosses all levels.
    """
    try:
        record = json.loads(Path(model).read_text(encoding="utf-8"))
        frame = pd.read_parquet(analysis)
    except (OSError, ValueError) as error:
        raise InputError(f"{model}, {analysis}: cannot be read as a run's model and its analysis table") from error
    if "adjusted" not in record:
        raise InputError(f"{model}: this outcome was not analysed, so there is no model ({record.get('not_analysed')})")
    settings = OutcomeSettings.model_validate(record["settings"])
    names = list(record["adjusted"]["groups"])
    levels: dict[str, tuple[str, ...]] = {name: (LABELS[name],) for name in names if name in settings.levels}
    also = {name: (LABELS[name.split(":")[1]],) for name in names if name in settings.also}
    crossed = [name for name in names if name not in levels and name not in also]
    if crossed:
        raise InputError(
            f"{model}: {', '.join(crossed)} crosses all levels of the model; such statistics do not add up"
        )
    if "foot" in levels and "horse" not in levels:
        levels["foot"] = (LABELS["horse"], LABELS["foot"])
    present = {
        name: tuple(sorted(frame[name].unique())) for name in settings.adjustments if VARIABLES[name].kind == "word"
    }
    terms = build_terms(settings, AnalysisTable(frame, [], {}, {}, present))
    codings = [_coding(settings, name, variable) for name, variable in terms.variables.items()]
    return specify(frame, settings.name, terms.adjusted, codings, levels, also)


def _coding(settings: OutcomeSettings, name: str, variable: Variable) -> Coding:
    """Return how a variable of the model is made from the analysis table's columns."""
    columns = exposure_columns(name, settings.exposures[name]) if name in settings.exposures else [name]
    if isinstance(variable, Shares):
        return Coding(name, "shares", tuple(f"{name}__{word}" for word in variable.values), variable.values)  # noqa: PD011
    if isinstance(variable, Factor):
        return Coding(name, "words", tuple(columns), variable.values)
    return Coding(name, "number", tuple(columns), shape=variable.shape if isinstance(variable, Curve) else None)

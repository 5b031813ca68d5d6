"""Read everything that the stages before wrote into a run's folder."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

import pandas as pd

from hoofcohort.errors import InputError
from hoofcohort.exposure import exposure_windows
from hoofcohort.plan import Plan, load_plan
from hoofcohort.planning.cutoffs import Cutoff, load_cutoffs

MADE_BY = {
    "plan.json": "hoofcohort check-plan",
    "ledger.json": "hoofcohort intake",
    "rejects.csv": "hoofcohort intake",
    "flags.csv": "hoofcohort intake",
    "data/horses.parquet": "hoofcohort intake",
    "data/management.parquet": "hoofcohort intake",
    "data/readings.parquet": "hoofcohort derive",
}
FIT = "hoofcohort fit-outcome"
MODEL_KEYS = ("outcome", "settings", "flow", "variables", "adjusted", "unadjusted", "effects", "messages")


@dataclass(frozen=True)
class Run:
    """What a run's folder holds.

    Attributes
    ----------
    folder : Path
    plan : Plan
    ledger : dict
        The account of every row received.
    rejects, flags : DataFrame
        Text throughout.
    horses, management, readings : DataFrame
        Accepted rows, typed.
    models : dict of str to dict
        Per outcome that was analysed, in the plan's order: the content of ``models/<outcome>.json``.
    refused : dict of str to dict
        The same for outcomes that could not be analysed: ``outcome``, ``flow`` and the reason, ``not_analysed``.
    analysis, effects : dict of str to DataFrame
        Per outcome: the analysed readings with fitted values and residuals; the predicted effects per level.
    cutoffs : list of Cutoff
    inputs : list of str
        The files read, relative to the folder, sorted.
    """

    folder: Path
    plan: Plan
    ledger: dict[str, Any]
    rejects: pd.DataFrame
    flags: pd.DataFrame
    horses: pd.DataFrame
    management: pd.DataFrame
    readings: pd.DataFrame
    models: dict[str, dict[str, Any]]
    refused: dict[str, dict[str, Any]]
    analysis: dict[str, pd.DataFrame]
    effects: dict[str, pd.DataFrame]
    cutoffs: list[Cutoff]
    inputs: list[str]

    @cached_property
    def windows(self) -> pd.DataFrame:
        """How each reading's horse was kept over the study's window, on the index of ``readings``."""
        return exposure_windows(self.readings, self.management, self.plan.window_days)


def read_run(folder: Path) -> Run:
    """Read a run's folder.

    Raises
    ------
    InputError
        When a file is missing or cannot be read; the message says which command writes it.
    PlanError
        When the plan or the file of cut-offs is faulty.
    """
    if not folder.is_dir():
        raise InputError(f"{folder}: no such folder; give the folder that the stages before wrote into")
    plan = _read(folder, "plan.json", load_plan)
    tables = {name: _read(folder, f"data/{name}.parquet", pd.read_parquet) for name in TABLES}
    texts = {name: _read(folder, f"{name}.csv", _text_frame) for name in ("rejects", "flags")}
    records = {name: _model(folder, name) for name in plan.outcomes}
    models = {name: record for name, record in records.items() if "not_analysed" not in record}
    per_outcome = {
        part: {name: _read(folder, f"data/{part}/{name}.parquet", pd.read_parquet) for name in models}
        for part in ("analysis", "effects")
    }
    inputs = [*MADE_BY, *(f"models/{name}.json" for name in records)]
    inputs += [f"data/{part}/{name}.parquet" for part in per_outcome for name in models]
    return Run(
        folder=folder,
        plan=plan,
        ledger=_read(folder, "ledger.json", _json),
        models=models,
        refused={name: record for name, record in records.items() if name not in models},
        cutoffs=load_cutoffs(plan.cutoffs),
        inputs=sorted(inputs),
        rejects=texts["rejects"],
        flags=texts["flags"],
        horses=tables["horses"],
        management=tables["management"],
        readings=tables["readings"],
        analysis=per_outcome["analysis"],
        effects=per_outcome["effects"],
    )


TABLES = ("horses", "management", "readings")


def _read(folder: Path, name: str, read: Callable[[Path], Any]) -> Any:
    path = folder / name
    made_by = MADE_BY.get(name, FIT)
    if not path.is_file():
        raise InputError(f"{path}: no such file; run '{made_by}' first: it writes it")
    try:
        return read(path)
    except (OSError, ValueError) as error:
        raise InputError(f"{path}: cannot be read ({error}); run '{made_by}' again") from error


def _json(path: Path) -> Any:
    return json.loads(path.read_text(encoding="utf-8"))


def _text_frame(path: Path) -> pd.DataFrame:
    return pd.read_csv(path, dtype="str", keep_default_na=False)


def _model(folder: Path, name: str) -> dict[str, Any]:
    model = _read(folder, f"models/{name}.json", _json)
    keys = MODEL_KEYS[:3] if "not_analysed" in model else MODEL_KEYS
    absent = [key for key in keys if key not in model]
    if absent:
        raise InputError(f"{folder / 'models' / name}.json: lacks {', '.join(absent)}; run '{FIT}' again")
    return model

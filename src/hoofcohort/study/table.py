"""The analysis table of one outcome: readings with every variable of its models, and the account of those left out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from hoofcohort.exposure import exposure_windows
from hoofcohort.plan import OutcomeSettings
from hoofcohort.study.variables import VARIABLES

KEYS = ("horse_id", "yard_id", "owner_id", "foot", "visit_date")
SEASONS = np.array(["winter", "winter", *["spring"] * 3, *["summer"] * 3, *["autumn"] * 3, "winter"])
"""Meteorological season of each month, northern hemisphere."""


@dataclass(frozen=True)
class AnalysisTable:
    """The readings that a model can use.

    Attributes
    ----------
    rows : DataFrame
        Keys, the outcome, the adjustments and the columns of :func:`hoofcohort.exposure.exposure_windows`.
    flow : list of dict
        One entry per step: ``step``, ``readings``, ``feet``, ``horses``, ``yards``, ``owners`` left after it, ``lost``
        readings, and the ``reason``.
    missing : dict of str to int
        Readings with the outcome measured on which each variable is missing.
    """

    rows: pd.DataFrame
    flow: list[dict[str, int | str]]
    missing: Mapping[str, int]


def build_table(
    settings: OutcomeSettings, readings: pd.DataFrame, horses: pd.DataFrame, management: pd.DataFrame
) -> AnalysisTable:
    """Join, derive and exclude, in a fixed order, counting at every step.

    Parameters
    ----------
    settings : OutcomeSettings
    readings, horses, management : DataFrame
        Accepted tables; ``readings`` with the indices.

    Notes
    -----
    Missing values: a reading is used when the outcome, every exposure (on record for at least the plan's share of the
    window) and every adjustment are known. The rows are sorted by yard, horse, foot, visit and line.
    """
    table = readings.merge(horses.drop(columns="line", errors="ignore"), on="horse_id", how="left", validate="m:1")
    windows = exposure_windows(table, management, settings.window_days)
    table = pd.concat([table, windows], axis=1)
    table = table.assign(**{name: _adjustment(table, name) for name in settings.adjustments})
    table = table.sort_values(["yard_id", "horse_id", "foot", "visit_date", "line"], kind="stable")
    steps = _steps(settings, table)
    measured = table[settings.name].notna()
    missing = {name: int((measured & ~present).sum()) for name, _, _, present in steps if name}
    flow = [_counts("accepted readings", table, 0, "")]
    kept = table
    for name, step, reason, present in steps:
        left = kept[present.reindex(kept.index)]
        lost = len(kept) - len(left)
        if lost or name not in settings.adjustments:
            flow.append(_counts(step, left, lost, reason if lost else ""))
        kept = left
    flow.append(_counts("readings analysed", kept, 0, ""))
    return AnalysisTable(kept.reset_index(drop=True), flow, missing)


def _steps(settings: OutcomeSettings, table: pd.DataFrame) -> list[tuple[str, str, str, pd.Series]]:
    """Return per exclusion: the variable ('' for none), the step, the reason, and which readings pass."""
    least = settings.minimum_coverage
    share = f"at least {100 * least:g}% of the {settings.window_days} days up to the visit"
    steps = [
        ("", "outcome measured", f"{settings.name} not measured", table[settings.name].notna()),
        ("", "management on record", f"no management on record in the {settings.window_days} days up to the visit",
         table["coverage"] > 0),
    ]  # fmt: skip
    for name, exposure in settings.exposures.items():
        if exposure.form == "as_of":
            steps.append((name, f"{name} known", f"{name} unknown on the day of the visit", table[name].notna()))
        else:
            reason = f"{name} not on record for {share}"
            steps.append((name, f"{name} on record", reason, table[f"{name}__coverage"] >= least - 1e-9))
    for name in settings.adjustments:
        steps.append((name, f"{name} known", f"{name} missing", table[name].notna()))
    return steps


def _counts(step: str, table: pd.DataFrame, lost: int, reason: str) -> dict[str, int | str]:
    return {
        "step": step,
        "readings": len(table),
        "feet": len(table[["horse_id", "foot"]].drop_duplicates()),
        "horses": int(table["horse_id"].nunique()),
        "yards": int(table["yard_id"].nunique()),
        "owners": int(table["owner_id"].nunique()),
        "lost": lost,
        "reason": reason,
    }


def _adjustment(table: pd.DataFrame, name: str) -> pd.Series:
    """Return one adjustment of the catalogue; words as text, numbers as floats, missing where unknown."""
    visit = table["visit_date"]
    if name == "age_years":
        elapsed = (visit.dt.dayofyear - 1) / (365 + visit.dt.is_leap_year)
        return visit.dt.year + elapsed - table["birth_year"].astype("Float64").astype(float)
    if name == "fore_hind":
        return table["foot"].str[1].map({"F": "fore", "H": "hind"})
    if name == "side":
        return table["foot"].str[0].map({"L": "left", "R": "right"})
    if name == "season":
        return pd.Series(SEASONS[visit.dt.month.to_numpy() - 1], index=table.index)
    column = table[name]
    return column.astype(float) if VARIABLES[name].kind == "number" else column

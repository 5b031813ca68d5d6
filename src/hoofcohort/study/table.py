"""The analysis table: one row per reading that an outcome's models use, and the account of those that they do not."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from hoofcohort.errors import InputError, NoReadingError
from hoofcohort.exposure import exposure_windows
from hoofcohort.indices import CATALOGUE
from hoofcohort.plan import Exposure, OutcomeSettings
from hoofcohort.privacy.owners import count_owners
from hoofcohort.study.adjustments import Sources, adjustment_values, horse_rows
from hoofcohort.tables import TABLES
from hoofcohort.tables.variables import VARIABLES

KEYS = ("horse_id", "yard_id", "owner_id", "foot", "visit_date", "observer_id", "method", "replicate", "line")


@dataclass(frozen=True)
class AnalysisTable:
    """The rows that the models use.

    Attributes
    ----------
    frame : DataFrame
        Keys, the outcome, the columns of the exposures and the adjustments; nothing missing among what models use.
    flow : list of dict
        Step by step from the accepted readings to the rows used: readings, feet, horses, yards and owners left, the
        readings lost and why.
    missing : dict of str to int
        For each exposure, adjustment and crossed factor, the accepted readings without any value of it.
    short : dict of str to int
        For each exposure over a window, the accepted readings with a value of it, but on fewer days than the plan asks.
    present : dict of str to tuple of str
        For each word adjustment, its words among all accepted readings.
    """

    frame: pd.DataFrame
    flow: list[dict[str, Any]]
    missing: dict[str, int]
    short: dict[str, int]
    present: dict[str, tuple[str, ...]]


@dataclass(frozen=True)
class _Step:
    name: str
    reason: str
    keep: np.ndarray
    always: bool = False


def exposure_columns(name: str, exposure: Exposure) -> list[str]:
    """Return the analysis table's columns of an exposure."""
    if exposure.form == "share":
        return [f"{name}__{word}" for word in TABLES["management"].by_name[name].words]
    return [f"{name}__mean" if exposure.form == "mean" else name]


def build_table(
    settings: OutcomeSettings, readings: pd.DataFrame, horses: pd.DataFrame, management: pd.DataFrame
) -> AnalysisTable:
    """Join readings, horses and management, and take out what an outcome's models cannot use.

    Parameters
    ----------
    settings : OutcomeSettings
    readings, horses, management : DataFrame
        Accepted rows, typed; ``readings`` with its indices.

    Returns
    -------
    AnalysisTable

    Raises
    ------
    InputError
        When the outcome is not a column of ``readings``, or a reading's horse is unknown.
    NoReadingError
        When no row is left.

    Notes
    -----
    Exclusions in fixed order: the outcome is measured; management is on record for the least share of the window;
    each exposure is; each adjustment and crossed factor is known. A step that loses nothing is not listed, but for
    the first two.
    """
    if settings.name not in readings:
        raise InputError(f"readings: no column '{settings.name}'; run 'hoofcohort derive' on these readings first")
    windows = exposure_windows(readings, management, settings.window_days)
    everything = _join(settings, Sources(readings, horse_rows(readings, horses), windows))
    steps = list(_steps(settings, everything, windows))
    keep = np.ones(len(everything), dtype=bool)
    flow = [_count(everything, "accepted readings", 0, "")]
    for step in steps:
        lost = int((keep & ~step.keep).sum())
        keep &= step.keep
        if lost or step.always:
            flow.append(_count(everything[keep], step.name, lost, step.reason if lost else ""))
    if not keep.any():
        raise NoReadingError(_no_reading(settings, flow), flow)
    flow.append(_count(everything[keep], "rows used", 0, ""))
    return AnalysisTable(
        everything[keep].reset_index(drop=True),
        flow,
        {name: int((~known).sum()) for name, known in _known(settings, everything).items()},
        _short(settings, everything, windows),
        {
            name: tuple(sorted(everything[name].dropna().unique()))
            for name in settings.adjustments
            if VARIABLES[name].kind == "word"
        },
    )


def _join(settings: OutcomeSettings, sources: Sources) -> pd.DataFrame:
    own = sources.readings.assign(yard_id=sources.horse["yard_id"], owner_id=sources.horse["owner_id"])
    exposed = [column for name, own in settings.exposures.items() for column in exposure_columns(name, own)]
    parts = {column: own[column] for column in KEYS if column in own}
    parts[settings.name] = own[settings.name].astype("float64")
    parts |= {column: sources.windows[column] for column in exposed}
    adjustments = adjustment_values([*settings.adjustments, *settings.crossed], sources)
    return pd.DataFrame(parts | {name: adjustments[name] for name in adjustments})


def _no_reading(settings: OutcomeSettings, flow: list[dict[str, Any]]) -> str:
    """Say at which step the last reading was lost, and what an index is made from."""
    at = next((place for place, step in enumerate(flow) if not step["readings"]), 0)
    if at == 0:
        return "there is no accepted reading"
    index = CATALOGUE.get(settings.name)
    made = f"; it is made from {', '.join(index.needs)}" if index and flow[at]["step"] == "outcome measured" else ""
    return f"no reading is left: the last {flow[at - 1]['readings']} were lost for '{flow[at]['reason']}'{made}"


def _known(settings: OutcomeSettings, everything: pd.DataFrame) -> dict[str, np.ndarray]:
    """Tell, for each exposure, adjustment and crossed factor, which rows have a value."""
    columns = {name: exposure_columns(name, own) for name, own in settings.exposures.items()}
    columns |= {name: [name] for name in (*settings.adjustments, *settings.crossed)}
    return {name: everything[own].notna().all(axis=1).to_numpy() for name, own in columns.items()}


def _steps(settings: OutcomeSettings, everything: pd.DataFrame, windows: pd.DataFrame) -> Iterator[_Step]:
    measured = everything[settings.name].notna().to_numpy()
    yield _Step("outcome measured", f"no value of {settings.name}", measured, always=True)
    days, least = settings.window_days, _least_days(settings)
    short = f"fewer than {least} of the {days} days up to the visit"
    if any(own.form != "as_of" for own in settings.exposures.values()):
        enough = _days(windows["coverage"], days) >= least
        yield _Step("management on record", f"{short} on record", enough, always=True)
    known = _known(settings, everything)
    for name, own in settings.exposures.items():
        title = TABLES["management"].by_name[name].title
        if own.form == "as_of":
            yield _Step(f"{title} on record", f"no {title} on record on the day of the visit", known[name])
        else:
            enough = known[name] & (_days(windows[f"{name}__coverage"], days) >= least)
            yield _Step(f"{title} on record", f"{title} on record for {short}", enough)
    for name in (*settings.adjustments, *settings.crossed):
        title = VARIABLES[name].title
        yield _Step(f"{title} known", f"{title} not on record", known[name])


def _least_days(settings: OutcomeSettings) -> int:
    """Return the fewest days of the window that must be on record."""
    return math.ceil(settings.minimum_coverage * settings.window_days - 1e-9)


def _short(settings: OutcomeSettings, everything: pd.DataFrame, windows: pd.DataFrame) -> dict[str, int]:
    """Count, per exposure over a window, the rows with a value that stands on too few days."""
    known, least = _known(settings, everything), _least_days(settings)
    return {
        name: int((known[name] & (_days(windows[f"{name}__coverage"], settings.window_days) < least)).sum())
        for name, own in settings.exposures.items()
        if own.form != "as_of"
    }


def _days(share: pd.Series, window_days: int) -> np.ndarray:
    return np.rint(share.to_numpy(dtype=float, na_value=0.0) * window_days)


def _count(frame: pd.DataFrame, step: str, lost: int, reason: str) -> dict[str, Any]:
    return {
        "step": step,
        "readings": len(frame),
        "feet": len(frame[["horse_id", "foot"]].drop_duplicates()),
        "horses": int(frame["horse_id"].nunique()),
        "yards": int(frame["yard_id"].nunique()),
        "owners": count_owners(frame["owner_id"]),
        "lost": lost,
        "reason": reason,
    }

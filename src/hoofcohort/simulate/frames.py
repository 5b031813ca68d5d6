"""Lay the invented cohort out as the three tables, in typed columns and the order the tables declare."""

from __future__ import annotations

import numpy as np
import pandas as pd

from hoofcohort.simulate import scenario as sc
from hoofcohort.simulate.keeping import Keeping
from hoofcohort.simulate.population import Population
from hoofcohort.simulate.visits import Readings


def horses_frame(population: Population) -> pd.DataFrame:
    """Return one row per horse; a body mass not on record is missing together with how it was found."""
    known = ~population.mass_unknown
    columns = {
        "horse_id": _text(sc.id_list("H", len(population), 4)),
        "yard_id": _words(sc.id_list("Y", population.yards, 2), population.yard),
        "owner_id": _words(sc.id_list("W", int(population.owner[-1]) + 1, 3), population.owner),
        "birth_year": _integers(population.birth_year),
        "sex": _words(sc.SEXES, population.sex),
        "breed_group": _words(sc.BREED_GROUPS, population.breed),
        "body_mass_kg": np.where(known, population.body_mass_kg, np.nan),
        "body_mass_method": _words(sc.MASS_METHODS, population.mass_method, known),
        "height_cm": population.height_cm,
        "ueln": _text(population.ueln),
        "microchip": _text(population.microchip),
    }
    return pd.DataFrame(columns)


def management_frame(keeping: Keeping, horse_ids: pd.Series, last_day: int) -> pd.DataFrame:
    """Return one row per interval on record; intervals that begin after ``last_day`` are not known yet."""
    on_record = (keeping.start <= last_day) & (keeping.end >= keeping.record_start[:, None])
    on_record &= ~keeping.unrecorded[:, None]
    horse, interval = np.nonzero(on_record)
    start = np.maximum(keeping.start[horse, interval], keeping.record_start[horse])
    end = keeping.end[horse, interval]
    closed = end <= last_day
    columns = {
        "horse_id": horse_ids.take(horse).reset_index(drop=True),
        "from_date": _dates(start),
        "to_date": _dates(np.where(closed, end, 0), closed),
        "diet": _words(sc.DIETS, keeping.diet[horse, interval], ~keeping.blank_diet[horse]),
        "terrain": _words(sc.TERRAINS, keeping.terrain[horse, interval], ~keeping.blank_terrain[horse]),
        "trim_interval_days": np.where(keeping.blank_trim[horse], np.nan, keeping.trim[horse, interval]),
        "shoeing": _words(sc.SHOEING, keeping.shoeing[horse, interval]),
        "turnout_hours": keeping.turnout[horse, interval],
    }
    return pd.DataFrame(columns)


def feet_frame(
    readings: Readings, horse_ids: pd.Series, measured: dict[str, np.ndarray], pigment: np.ndarray
) -> pd.DataFrame:
    """Return one row per reading."""
    columns: dict[str, pd.Series | np.ndarray] = {
        "horse_id": horse_ids.take(readings.horse).reset_index(drop=True),
        "foot": _words(sc.FEET, readings.foot),
        "visit_date": _dates(readings.day),
        "observer_id": _words(sc.OBSERVERS, readings.observer),
        "method": _words(sc.METHODS, readings.method),
        "replicate": _integers(readings.replicate),
        "days_since_trim": _integers(readings.days_since_trim, ~readings.trim_day_unknown),
    }
    for name, values in measured.items():
        columns[name] = (
            values if name.endswith(("_mm", "_deg")) else _integers(np.nan_to_num(values), ~np.isnan(values))
        )
    columns["sole_pigment"] = _words(sc.PIGMENTS, pigment)
    return pd.DataFrame(columns)


def _text(values: np.ndarray) -> pd.Series:
    return pd.Series(values, dtype="str")


def _words(words: tuple[str, ...] | np.ndarray, codes: np.ndarray, known: np.ndarray | None = None) -> pd.Series:
    cells = np.asarray(words, dtype=object)[codes]
    if known is not None:
        cells[~known] = None
    return _text(cells)


def _integers(values: np.ndarray, known: np.ndarray | None = None) -> pd.Series:
    missing = np.zeros(len(values), dtype=bool) if known is None else ~known
    return pd.Series(pd.arrays.IntegerArray(values.astype(np.int64), missing))


def _dates(days: np.ndarray, known: np.ndarray | None = None) -> pd.Series:
    dates = days.astype("datetime64[D]").astype("datetime64[us]")
    if known is not None:
        dates[~known] = np.datetime64("NaT")
    return pd.Series(dates)

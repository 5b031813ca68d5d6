"""Simulate the whole cohort."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from hoofcohort.errors import InputError
from hoofcohort.simulate import frames, scenario, visits
from hoofcohort.simulate.keeping import draw_keeping
from hoofcohort.simulate.measurements import design_terms, draw_measurements, draw_pigment
from hoofcohort.simulate.mistakes import plant_mistakes
from hoofcohort.simulate.planting import REJECTED, Planted
from hoofcohort.simulate.population import draw_population
from hoofcohort.simulate.truth import truth_record
from hoofcohort.simulate.writing import csv_text

FILES = ("horses.csv", "management.csv", "feet.csv")


@dataclass(frozen=True)
class Cohort:
    """An invented cohort.

    Attributes
    ----------
    horses, management, feet : DataFrame
        Typed and free of mistakes: ids and words ``str``, dates ``datetime64``, numbers ``float64``, integers
        ``Int64``.
    truth : dict
        What goes into truth.json.
    terms : DataFrame
        The true value of every term of the true model, one row per row of ``feet``, even where the record has a gap.
    planted : list of Planted
        The mistakes; they exist only in the text that ``csv_text`` returns.
    """

    horses: pd.DataFrame
    management: pd.DataFrame
    feet: pd.DataFrame
    truth: dict
    terms: pd.DataFrame
    planted: list[Planted]

    def csv_text(self, file: str) -> str:
        """Return the text of horses.csv, management.csv or feet.csv, mistakes included."""
        return csv_text(getattr(self, file.removesuffix(".csv")), file, self.planted)


def simulate_cohort(
    horses: int = 64, yards: int | None = None, visits: int = 3, seed: int = 20260301, mistakes: bool = True
) -> Cohort:
    """Simulate a cohort; the same arguments give the same cohort, and mistakes change nothing else in it.

    Parameters
    ----------
    horses, visits : int
        At least 1.
    yards : int, optional
        At most ``horses``; 12 for 64 horses, and in proportion, when not given.
    seed : int
        Not negative.
    mistakes : bool
        Plant mistakes in the files.

    Raises
    ------
    InputError
        A number outside these limits.
    """
    yards = max(1, round(horses * 12 / 64)) if yards is None else yards
    _check_sizes(horses, yards, visits, seed)
    streams = [np.random.Generator(np.random.PCG64(child)) for child in np.random.SeedSequence(seed).spawn(5)]
    return _simulate(horses, yards, visits, seed, mistakes, streams)


def _simulate(
    horses: int, yards: int, visit_count: int, seed: int, mistakes: bool, streams: list[np.random.Generator]
) -> Cohort:
    last_day = visits.last_day(visit_count)
    population = draw_population(streams[0], horses, yards)
    keeping = draw_keeping(streams[1], population, visits.first_day(), last_day)
    calendar = visits.draw_calendar(streams[2], population, visit_count)
    readings = visits.draw_readings(streams[2], population, keeping, calendar)
    terms = design_terms(population, keeping, calendar, readings)
    measured = draw_measurements(streams[3], population, calendar, readings, terms)
    pigment = draw_pigment(streams[3], readings)

    horse_frame = frames.horses_frame(population)
    tables = {
        "horses.csv": horse_frame,
        "management.csv": frames.management_frame(keeping, horse_frame["horse_id"], last_day),
        "feet.csv": frames.feet_frame(readings, horse_frame["horse_id"], measured, pigment),
    }
    planted = plant_mistakes(streams[4], tables) if mistakes else []
    settings = {"horses": horses, "yards": yards, "visits": visit_count, "seed": seed, "mistakes": mistakes}
    truth = _truth(tables, planted, settings, last_day)
    horse_table, management, feet = (tables[file] for file in FILES)
    return Cohort(horse_table, management, feet, truth, pd.DataFrame(terms), planted)


def _truth(tables: dict[str, pd.DataFrame], planted: list[Planted], settings: dict, last_day: int) -> dict:
    as_of = max(np.datetime64(scenario.AS_OF), np.datetime64(last_day, "D"))
    header = {"invented": True, "notice": scenario.NOTICE, "scenario": scenario.SCENARIO}
    rows = {file: _row_counts(file, len(tables[file]), planted) for file in FILES}
    found = {"as_of": str(as_of), "rows": rows, "mistakes": [mistake.to_dict() for mistake in planted]}
    return header | {"settings": settings} | truth_record() | found


def _row_counts(file: str, clean_rows: int, planted: list[Planted]) -> dict[str, int]:
    added = sum(mistake.new_row is not None for mistake in planted if mistake.file == file)
    rejected = {mistake.line for mistake in planted if mistake.file == file and mistake.expected == REJECTED}
    rejected |= {row["line"] for mistake in planted for row in mistake.consequences if row["file"] == file}
    return {"written": clean_rows + added, "rejected": len(rejected)}


def _check_sizes(horses: int, yards: int, visits: int, seed: int) -> None:
    wrong = [
        f"{name} is {value}; it must be at least 1"
        for name, value in (("horses", horses), ("yards", yards), ("visits", visits))
        if value < 1
    ]
    if seed < 0:
        wrong.append(f"seed is {seed}; it must not be negative")
    if not wrong and yards > horses:
        wrong.append(f"yards is {yards} but there are only {horses} horses; ask for at most one yard per horse")
    if wrong:
        raise InputError("; ".join(wrong))

"""Who was visited when, by whom and how: the list of readings before anything is measured."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hoofcohort.simulate import scenario as sc
from hoofcohort.simulate.keeping import Keeping
from hoofcohort.simulate.population import Population


@dataclass(frozen=True)
class Calendar:
    """The planned visits.

    Attributes
    ----------
    day : int array (horses, visits)
        Days since 1970-01-01.
    observer, method : int arrays (yards, visits)
    """

    day: np.ndarray
    observer: np.ndarray
    method: np.ndarray


@dataclass(frozen=True)
class Readings:
    """One entry per reading, sorted by horse, visit, foot and repeat; arrays of shape (readings,).

    ``horse``, ``visit``, ``foot``, ``observer`` and ``method`` are codes; ``days_since_trim`` is true even where
    ``trim_day_unknown``.
    """

    horse: np.ndarray
    visit: np.ndarray
    foot: np.ndarray
    day: np.ndarray
    observer: np.ndarray
    method: np.ndarray
    replicate: np.ndarray
    days_since_trim: np.ndarray
    trim_day_unknown: np.ndarray

    def __len__(self) -> int:
        return len(self.horse)


def first_day() -> int:
    """Return the first possible day of a visit, in days since 1970-01-01."""
    return int(np.datetime64(sc.FIRST_VISIT, "D").astype(np.int64))


def last_day(visits: int) -> int:
    """Return a day no visit is later than, in days since 1970-01-01."""
    return first_day() + sc.DAYS_BETWEEN_VISITS * (visits - 1) + sc.ROUND_DAYS + 12


def draw_calendar(rng: np.random.Generator, population: Population, visits: int) -> Calendar:
    """Give every yard a day in each round; a few horses are seen some days later than the rest of their yard."""
    yards, horses = population.yards, len(population)
    yard_day = (
        first_day()
        + sc.DAYS_BETWEEN_VISITS * np.arange(visits)
        + rng.integers(0, sc.ROUND_DAYS, (yards, 1))
        + rng.integers(0, 6, (yards, visits))
    )
    later = np.where(rng.random((horses, visits)) < 0.1, rng.integers(1, 7, (horses, visits)), 0)
    turn = np.add.outer(np.arange(yards), np.arange(visits)) + (rng.random((yards, visits)) < 0.25)
    method = np.zeros((yards, visits), dtype=np.int64)
    photo_yards = rng.permutation(yards)[: round(yards / 12)]
    method[photo_yards, 1:] = 1
    return Calendar(day=yard_day[population.yard] + later, observer=turn % len(sc.OBSERVERS), method=method)


def draw_readings(rng: np.random.Generator, population: Population, keeping: Keeping, calendar: Calendar) -> Readings:
    """Take out missed visits and feet, put in repeated readings, and say how long ago each horse was trimmed."""
    horses, visits = calendar.day.shape
    seen = rng.random((horses, visits)) >= sc.MISSED_VISIT
    measured = seen[:, :, None] & (rng.random((horses, visits, len(sc.FEET))) >= sc.MISSED_FOOT)
    draw = rng.random((horses, visits))
    by_other = draw < sc.SECOND_OBSERVER
    repeated = draw < sc.SECOND_OBSERVER + sc.SECOND_REPLICATE
    since_trim = np.floor(rng.random((horses, visits)) * keeping.trim_at(calendar.day)).astype(np.int64)
    unknown = rng.random((horses, visits)) < sc.NO_DAYS_SINCE_TRIM

    horse, visit, foot = np.nonzero(measured)
    times = 1 + repeated[horse, visit]
    second = np.arange(times.sum()) - np.repeat(np.cumsum(times) - times, times) == 1
    horse, visit, foot = (np.repeat(code, times) for code in (horse, visit, foot))
    yard = population.yard[horse]
    other = second & by_other[horse, visit]
    return Readings(
        horse=horse,
        visit=visit,
        foot=foot,
        day=calendar.day[horse, visit],
        observer=(calendar.observer[yard, visit] + other) % len(sc.OBSERVERS),
        method=calendar.method[yard, visit],
        replicate=1 + (second & ~other),
        days_since_trim=since_trim[horse, visit],
        trim_day_unknown=unknown[horse, visit],
    )

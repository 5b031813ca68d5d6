"""How the invented horses are kept, in intervals of dates, and what that adds up to over a window of days."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from hoofcohort.simulate import scenario as sc
from hoofcohort.simulate.population import Population, pick_horses

INTERVALS = 3
NEVER = np.iinfo(np.int32).max
LONG_AGO = np.iinfo(np.int32).min


@dataclass(frozen=True)
class Keeping:
    """Management as it was, and which of it is on record. Days count from 1970-01-01.

    Attributes
    ----------
    start, end : int arrays (horses, 3)
        First and last day of each interval; an interval that did not happen starts at ``NEVER``. The first one reaches
        back for ever (what was so on the first day on record had been so before); the last one is open.
    diet, terrain, shoeing : int arrays (horses, 3)
        Codes into the words of ``scenario``.
    trim, turnout : float arrays (horses, 3)
        Trim interval in days, turnout in hours per day.
    record_start : int array (horses,)
        First day on record.
    unrecorded, blank_diet, blank_terrain, blank_trim : bool arrays (horses,)
        Nothing on record; a column left empty.
    """

    start: np.ndarray
    end: np.ndarray
    diet: np.ndarray
    terrain: np.ndarray
    shoeing: np.ndarray
    trim: np.ndarray
    turnout: np.ndarray
    record_start: np.ndarray
    unrecorded: np.ndarray
    blank_diet: np.ndarray
    blank_terrain: np.ndarray
    blank_trim: np.ndarray

    def overlap(self, visit_day: np.ndarray, window_days: int) -> np.ndarray:
        """Return the days of each interval inside the window that ends on the visit; (horses, visits, 3)."""
        first = np.maximum(self.start[:, None, :], visit_day[:, :, None] - window_days + 1)
        last = np.minimum(self.end[:, None, :], visit_day[:, :, None])
        return np.clip(last - first + 1, 0, None)

    def exposures(self, visit_day: np.ndarray, window_days: int) -> dict[str, np.ndarray]:
        """Return shares of days and the mean trim interval under the models' names; arrays (horses, visits)."""
        weight = self.overlap(visit_day, window_days) / window_days
        terms = {"trim_interval_days": (weight * self.trim[:, None, :]).sum(axis=2)}
        for name, codes, words in (("diet", self.diet, sc.DIETS), ("terrain", self.terrain, sc.TERRAINS)):
            for code, word in enumerate(words):
                terms[f"{name}[{word}]"] = (weight * (codes == code)[:, None, :]).sum(axis=2)
        return terms

    def trim_at(self, visit_day: np.ndarray) -> np.ndarray:
        """Return the trim interval in force on the day of the visit; (horses, visits)."""
        return (self.overlap(visit_day, 1) * self.trim[:, None, :]).sum(axis=2)


def draw_keeping(rng: np.random.Generator, population: Population, first_day: int, last_day: int) -> Keeping:
    """Draw each yard's habits, each horse's share in them, and the changes some horses went through."""
    horses = len(population)
    unrecorded, late, blank_diet, blank_terrain, blank_trim = pick_horses(
        rng, horses, [sc.NO_MANAGEMENT, sc.LATE_MANAGEMENT, sc.BLANK_COLUMN, sc.BLANK_COLUMN, sc.BLANK_COLUMN]
    )
    diet, terrain, trim = _habits(rng, population)
    start = _change_days(rng, horses, first_day, last_day, may_change=~late)
    diet, terrain, trim = _apply_changes(rng, diet, terrain, trim)
    record_start = first_day - np.where(late, rng.integers(20, 110, horses), rng.integers(150, 500, horses))
    shoeing = _one_per_row(rng, sc.SHOEING_BY_TERRAIN[terrain[:, 0]])
    turnout = np.clip(np.round(sc.TURNOUT_HOURS[diet] + rng.normal(0, 2, (horses, 1))), 1, 24)
    return Keeping(
        start=start,
        end=np.c_[start[:, 1:] - 1, np.full(horses, NEVER)],
        diet=diet,
        terrain=terrain,
        shoeing=np.repeat(shoeing[:, None], INTERVALS, axis=1),
        trim=trim,
        turnout=turnout,
        record_start=record_start,
        unrecorded=unrecorded,
        blank_diet=blank_diet,
        blank_terrain=blank_terrain,
        blank_trim=blank_trim,
    )


def _habits(rng: np.random.Generator, population: Population) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return each horse's diet, terrain (codes) and trim interval (days) before any change."""
    yards, horses = population.yards, len(population)
    yard_diet = _spread(rng, sc.DIET_HABIT, yards)
    yard_terrain = np.zeros(yards, dtype=np.int64)
    for code, shares in enumerate(sc.TERRAIN_HABIT):
        yard_terrain[yard_diet == code] = _spread(rng, shares, int((yard_diet == code).sum()))
    yard_trim = sc.TRIM_HABIT_DAYS[yard_diet] + rng.normal(0, sc.TRIM_YARD_SD, yards)
    other_diet = _spread(rng, sc.DIET_HABIT, horses)
    diet = np.where(rng.random(horses) < sc.SHARE_OF_OWN_MIND, other_diet, yard_diet[population.yard])
    other_terrain = _one_per_row(rng, sc.TERRAIN_HABIT[diet])
    terrain = np.where(rng.random(horses) < sc.SHARE_OF_OWN_MIND, other_terrain, yard_terrain[population.yard])
    return diet, terrain, _whole_weeks(yard_trim[population.yard] + rng.normal(0, sc.TRIM_HORSE_SD, horses))


def _change_days(
    rng: np.random.Generator, horses: int, first_day: int, last_day: int, may_change: np.ndarray
) -> np.ndarray:
    changes = rng.choice(INTERVALS, size=horses, p=(0.5, 0.34, 0.16)) * may_change
    first_change = rng.integers(first_day - 110, last_day - 20, horses)
    second_change = first_change + rng.integers(28, 110, horses)
    return np.c_[
        np.full(horses, LONG_AGO),
        np.where(changes >= 1, first_change, NEVER),
        np.where(changes >= 2, second_change, NEVER),
    ].astype(np.int64)


def _apply_changes(
    rng: np.random.Generator, diet: np.ndarray, terrain: np.ndarray, trim: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Let one thing change from each interval to the next; returns three (horses, 3) arrays."""
    diets, terrains, trims = [diet], [terrain], [trim]
    for _ in range(INTERVALS - 1):
        what = rng.choice(3, size=len(diet), p=(0.45, 0.25, 0.3))
        step = rng.integers(1, 3, len(diet))
        sign = np.where(trims[-1] >= 70, -1, np.where(trims[-1] <= 35, 1, rng.choice((-1, 1), size=len(diet))))
        diets.append((diets[-1] + step * (what == 0)) % len(sc.DIETS))
        terrains.append((terrains[-1] + step * (what == 1)) % len(sc.TERRAINS))
        trims.append(_whole_weeks(trims[-1] + sign * 7 * step * (what == 2)))
    return np.stack(diets, axis=1), np.stack(terrains, axis=1), np.stack(trims, axis=1)


def _whole_weeks(days: np.ndarray) -> np.ndarray:
    return np.clip(7 * np.round(days / 7), *sc.TRIM_LIMITS_DAYS)


def _spread(rng: np.random.Generator, shares: Sequence[float] | np.ndarray, count: int) -> np.ndarray:
    """Return ``count`` codes in random order whose numbers follow the shares as nearly as whole numbers can."""
    cut_points = np.round(np.cumsum(shares) * count).astype(int)
    return rng.permutation(np.searchsorted(cut_points, np.arange(count), side="right").clip(max=len(shares) - 1))


def _one_per_row(rng: np.random.Generator, probabilities: np.ndarray) -> np.ndarray:
    draws = rng.random(len(probabilities))
    return (draws[:, None] > np.cumsum(probabilities, axis=1)[:, :-1]).sum(axis=1)

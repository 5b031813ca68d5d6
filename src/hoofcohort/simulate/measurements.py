"""Draw the measurements of every reading from the true effects and standard deviations."""

from __future__ import annotations

import numpy as np

from hoofcohort.simulate import scenario as sc
from hoofcohort.simulate.keeping import Keeping
from hoofcohort.simulate.population import Population
from hoofcohort.simulate.truth import MEASURES, Measure
from hoofcohort.simulate.visits import Calendar, Readings

# Score: highest value, base level of the normal score, effect of a term (share of days) on it.
SCORES: dict[str, tuple[int, float, dict[str, float]]] = {
    "horn_new": (4, 0.3, {"diet[concentrate]": -0.7}),
    "horn_old": (4, 0.3, {}),
    "frog_condition": (4, 0.2, {}),
    "bar_overgrowth": (3, -0.2, {}),
    "heel_purchase": (3, 0.0, {}),
    "thrush": (3, -0.5, {"terrain[soft]": 0.8}),
    "wall_cracks": (3, -0.7, {}),
}
BY_HAND_ONLY = ("coronet_circumference_mm", "thrush", "horn_new", "horn_old")


def design_terms(
    population: Population, keeping: Keeping, calendar: Calendar, readings: Readings
) -> dict[str, np.ndarray]:
    """Return the value of every term of the true model for every reading, under the models' names."""
    at_visit = keeping.exposures(calendar.day, sc.WINDOW_DAYS)
    terms = {name: value[readings.horse, readings.visit] for name, value in at_visit.items()}
    terms["age_years"] = decimal_year(readings.day) - population.birth_year[readings.horse]
    terms["body_mass_kg"] = population.body_mass_kg[readings.horse]
    terms["days_since_trim"] = readings.days_since_trim.astype(float)
    terms["fore_hind[hind]"] = (readings.foot >= 2).astype(float)
    terms["observer_id[OBS-B]"] = (readings.observer == 1).astype(float)
    terms["method[photo]"] = (readings.method == 1).astype(float)
    month = readings.day.astype("datetime64[D]").astype("datetime64[M]").astype(np.int64) % 12
    for name, start in (("winter", 11), ("summer", 5), ("autumn", 8)):
        terms[f"season[{name}]"] = ((month - start) % 12 < 3).astype(float)
    return terms


def decimal_year(day: np.ndarray) -> np.ndarray:
    """Return year + (day of the year - 1) / days in the year, from days since 1970-01-01."""
    year = day.astype("datetime64[D]").astype("datetime64[Y]")
    first, following = (y.astype("datetime64[D]").astype(np.int64) for y in (year, year + 1))
    return year.astype(np.int64) + 1970 + (day - first) / (following - first)


def draw_measurements(
    rng: np.random.Generator,
    population: Population,
    calendar: Calendar,
    readings: Readings,
    terms: dict[str, np.ndarray],
) -> dict[str, np.ndarray]:
    """Return every numeric column of the readings, rounded as an observer would; NaN where not measured."""
    raw = {name: _draw(rng, measure, population, calendar, readings, terms) for name, measure in MEASURES.items()}
    columns = _columns(rng, raw)
    columns |= {name: _draw_score(rng, *spec, readings, terms) for name, spec in SCORES.items()}
    for name, values in columns.items():
        lost = rng.random(len(readings)) < (sc.NO_SCORE if name in SCORES else sc.NO_MEASUREMENT)
        if name in BY_HAND_ONLY:
            lost |= readings.method == sc.METHODS.index("photo")
        values[lost] = np.nan
    return columns


def draw_pigment(rng: np.random.Generator, readings: Readings) -> np.ndarray:
    """Return the sole's pigment as a code per reading; it belongs to the foot."""
    per_foot = rng.choice(len(sc.PIGMENTS), size=(readings.horse.max(initial=0) + 1, len(sc.FEET)), p=(0.4, 0.35, 0.25))
    return per_foot[readings.horse, readings.foot]


def _draw(
    rng: np.random.Generator,
    measure: Measure,
    population: Population,
    calendar: Calendar,
    readings: Readings,
    terms: dict[str, np.ndarray],
) -> np.ndarray:
    horses, visits = calendar.day.shape
    yard_sd, horse_sd, foot_sd, visit_sd, residual_sd = measure.sd
    of_horse = (rng.normal(0, yard_sd, population.yards))[population.yard] + rng.normal(0, horse_sd, horses)
    of_foot = rng.normal(0, foot_sd, (horses, len(sc.FEET))) + of_horse[:, None]
    of_visit = rng.normal(0, visit_sd, (horses, visits))
    value = rng.normal(measure.intercept, residual_sd, len(readings))
    value += of_foot[readings.horse, readings.foot] + of_visit[readings.horse, readings.visit]
    for term, effect in measure.effects.items():
        value += effect * terms[term]
    return value


def _columns(rng: np.random.Generator, raw: dict[str, np.ndarray]) -> dict[str, np.ndarray]:
    """Turn what was drawn into the columns an observer writes down."""
    toe = np.round(raw["toe_angle_deg"], 1)
    heel = np.round(toe - raw["heel_underrun_deg"], 1)
    upright = np.sin(np.radians(heel))
    medial = _half(raw["heel_length_mm"] - raw["heel_imbalance_mm"] / 2, least=8)
    lateral = _half(raw["heel_length_mm"] + raw["heel_imbalance_mm"] / 2, least=8)
    setback = raw["heel_setback_mm"] + 0.6 * (raw["heel_underrun_deg"] - 6)
    reading_error = rng.normal(0, 0.8, (2, len(toe)))
    return {
        "toe_angle_deg": toe,
        "heel_angle_deg": heel,
        "pastern_angle_deg": np.round(toe - raw["axis_break_deg"], 1),
        "toe_length_mm": _half(raw["toe_length_mm"]),
        "medial_heel_length_mm": medial,
        "lateral_heel_length_mm": lateral,
        "medial_heel_height_mm": _half(medial * upright + reading_error[0], least=4),
        "lateral_heel_height_mm": _half(lateral * upright + reading_error[1], least=4),
        "hoof_length_mm": _half(raw["hoof_length_mm"]),
        "hoof_width_mm": _half(raw["hoof_width_mm"]),
        "heel_buttress_width_mm": _half(raw["heel_buttress_width_mm"]),
        "heel_setback_mm": _half(setback, least=2),
        "frog_length_mm": _half(raw["frog_length_mm"]),
        "frog_width_mm": _half(raw["frog_width_mm"]),
        "coronet_circumference_mm": _half(raw["coronet_circumference_mm"]),
        "coronet_height_medial_mm": _half(raw["coronet_height_mm"] - raw["coronet_tilt_mm"] / 2),
        "coronet_height_lateral_mm": _half(raw["coronet_height_mm"] + raw["coronet_tilt_mm"] / 2),
    }


def _half(values: np.ndarray, least: float | None = None) -> np.ndarray:
    return np.clip(np.round(values * 2) / 2, least, None)


def _draw_score(
    rng: np.random.Generator,
    highest: int,
    level: float,
    effects: dict[str, float],
    readings: Readings,
    terms: dict[str, np.ndarray],
) -> np.ndarray:
    horses = readings.horse.max(initial=0) + 1
    score = (
        level
        + rng.normal(0, 0.6, horses)[readings.horse]
        + rng.normal(0, 0.4, (horses, 4))[readings.horse, readings.foot]
    )
    score += rng.normal(0, 0.45, len(readings))
    for term, effect in effects.items():
        score += effect * terms[term]
    return np.clip(np.floor(score + highest / 2), 0, highest)

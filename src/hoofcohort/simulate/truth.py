"""What is true of the invented cohort: effects and standard deviations of every simulated measurement.

A measurement of foot f of horse h in yard y at visit v is

    intercept + sum of effect x term + yard_y + horse_h + foot_hf + visit_hv + residual

with independent normal random parts. Terms carry the names the mixed models give them: ``diet[concentrate]`` is the
share of the days of the window with that diet, ``trim_interval_days`` the day-weighted mean over the window.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from hoofcohort.simulate.scenario import WINDOW_DAYS

LEVELS = ("yard", "horse", "foot", "horse:visit", "residual")
REFERENCES = {
    "diet": "hay",
    "terrain": "mixed",
    "fore_hind": "fore",
    "side": "left",
    "observer_id": "OBS-A",
    "method": "gauge",
    "season": "spring",
}
# The reading that ``typical`` describes: references above, and these values.
TYPICAL = {"age_years": 12.0, "body_mass_kg": 500.0, "trim_interval_days": 49.0, "days_since_trim": 21.0}


@dataclass(frozen=True)
class Measure:
    """One simulated measurement.

    Attributes
    ----------
    unit : str
    typical : float
        Mean at the references and at ``TYPICAL``.
    sd : tuple of float
        Standard deviations in the order of ``LEVELS``.
    effects : dict
        Effect per unit of each term.
    step : float
        The observers' rounding.
    source : str
    """

    unit: str
    typical: float
    sd: tuple[float, float, float, float, float]
    effects: dict[str, float] = field(default_factory=dict)
    step: float = 0.5
    source: str = "assumed"

    @property
    def intercept(self) -> float:
        """Mean where every term is zero: horse of age 0 and mass 0, never trimmed; for comparison with a model's."""
        return self.typical - sum(self.effects.get(term, 0.0) * value for term, value in TYPICAL.items())

    def to_dict(self) -> dict:
        """Return the record for the truth file."""
        return {
            "unit": self.unit,
            "intercept": round(self.intercept, 10),
            "typical": self.typical,
            "effects": dict(self.effects),
            "sd": dict(zip(LEVELS, self.sd, strict=True)),
            "rounded_to": self.step,
            "source": self.source,
        }


UNDERRUN = Measure(
    "deg",
    6.0,
    (0.8, 1.4, 1.0, 0.8, 1.0),
    {
        "diet[concentrate]": 2.0,
        "diet[pasture]": -0.5,
        "terrain[hard]": -0.6,
        "terrain[soft]": 0.8,
        "trim_interval_days": 0.06,
        "fore_hind[hind]": -1.0,
        "age_years": 0.05,
        "body_mass_kg": 0.004,
        "days_since_trim": 0.03,
        "observer_id[OBS-B]": 0.4,
        "method[photo]": 0.8,
        "season[summer]": -0.3,
        "season[autumn]": 0.3,
        "season[winter]": 0.2,
    },
    step=0.1,
    source="assumed; no side effect",
)
FROG_WIDTH = Measure(
    "mm",
    62.0,
    (1.5, 3.2, 2.0, 1.2, 2.0),
    {
        "diet[concentrate]": -1.0,
        "diet[pasture]": 1.0,
        "terrain[hard]": 3.5,
        "terrain[soft]": -2.0,
        "trim_interval_days": -0.06,
        "fore_hind[hind]": -4.0,
        "age_years": 0.1,
        "body_mass_kg": 0.03,
        "days_since_trim": 0.02,
        "observer_id[OBS-B]": 0.8,
        "method[photo]": -1.0,
        "season[summer]": 1.0,
        "season[autumn]": 0.5,
        "season[winter]": -0.5,
    },
    source="assumed: frog ratio about 0.58",
)
OUTCOMES = {"heel_underrun_deg": UNDERRUN, "frog_width_mm": FROG_WIDTH}

OTHERS = {
    "toe_angle_deg": Measure(
        "deg",
        50.5,
        (0.8, 3.1, 1.3, 0.4, 0.8),
        {"fore_hind[hind]": 2.5, "days_since_trim": -3.5 / 56},
        step=0.1,
        source="assumed; drift of -3.5 deg in 8 weeks: common practice, no source",
    ),
    "axis_break_deg": Measure("deg", -1.0, (0.3, 2.4, 1.0, 0.5, 1.2), {"fore_hind[hind]": 1.0}, step=0.1),
    "toe_length_mm": Measure(
        "mm", 90.0, (2.0, 7.7, 3.0, 1.0, 1.5), {"body_mass_kg": 0.03, "days_since_trim": 0.15, "fore_hind[hind]": -2.0}
    ),
    "heel_length_mm": Measure("mm", 45.0, (2.0, 6.5, 3.0, 1.0, 1.5), {"days_since_trim": 0.1}),
    "heel_imbalance_mm": Measure("mm", 0.5, (0.3, 1.2, 2.2, 0.3, 1.2)),
    "hoof_length_mm": Measure("mm", 132.0, (1.5, 6.0, 2.0, 0.8, 1.5), {"body_mass_kg": 0.045, "days_since_trim": 0.1}),
    "hoof_width_mm": Measure("mm", 128.0, (1.5, 5.5, 1.8, 0.6, 1.2), {"body_mass_kg": 0.045, "fore_hind[hind]": -7.0}),
    "heel_buttress_width_mm": Measure("mm", 80.0, (1.5, 4.5, 2.2, 0.8, 1.5), {"body_mass_kg": 0.03}),
    "heel_setback_mm": Measure(
        "mm", 24.0, (1.0, 3.0, 1.8, 0.8, 1.5), source="assumed; 0.6 mm more per degree of under-run beyond 6"
    ),
    "frog_length_mm": Measure("mm", 107.0, (1.5, 5.0, 2.0, 0.8, 2.0), {"body_mass_kg": 0.05}),
    "coronet_circumference_mm": Measure("mm", 365.0, (3.0, 16.0, 4.0, 0.6, 0.65), {"body_mass_kg": 0.09}),
    "coronet_height_mm": Measure("mm", 72.0, (1.0, 4.5, 1.8, 0.6, 1.2), {"days_since_trim": 0.08}),
    "coronet_tilt_mm": Measure("mm", 0.0, (0.2, 1.0, 1.8, 0.3, 1.2)),
}
MEASURES = OUTCOMES | OTHERS

FOLLOWS = {
    "heel_angle_deg": "toe_angle_deg - heel_underrun_deg",
    "frog_ratio": "frog_width_mm / frog_length_mm: an effect on width divided by the foot's length (about 107 mm) is "
    "its effect on the ratio; not exactly linear",
    "pastern_angle_deg": "toe_angle_deg - axis_break_deg",
    "medial_heel_length_mm, lateral_heel_length_mm": "heel_length_mm - and + heel_imbalance_mm / 2",
    "medial_heel_height_mm, lateral_heel_height_mm": "heel length x sin(heel angle)",
    "coronet_height_medial_mm, coronet_height_lateral_mm": "coronet_height_mm - and + coronet_tilt_mm / 2",
    "scores": "a normal score per horse, foot and reading, cut at fixed points; recent concentrate feeding lowers "
    "horn_new, soft ground raises thrush; no true effect is stated for them",
}


def truth_record() -> dict:
    """Return the part of the truth file that does not depend on the cohort drawn."""
    return {
        "model": {
            "window_days": WINDOW_DAYS,
            "window": "the days visit - window_days + 1 .. visit: shares of days, mean trim interval over days",
            "references": dict(REFERENCES),
            "typical_values": dict(TYPICAL),
            "levels": list(LEVELS),
            "note": "Effects and standard deviations are assumed, not published. Covariates are not centred.",
        },
        "outcomes": {name: measure.to_dict() for name, measure in OUTCOMES.items()},
        "other_measurements": {name: measure.to_dict() for name, measure in OTHERS.items()},
        "follows": dict(FOLLOWS),
    }

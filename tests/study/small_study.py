"""A study of four horses small enough to count by hand."""

from __future__ import annotations

from copy import deepcopy
from pathlib import Path

import pandas as pd
import yaml

from hoofcohort.plan import OutcomeSettings, parse_plan

DEMO = Path(__file__).parents[2] / "config/demo.yaml"
RAW = yaml.safe_load(DEMO.read_text(encoding="utf-8"))


def settings_of(outcome: str = "toe_angle_deg", **changes: object) -> OutcomeSettings:
    """Return the settings of one outcome of the demo's plan, all lines straight, with some of its keys changed."""
    plan = deepcopy(RAW) | {"shapes": {}, "contrasts": []}
    plan["outcomes"] = {outcome: {"role": "secondary"}}
    return parse_plan(plan | changes).for_outcome(outcome)


def horses_of(yards: dict[str, str], **columns: object) -> pd.DataFrame:
    """Return horses in yards; each has an owner of its own unless told otherwise."""
    frame = pd.DataFrame(
        {
            "horse_id": pd.Series(list(yards), dtype="str"),
            "yard_id": pd.Series(list(yards.values()), dtype="str"),
            "owner_id": pd.Series([f"W{horse}" for horse in yards], dtype="str"),
            "birth_year": pd.Series([2016] * len(yards), dtype="Int64"),
            "sex": pd.Series(["mare"] * len(yards), dtype="str"),
            "body_mass_kg": [500.0] * len(yards),
        }
    )
    return frame.assign(**columns)


def readings_of(rows: list[tuple[str, str, str, float | None]], outcome: str = "toe_angle_deg") -> pd.DataFrame:
    """Return readings: horse, foot, date, value."""
    horse, foot, day, value = zip(*rows, strict=True)
    return pd.DataFrame(
        {
            "horse_id": pd.Series(horse, dtype="str"),
            "foot": pd.Series(foot, dtype="str"),
            "visit_date": pd.to_datetime(list(day)),
            "observer_id": pd.Series(["OBS-A"] * len(rows), dtype="str"),
            "method": pd.Series(["gauge"] * len(rows), dtype="str"),
            "replicate": pd.Series([1] * len(rows), dtype="Int64"),
            "days_since_trim": pd.Series([20] * len(rows), dtype="Int64"),
            outcome: pd.Series(value, dtype="float64"),
            "line": pd.Series(range(2, len(rows) + 2), dtype="Int64"),
        }
    )


def management_of(rows: list[tuple[str, str, str | None, str | None, str | None, float | None]]) -> pd.DataFrame:
    """Return management intervals: horse, from, to, diet, terrain, trim interval."""
    horse, start, end, diet, terrain, trim = zip(*rows, strict=True)
    return pd.DataFrame(
        {
            "horse_id": pd.Series(horse, dtype="str"),
            "from_date": pd.to_datetime(list(start)),
            "to_date": pd.to_datetime(pd.Series(list(end))),
            "diet": pd.Series(diet, dtype="str"),
            "terrain": pd.Series(terrain, dtype="str"),
            "trim_interval_days": pd.Series(trim, dtype="float64"),
            "shoeing": pd.Series(["barefoot"] * len(rows), dtype="str"),
            "turnout_hours": pd.Series([10.0] * len(rows), dtype="float64"),
        }
    )

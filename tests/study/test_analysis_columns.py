"""The analysis table held against the simulation's own state, and two counts that are easy to get wrong."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from small_study import horses_of, management_of, readings_of, settings_of

from hoofcohort.simulate import simulate_cohort
from hoofcohort.study.adjustments import _COMPUTE
from hoofcohort.study.table import build_table
from hoofcohort.tables.variables import VARIABLES

DAY = "2026-06-30"
WINDOW = {"window_days": 10, "adjustments": ["body_mass_kg", "season"], "references": {}}


def test_every_variable_that_a_plan_can_adjust_for_can_be_computed():
    assert _COMPUTE.keys() == VARIABLES.keys()


def test_one_owner_of_two_horses_is_one_owner():
    horses = horses_of({"H1": "Y1", "H2": "Y2"}, owner_id=pd.Series(["W1", "W1"], dtype="str"))
    management = management_of([(horse, "2026-01-01", None, "hay", "mixed", 42.0) for horse in ("H1", "H2")])
    rows = readings_of([("H1", "LF", DAY, 50.0), ("H2", "LF", DAY, 50.0)])
    step = build_table(settings_of(**WINDOW), rows, horses, management).flow[-1]
    assert (step["owners"], step["horses"], step["yards"]) == (1, 2, 2)


def test_the_simulated_cohorts_own_terms_are_found_again():
    """The simulation computes its terms from its own state, not from the tables."""
    cohort = simulate_cohort(seed=7, mistakes=False)
    settings = settings_of("frog_width_mm", minimum_coverage=1.0)
    table = build_table(
        settings, cohort.feet.assign(line=np.arange(len(cohort.feet))), cohort.horses, cohort.management
    )
    truth = cohort.terms.iloc[table.frame["line"].to_numpy()]
    assert len(table.frame) > 300
    for name in ("age_years", "body_mass_kg", "days_since_trim"):
        assert table.frame[name].to_numpy() == pytest.approx(truth[name].to_numpy(), abs=1e-9)
    for name, word in (("season", "summer"), ("season", "autumn"), ("fore_hind", "hind"), ("observer_id", "OBS-B")):
        assert ((table.frame[name] == word).to_numpy() == truth[f"{name}[{word}]"].to_numpy()).all()
    for name, word in (("diet", "concentrate"), ("diet", "pasture"), ("terrain", "hard"), ("terrain", "soft")):
        assert table.frame[f"{name}__{word}"].to_numpy() == pytest.approx(truth[f"{name}[{word}]"].to_numpy())


def test_an_exposure_as_of_the_day_needs_a_record_of_that_day_only():
    management = management_of(
        [
            ("H1", "2026-06-30", None, "hay", "mixed", 40.0),
            ("H2", "2026-01-01", "2026-06-29", "hay", "mixed", 40.0),
        ]
    )
    settings = settings_of(**WINDOW, exposures={"diet": {"form": "as_of", "reference": "hay"}}, interactions=[])
    rows = readings_of([("H1", "LF", DAY, 50.0), ("H2", "LF", DAY, 50.0)])
    table = build_table(settings, rows, horses_of({"H1": "Y1", "H2": "Y1"}), management)
    assert table.frame[["horse_id", "diet"]].to_numpy().tolist() == [["H1", "hay"]]
    assert [step["step"] for step in table.flow] == [
        "accepted readings", "outcome measured", "diet on record", "rows used",
    ]  # fmt: skip

"""A level that the rows cannot carry is left out, and the result says so; every other fault is an error."""

from __future__ import annotations

import pandas as pd
import pytest
from cohorts import cohort_frames, demo_plan

from hoofcohort.errors import ModelError
from hoofcohort.study.fits import fit_models
from hoofcohort.study.levels import Levels, group
from hoofcohort.study.outcome import study_outcome
from hoofcohort.study.table import build_table
from hoofcohort.study.terms import build_terms

SETTINGS = demo_plan().for_outcome("heel_underrun_deg").model_copy(update={"adjustments": ["fore_hind"]})
ALL = Levels(("yard", "horse", "foot"), ("horse:visit",))


def models_of(frames: dict[str, pd.DataFrame]):
    table = build_table(SETTINGS, **frames)
    return fit_models(SETTINGS, table, build_terms(SETTINGS, table))


def test_all_levels_are_kept_where_the_rows_carry_them():
    models = models_of(cohort_frames(3, horses=20, yards=4))
    assert models.levels == ALL
    assert models.adjusted.grouping.names == ("yard", "horse", "foot", "horse:visit")
    assert models.without_also.grouping.names == ("yard", "horse", "foot")


def test_a_single_yard_is_left_out_of_every_model():
    models = models_of(cohort_frames(3, horses=20, yards=1))
    assert models.messages[0].startswith("The level 'yard' was left out of the models: ")
    assert "single group" in models.messages[0]
    for fit in (models.adjusted, *models.unadjusted.values()):
        assert fit.grouping.names == ("horse", "foot", "horse:visit")


def test_with_one_horse_per_yard_the_yard_goes_and_the_horse_stays():
    frames = cohort_frames(3, horses=20)
    horses = frames["horses"]
    models = models_of(frames | {"horses": horses.assign(yard_id="Y-" + horses["horse_id"])})
    assert models.levels.nested == ("horse", "foot")
    assert models.messages[0] == (
        "The level 'yard' was left out of the models: every yard has one horse only, so the two cannot be told apart."
    )


def test_with_one_visit_the_visit_cannot_be_told_from_the_horse():
    frames = cohort_frames(3, horses=40, yards=8, visits=3)
    readings = frames["readings"]
    last = readings.groupby("horse_id")["visit_date"].transform("max")
    models = models_of(frames | {"readings": readings[readings["visit_date"] == last].reset_index(drop=True)})
    assert models.levels.also == ()
    assert models.without_also is None
    assert any(text.startswith("The level 'horse:visit' was left out of the models: ") for text in models.messages)


def test_a_grouping_inside_a_level_goes_with_it():
    left = ALL.without("horse", "for a reason")
    assert (left.nested, left.also) == (("yard", "foot"), ())
    assert left.messages == (
        "The level 'horse' was left out of the models: for a reason.",
        "The level 'horse:visit' was left out with 'horse', inside which it lies.",
    )


def test_an_outcome_without_variation_is_an_error_that_names_it():
    frames = cohort_frames(3, horses=20, yards=4)
    same = frames["readings"].assign(heel_underrun_deg=5.0)
    with pytest.raises(ModelError, match=r"^the model of diet, .*reproduce the outcome exactly"):
        models_of(frames | {"readings": same})


def test_as_many_terms_as_horses_is_refused_and_feet_never_stand_for_horses():
    frames = cohort_frames(3, horses=20, yards=4)
    few = frames["horses"]["horse_id"].iloc[[0, 19]]
    readings = frames["readings"][frames["readings"]["horse_id"].isin(few)]
    result = study_outcome(SETTINGS, readings, frames["horses"], frames["management"])
    assert "the readings of one horse would count as if they were of several" in result.record["not_analysed"]


def test_without_the_horse_its_feet_are_still_its_own():
    frame = build_table(SETTINGS, **cohort_frames(3, horses=20, yards=4)).frame
    feet = len(frame[["horse_id", "foot"]].drop_duplicates())
    for nested in (("yard", "horse", "foot"), ("yard", "foot"), ("foot",)):
        assert group(frame, Levels(nested, ())).sizes()["foot"] == feet

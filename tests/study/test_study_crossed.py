"""A crossed factor of the plan: from the management table's farrier, or the reading's observer, to the record."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from cohorts import cohort_frames, demo_plan
from small_study import management_of, readings_of

from hoofcohort.exposure import exposure_windows
from hoofcohort.study.check import check_with_statsmodels
from hoofcohort.study.fits import fit_models
from hoofcohort.study.outcome import study_outcome
from hoofcohort.study.table import build_table
from hoofcohort.study.terms import build_terms

FARRIERS = np.array(["F-A", "F-B", "F-C", "F-D", "F-E", "F-F"])
SD = 3.0


def settings(**changes):
    plain = {"adjustments": ["fore_hind"], "shapes": {}, "contrasts": [], "crossed": ["farrier_id"]}
    return demo_plan().for_outcome("heel_underrun_deg").model_copy(update=plain | changes)


@pytest.fixture(scope="module")
def frames():
    """A simulated cohort in which invented farriers, shared by its yards, move the outcome."""
    frames = cohort_frames(5, horses=24, yards=6)
    horses, management, readings = (frames[name] for name in ("horses", "management", "readings"))
    rng = np.random.default_rng(5)
    yard = management["horse_id"].map(horses.set_index("horse_id")["yard_id"].str[1:].astype(int)).to_numpy()
    code = np.where(rng.random(len(management)) < 0.8, rng.integers(0, 6, len(management)), yard % 6)
    management = management.assign(farrier_id=pd.Series(FARRIERS[code], dtype="str"))
    on_the_day = exposure_windows(readings, management, 120)["farrier_id"]
    moved = dict(zip(FARRIERS, SD * rng.normal(size=6), strict=True))
    value = readings["heel_underrun_deg"] + on_the_day.map(moved).fillna(0.0)
    return {"horses": horses, "management": management, "readings": readings.assign(heel_underrun_deg=value)}


def models_of(frames, own):
    table = build_table(own, **frames)
    return table, fit_models(own, table, build_terms(own, table))


def test_the_farrier_is_the_one_on_record_on_the_day_of_the_visit():
    kept = [("H1", "2026-01-01", "2026-03-31", "hay", "soft", 42.0), ("H1", "2026-04-01", None, "hay", "soft", 42.0)]
    management = management_of(kept).assign(farrier_id=pd.Series(["F1", "F2"], dtype="str"))
    days = ["2025-12-31", "2026-03-31", "2026-04-01"]
    readings = readings_of([("H1", "LF", day, 50.0) for day in days])
    found = exposure_windows(readings, management, 120)["farrier_id"]
    assert found.isna().tolist() == [True, False, False]
    assert found[1:].tolist() == ["F1", "F2"]
    unrecorded = exposure_windows(readings, management.drop(columns="farrier_id"), 120)["farrier_id"]
    assert unrecorded.isna().all()


def test_a_reading_without_a_farrier_on_record_is_left_out_and_counted(frames):
    management = frames["management"]
    first = management["horse_id"] == management["horse_id"].iloc[0]
    unknown = management.assign(farrier_id=management["farrier_id"].mask(first))
    table = build_table(settings(), **(frames | {"management": unknown}))
    (step,) = [row for row in table.flow if row["step"] == "farrier known"]
    readings = frames["readings"]
    whole = build_table(settings(), **frames)
    same = readings["horse_id"] == management["horse_id"].iloc[0]
    assert step["reason"] == "farrier not on record"
    assert step["lost"] == int((whole.frame["horse_id"] == management["horse_id"].iloc[0]).sum()) > 0
    assert table.missing["farrier_id"] == whole.missing["farrier_id"] + int(same.sum())


def test_every_model_holds_the_factor_and_statsmodels_agrees(frames):
    _, models = models_of(frames, settings())
    for fit in (models.adjusted, *models.unadjusted.values()):
        assert fit.grouping.names == ("yard", "horse", "foot", "horse:visit", "farrier_id")
    assert models.without_also.grouping.names == ("yard", "horse", "foot", "farrier_id")
    assert models.adjusted.variances["farrier_id"] > 1.0
    check = check_with_statsmodels(models.adjusted)
    assert check["available"] and check["converged"], check["warnings"]
    assert check["criterion"]["theirs"] == pytest.approx(check["criterion"]["ours"], abs=0.01)
    for row in check["coefficients"]:
        assert row["theirs"] == pytest.approx(row["ours"], abs=0.02 * row["ours_std_error"])
    (row,) = [row for row in check["variances"] if row["level"] == "farrier_id"]
    assert row["theirs"] == pytest.approx(row["ours"], rel=0.05)


def test_the_record_names_the_factor_and_its_predicted_effects(frames):
    result = study_outcome(settings(), **{key: frames[key] for key in ("readings", "horses", "management")})
    fit = result.record["adjusted"]
    assert fit["groups"]["farrier_id"] == 6
    assert 0 < fit["icc"]["farrier_id"] < 1
    assert result.record["settings"]["crossed"] == ["farrier_id"]
    own = result.effects[result.effects["level"] == "farrier_id"]
    assert own["label"].tolist() == FARRIERS.tolist()
    assert (own["std_error"] > 0).all()


def test_a_factor_that_the_rows_cannot_carry_is_left_out_aloud(frames):
    yards = frames["management"]["horse_id"].map(frames["horses"].set_index("horse_id")["yard_id"])
    same = frames | {"management": frames["management"].assign(farrier_id=yards.astype("str"))}
    _, models = models_of(same, settings())
    assert models.levels.crossed == ()
    assert models.messages[0].startswith(
        "The crossed factor 'farrier_id' was left out of the models: levels 'yard' and 'farrier_id' group the rows in "
        "the same way"
    )


def test_too_large_for_the_independent_check_is_said(frames, monkeypatch):
    from hoofcohort.study import check

    monkeypatch.setattr(check, "MOST_COLUMNS", 50)
    _, models = models_of(frames, settings())
    reason = check_with_statsmodels(models.adjusted)["reason"]
    assert reason.startswith("not run: with a crossed factor all readings are one group, which holds ")

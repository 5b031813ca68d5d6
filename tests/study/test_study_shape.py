"""Curves of numbers and contrasts of words, on simulated cohorts whose truth is known."""

from __future__ import annotations

import numpy as np
import pytest
from cohorts import cohort_frames, demo_plan

from hoofcohort.models import Covariate, Curve
from hoofcohort.models.splines import Polynomial, Spline
from hoofcohort.plan import Contrast, Exposure, Shape
from hoofcohort.study.multiplicity import family_table
from hoofcohort.study.outcome import study_outcome
from hoofcohort.study.shape import shaped

PLAN = demo_plan()
OUTCOME = "heel_underrun_deg"
TRIM = "trim_interval_days"


@pytest.fixture(scope="module")
def frames():
    return cohort_frames(20260301)


def settings_with(shapes, contrasts=(), interactions=(), asked=True):
    own = PLAN.for_outcome(OUTCOME)
    exposures = own.exposures | ({TRIM: Exposure(form="mean")} if TRIM in shapes else {})
    comparison = type(own.comparison)(exposure=TRIM) if TRIM in shapes and asked else own.comparison
    return own.model_copy(
        update={
            "shapes": shapes,
            "contrasts": list(contrasts),
            "interactions": [list(pair) for pair in interactions],
            "exposures": exposures,
            "comparison": comparison,
        }
    )


def bend(days):
    """A curve with its lowest point at 25 days: 0.004 degrees per square day."""
    return 0.004 * (np.asarray(days, float) - 25) ** 2


@pytest.fixture(scope="module")
def bent(frames):
    """The record of a cohort whose outcome is bent over the days since the trim, and its simulated slope per day."""
    readings = frames["readings"].copy()
    readings[OUTCOME] = readings[OUTCOME] + bend(readings["days_since_trim"].to_numpy(float, na_value=np.nan))
    settings = settings_with({"days_since_trim": Shape(form="spline", knots=4)})
    return study_outcome(settings, **(frames | {"readings": readings})).record


@pytest.fixture(scope="module")
def exposed(frames):
    """The record of a study whose exposure of interest has a shape."""
    return study_outcome(settings_with({TRIM: Shape(form="spline", knots=4)}), **frames).record


def test_a_planted_curve_is_recovered_within_its_intervals(bent):
    from hoofcohort.simulate.truth import OUTCOMES

    (curve,) = bent["shapes"]
    assert (curve["variable"], curve["role"], curve["form"]) == ("days_since_trim", "adjustment", "spline")
    slope = OUTCOMES[OUTCOME].effects.get("days_since_trim", 0.0)
    rows = [row for row in curve["grid"] if row["value"] != curve["reference"]]
    assert len(rows) == len(curve["grid"]) - 1 >= 59
    for row in rows:
        away = row["value"] - curve["reference"]
        truth = bend(row["value"]) - bend(curve["reference"]) + slope * away
        assert abs(row["estimate"] - truth) < 3.5 * row["std_error"] + 0.15, row["value"]
    assert curve["nonlinearity"]["p"] < 1e-6


def test_the_curve_is_nothing_at_the_median_and_covers_the_middle_98_percent(bent):
    (curve,) = bent["shapes"]
    (zero,) = [row for row in curve["grid"] if row["value"] == curve["reference"]]
    assert (zero["estimate"], zero["low"], zero["high"], zero["std_error"]) == (0.0, 0.0, 0.0, None)
    values = [row["value"] for row in curve["grid"]]
    assert values == sorted(values)
    assert sum(curve["histogram"]["counts"]) == bent["flow"][-1]["readings"]
    assert curve["histogram"]["edges"][0] <= values[0] < values[-1] <= curve["histogram"]["edges"][-1]


def test_without_a_bend_the_test_of_non_linearity_is_not_that_of_the_slope(frames):
    record = study_outcome(settings_with({"days_since_trim": Shape(form="polynomial", degree=2)}), **frames).record
    (curve,) = record["shapes"]
    assert curve["degree"] == 2
    assert (curve["joint"]["num_df"], curve["nonlinearity"]["num_df"]) == (2, 1)
    assert curve["nonlinearity"]["p"] > 0.01 > curve["joint"]["p"], "the simulation has a slope and no bend"


def test_an_exposures_values_are_compared_with_the_first_the_last_being_of_interest(frames):
    settings = settings_with({TRIM: Shape(form="spline", knots=3, values=[28, 42, 56])})
    record = study_outcome(settings, **frames).record
    own = [row for row in record["effects"] if row["exposure"] == TRIM]
    assert [(row["values"], row["of_interest"]) for row in own] == [([56.0, 28.0], True), ([42.0, 28.0], False)]
    assert own[0]["label"] == "trim interval, 56 v 28 days (mean over the window)"
    assert own[0]["per"] is own[0]["first"] is None
    assert all(row["unadjusted"] and row["adjusted"] for row in own)


def test_percentiles_are_compared_where_the_plan_names_no_values(exposed):
    own = [row for row in exposed["effects"] if row["exposure"] == TRIM]
    (curve,) = exposed["shapes"]
    low, high = own[0]["values"][1], own[0]["values"][0]
    assert [row["values"][1] for row in own] == [low, low] and low < own[1]["values"][0] < high
    assert own[1]["values"][0] == curve["reference"]
    assert "90th v 10th percentile; mean over the window" in own[0]["label"]
    at = {row["value"]: row["estimate"] for row in curve["grid"]}
    inside = np.interp([low, high], list(at), list(at.values()))
    assert own[0]["adjusted"]["estimate"] == pytest.approx(inside[1] - inside[0], abs=0.01)


def test_the_family_holds_the_joint_test_of_all_columns_of_a_curve(exposed):
    (row,) = [row for row in family_table([exposed], PLAN) if row["exposure"] == TRIM and row["outcome"] == OUTCOME]
    (curve,) = exposed["shapes"]
    assert row["num_df"] == curve["joint"]["num_df"] == len(curve["knots"]) - 1
    assert (row["f"], row["den_df"]) == pytest.approx((curve["joint"]["f"], curve["joint"]["den_df"]))
    assert curve["unadjusted"]["joint"]["num_df"] == row["num_df"]


def test_a_curve_that_interacts_is_tested_at_the_average_and_compared_per_word(frames):
    settings = settings_with({TRIM: Shape(form="spline", knots=3, values=[28, 56])}, interactions=[(TRIM, "fore_hind")])
    record = study_outcome(settings, **frames).record
    (curve,) = record["shapes"]
    assert curve["interacts"] == ["fore or hind foot"]
    tests = {row["term"]: row for row in record["adjusted"]["tests"]}
    assert tests[TRIM]["f"] == pytest.approx(curve["joint"]["f"])
    assert tests[f"{TRIM}:fore_hind"]["num_df"] == 2
    whole, fore, hind = [row for row in record["effects"] if row["exposure"] == TRIM]
    assert [row["at"] and row["at"]["value"] for row in (whole, fore, hind)] == [None, "fore", "hind"]
    both = fore["adjusted"]["estimate"] + hind["adjusted"]["estimate"]
    assert whole["adjusted"]["estimate"] == pytest.approx(both / 2)


def test_a_contrast_is_its_weighted_difference_and_thirds_may_be_rounded(frames):
    weights = {"pasture": 0.333, "hay": 0.667, "concentrate": -1.0}
    record = study_outcome(
        settings_with({}, [Contrast(name="mostly hay v concentrate", exposure="diet", weights=weights)]), **frames
    ).record
    rows = {row["label"]: row for row in record["effects"]}
    own = rows["mostly hay v concentrate (all days v all days)"]
    pasture, concentrate = (
        rows[f"{word} v hay (all days v all days)"]["adjusted"]["estimate"] for word in ("pasture", "concentrate")
    )
    assert own["adjusted"]["estimate"] == pytest.approx(0.333 * pasture - concentrate)
    assert not own["of_interest"] and own["unadjusted"] is not None
    rounded = {"pasture": 0.333, "hay": 0.333, "concentrate": -1.0}
    record = study_outcome(settings_with({}, [Contrast(name="c", exposure="diet", weights=rounded)]), **frames).record
    assert record["effects"][2]["weights"] == pytest.approx({"pasture": 0.5, "hay": 0.5, "concentrate": -1.0})


def test_a_contrast_with_a_word_that_does_not_occur_is_told_not_estimated(frames):
    management = frames["management"].assign(diet=frames["management"]["diet"].replace("pasture", "hay"))
    half = {"pasture": 0.5, "hay": 0.5, "concentrate": -1.0}
    settings = settings_with({}, [Contrast(name="half", exposure="diet", weights=half)])
    record = study_outcome(settings, **(frames | {"management": management})).record
    (own,) = [row for row in record["effects"] if row["weights"]]
    assert own["adjusted"] is None
    assert any("'half (all days v all days)' could not be estimated" in text for text in record["messages"])


def test_values_and_knots_that_the_readings_do_not_reach_are_told_or_refused(frames):
    far = study_outcome(settings_with({TRIM: Shape(form="spline", knots=3, values=[28, 300])}), **frames).record
    assert any("at 300 days, beyond the readings used (28 to" in text for text in far["messages"])
    placed = study_outcome(settings_with({TRIM: Shape(form="spline", knots_at=[500, 600, 700])}), **frames).record
    assert placed["not_analysed"].startswith("the knots of trim interval at 500, 600, 700 do not fit its values, ")


def test_too_few_distinct_values_mean_fewer_knots_a_lower_degree_or_a_straight_line_aloud():
    messages: list[str] = []
    few = np.repeat([0.0, 1.0, 2.0, 3.0], [30, 40, 15, 15])
    curve = shaped("x", few, Shape(form="spline", knots=5), "score", messages)
    assert isinstance(curve, Curve) and isinstance(curve.shape, Spline) and len(curve.shape.knots) == 3
    assert messages == ["Quantiles of the score coincide: 3 knots are used instead of 5."]
    three = shaped("x", few[few < 3], Shape(form="polynomial", degree=3), "score", messages)
    assert isinstance(three, Curve) and isinstance(three.shape, Polynomial) and three.shape.degree == 2
    assert messages[1] == "The score has 3 distinct values, too few for degree 3; degree 2 is used."
    two = shaped("x", few[few < 2], Shape(form="spline", knots=4), "score", messages)
    assert type(two) is Covariate
    assert messages[2].endswith("it enters as a straight line.")


def test_a_curve_that_so_few_horses_cannot_tell_is_not_tested_in_part():
    frames = cohort_frames(3, horses=20, yards=5)
    settings = settings_with({TRIM: Shape(form="spline", knots=5)}, interactions=[(TRIM, "age_years"), ("diet", TRIM)])
    settings = settings.model_copy(update={"adjustments": ["age_years", "days_since_trim", "fore_hind"]})
    record = study_outcome(settings, **frames).record
    (curve,) = record["shapes"]
    assert curve["joint"] is curve["nonlinearity"] is None
    assert [row["value"] for row in curve["grid"]] == [curve["reference"]]
    assert any("trim_interval_days[" in text and "was left out" in text for text in record["adjusted"]["messages"])
    assert any("could not be estimated" in text for text in record["messages"])


def test_an_exposure_that_cannot_be_tested_at_all_leaves_the_outcome_analysed():
    shapes = {TRIM: Shape(form="spline", knots=5), "age_years": Shape(form="polynomial", degree=3)}
    shapes["days_since_trim"] = Shape(form="spline", knots=5)
    pairs = [(TRIM, "fore_hind"), (TRIM, "age_years"), ("diet", TRIM)]
    settings = settings_with(shapes, interactions=pairs).model_copy(update={"name": "frog_ratio"})
    record = study_outcome(settings, **cohort_frames(3, horses=14, yards=4)).record
    tests = {row["term"]: row for row in record["adjusted"]["tests"]}
    untested = [name for name in ("diet", TRIM, "age_years") if tests[name]["f"] is None]
    assert untested and all(tests[name]["p"] is None for name in untested)

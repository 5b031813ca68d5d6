import pytest
from invented_results import effect, estimate, fit, model

from hoofcohort.report.text import fits


def test_the_model_is_told_in_one_sentence():
    assert fits.model_sentence(model()) == (
        "Linear mixed model of toe-heel angle difference on diet and trim interval together over the 120 days up "
        "to the "
        "visit, adjusted for age at the visit, with random intercepts for foot within horse within yard, and for "
        "visits of a "
        "horse, which cut across the feet; fitted by restricted maximum likelihood."
    )
    assert fits.groups_sentence(fit()) == (
        "The model used 120 readings, in 8 yards, 30 horses, 110 feet and 60 visits of a horse."
    )


def test_the_model_names_only_levels_that_it_has_and_no_window_without_one():
    kept = [row for row in fit()["variances"] if row["level"] in ("yard", "horse", "residual")]
    results = model(adjusted=fit(variances=kept))
    for exposure in results["settings"]["exposures"].values():
        exposure["form"] = "as_of"
    assert fits.model_sentence(results) == (
        "Linear mixed model of toe-heel angle difference on diet and trim interval together on the day of the visit, "
        "adjusted for age at the visit, with random intercepts for horse within yard; fitted by restricted maximum "
        "likelihood."
    )


def test_the_model_tells_over_which_time_each_exposure_was_taken():
    results = model()
    results["settings"]["exposures"]["diet"]["form"] = "as_of"
    assert fits.model_sentence(results).startswith(
        "Linear mixed model of toe-heel angle difference on diet on the day of the visit, and trim interval over the "
        "120 days up to the visit, together, adjusted for age at the visit, with"
    )


def with_farriers():
    rows = [*fit()["variances"][:-1], {"level": "farrier_id", "variance": 0.49, "sd": 0.7}, fit()["variances"][-1]]
    adjusted = fit(variances=rows, groups=fit()["groups"] | {"farrier_id": 9}, icc=fit()["icc"] | {"farrier_id": 0.08})
    results = model(adjusted=adjusted)
    results["settings"]["crossed"] = ["farrier_id"]
    return results


def test_a_crossed_factor_is_named_with_its_share_of_the_variance():
    results = with_farriers()
    assert fits.model_sentence(results).endswith(
        "with random intercepts for foot within horse within yard, and for visits of a horse, which cut across the "
        "feet, and for farriers, which cut across all of these; fitted by restricted maximum likelihood."
    )
    assert fits.groups_sentence(results["adjusted"]).endswith("60 visits of a horse and 9 farriers.")
    of = "Differences between farriers are a random factor that cuts across the levels (9 farriers): "
    end = " The ICC is the correlation of two readings that have nothing but the farrier in common."
    assert fits.crossed_sentences(results) == [f"{of}SD 0.700 degrees, ICC 0.08.{end}"]
    results["outcome"]["unit"] = "ratio"
    assert fits.crossed_sentences(results) == [f"{of}SD 0.700, ICC 0.08.{end}"]
    results["adjusted"]["variances"][-2] |= {"variance": 0.0, "sd": 0.0}
    assert fits.crossed_sentences(results) == [f"{of}its variance was estimated as zero.{end}"]


def test_a_crossed_factor_that_was_left_out_is_not_told_of():
    results = model()
    results["settings"]["crossed"] = ["observer_id"]
    assert fits.crossed_sentences(results) == fits.crossed_sentences(model()) == []
    assert fits.model_sentence(results) == fits.model_sentence(model())


def test_definition_of_an_index_and_of_a_measurement():
    outcome = {"name": "frog_width_mm", "role": "secondary", "formula": "Width of the frog.", "source": "broad limits"}
    assert fits.definition_sentence(outcome) == "Secondary outcome, measured as it is: Width of the frog."
    assert fits.definition_sentence(model()["outcome"]) == (
        "Primary outcome: toe_angle_deg - heel_angle_deg. Source of the definition: somebody (published)."
    )


def test_a_clean_fit_has_nothing_to_say():
    assert fits.not_done(model()) == []


def test_everything_that_went_wrong_is_said_once():
    adjusted = fit(
        converged=False,
        iterations=1,
        boundary=["yard"],
        dropped_terms=["season[winter]"],
        rows_dropped=1,
        messages=[
            "The variance of level 'yard' was estimated at its boundary, zero.",
            "Level 'yard' has only 4 groups.",
        ],
    )
    assert fits.not_done(model(adjusted=adjusted, messages=["41 readings repeat.", "41 readings repeat."])) == [
        "The search for the variances did not converge after 1 step: the estimates must not be used.",
        "The variance between yards was estimated as zero, the lowest it can be (a singular fit): these data show "
        "no more "
        "difference between yards than the other levels account for. That is not evidence that there is none.",
        "1 column could not be told apart from other columns and had to be left out: season[winter]. Their "
        "estimates do not "
        "exist in these data.",
        "1 row with a missing value was left out of the fit.",
        "Level 'yard' has only 4 groups.",
        "41 readings repeat.",
    ]


def test_variance_and_r2_in_words():
    assert fits.variance_sentence(model()) == (
        "Of the variance that exposures and adjustments leave, the largest part, 50%, lies between horses."
    )
    assert fits.r2_sentence(model()) == (
        "Exposures and adjustments account for 25% of the variance (marginal R²); together with the levels, 86% "
        "(conditional R²; Nakagawa and Schielzeth, Methods Ecol Evol 2013;4:133-142)."
    )
    empty = model(adjusted=fit(r2={"marginal": None, "conditional": None}, variances=[]))
    assert fits.r2_sentence(empty) == "R² could not be computed."
    assert fits.variance_sentence(empty) == "No variance was left over."


def check(**changes):
    row = {"term": "diet", "ours": 2.0, "theirs": 2.0, "ours_std_error": 0.5, "theirs_std_error": 0.5}
    return {
        "available": True,
        "reason": "",
        "library": "statsmodels MixedLM",
        "version": "0.15.0",
        "converged": True,
        "warnings": [],
        "coefficients": [row],
        "variances": [],
    } | changes


@pytest.mark.parametrize(
    ("theirs", "end"),
    [
        (2.0, "agrees: the largest difference between the two in any coefficient is less than 0.001 standard errors."),
        (2.02, "nearly agrees: the largest difference between the two in any coefficient is 0.040 standard errors."),
        (2.5, "DISAGREES: the largest difference between the two in any coefficient is 1.0 standard errors."),
    ],
)
def test_how_far_the_independent_check_agrees(theirs, end):
    row = {"term": "diet", "ours": 2.0, "theirs": theirs, "ours_std_error": 0.5, "theirs_std_error": 0.5}
    said = fits.check_sentence(check(coefficients=[row]))
    assert said == f"statsmodels MixedLM 0.15.0, a separate program given the same model, {end}"


def test_a_check_that_is_none_says_why():
    assert fits.check_sentence(check(available=False, reason="it cannot fit this model.")) == (
        "No independent check by another program: it cannot fit this model."
    )
    assert fits.check_sentence(check(converged=False)) == (
        "statsmodels MixedLM 0.15.0 was given the same model but did not converge, so its numbers are no check."
    )
    assert fits.check_sentence(None) == "No independent check by another program: it was not run."


def without(*estimates):
    rows = [{"exposure": "diet", "label": label, "adjusted": own} for label, own in estimates]
    return {"left_out": ["horse:visit"], "effects": rows}


def test_what_leaving_the_visits_out_would_have_claimed_of_the_comparison_of_interest_first():
    rows = [
        effect(estimate(1.0, 0.0, 4.0, df=50.0), label="pasture v hay", of_interest=False),
        effect(estimate(2.0, 0.0, 4.0, df=120.0), label="concentrate v hay"),
    ]
    most = ("pasture v hay", estimate(1.0, 1.0, 3.0, df=300.0))
    results = model(effects=rows, without_visit=without(most, ("concentrate v hay", estimate(2.0, 0.5, 3.5, df=318.0))))
    assert fits.without_visit_sentence(results) == (
        "Had the visits been left out, the standard error of the comparison of interest, “concentrate v hay”, would "
        "have been 25% smaller, with 318 instead of 120 degrees of freedom: certainty that is not in the data. The "
        "most affected was “pasture v hay”, 50% smaller."
    )
    alone = model(effects=rows[1:], without_visit=results["without_visit"])
    assert fits.without_visit_sentence(alone).endswith("certainty that is not in the data.")
    same = model(effects=rows, without_visit=without(most, ("concentrate v hay", estimate(2.0, 0.0, 4.0, df=40.0))))
    assert fits.without_visit_sentence(same) == (
        "Leaving the visits out would hardly have changed the standard error of the comparison of interest, "
        "“concentrate v hay”, the ratio being 1.00. The most affected was “pasture v hay”, 50% smaller."
    )
    larger = model(effects=rows[1:], without_visit=without(("concentrate v hay", estimate(2.0, -1.0, 5.0, df=110.0))))
    assert "would have been 50% larger, with 110 instead of 120" in fits.without_visit_sentence(larger)
    unnamed = model(effects=rows[:1], without_visit=without(most))
    assert "the standard error of “pasture v hay” would have been 50% smaller" in fits.without_visit_sentence(unnamed)
    assert fits.without_visit_sentence(model()) == "The model without the grouping by visit was not fitted."

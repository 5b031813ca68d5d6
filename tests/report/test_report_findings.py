from invented_results import effect, estimate, fit, model, step

from hoofcohort.report.text.findings import finding


def said(results, p=0.02, tests=6, method="holm"):
    return finding(results, p, tests, method)


def test_a_clear_association_is_told_with_unit_interval_and_adjusted_p_in_that_order():
    assert said(model()) == [
        "Toe-heel angle difference was 2.3° higher (95% interval 1.0° to 3.6° higher) with diet “concentrate” on "
        "all days "
        "of the window than with “hay” on all days.",
        "F test of diet as a whole: p = 0.005, and p = 0.020 by Holm's adjustment for the family's 6 tests.",
        "This rests on 120 readings of 110 feet of 30 horses in 8 yards, with 1 other exposure and 1 further "
        "variable held "
        "constant.",
    ]


def test_a_lower_value_is_told_without_signs():
    first = said(model(effects=[effect(estimate(-2.31, -3.6, -1.02))]))[0]
    assert first == (
        "Toe-heel angle difference was 2.3° lower (95% interval 1.0° to 3.6° lower) with diet “concentrate” on "
        "all days of "
        "the window than with “hay” on all days."
    )


def test_an_interval_around_zero_is_no_clear_association_and_never_no_effect():
    first = said(model(effects=[effect(estimate(0.5, -1.04, 2.06))]))[0]
    assert first == (
        "Toe-heel angle difference: no clear association. With diet “concentrate” on all days of the window, "
        "compared with "
        "“hay” on all days, the estimated difference was 0.5° (95% interval −1.0° to 2.1°): these data agree with "
        "anything "
        "from 1.0° lower to 2.1° higher."
    )


def test_a_number_exposure_is_compared_per_its_step():
    results = model(effects=[effect(estimate(0.9, 0.2, 1.6), exposure="trim_interval_days", label="per 7 days")])
    results["settings"]["comparison"] = {"exposure": "trim_interval_days", "first": None, "second": None}
    first, second, *_ = said(results, p=None)
    assert first == (
        "Toe-heel angle difference was 0.9° higher (95% interval 0.2° to 1.6° higher) with a mean trim interval 7 days "
        "higher than with one lower by that much."
    )
    assert second == "There is no F test of trim interval: its columns could not be estimated."


def test_interval_and_adjusted_p_that_disagree_are_explained():
    assert said(model(), p=0.08)[1] == (
        "F test of diet as a whole: p = 0.005, and p = 0.080 by Holm's adjustment for the family's 6 tests. The "
        "interval, "
        "which is not adjusted, excludes zero; taken among that many tests the evidence is weaker."
    )
    assert said(model(effects=[effect(estimate(0.5, -1.0, 2.0))]), p=0.02)[1].endswith(
        "The test is of all the exposure's values together; this one comparison alone is not clear."
    )


def test_tests_outside_the_family_and_unadjusted_families_say_so():
    assert said(model(), p=None)[1] == (
        "F test of diet as a whole: p = 0.005; secondary outcome, outside the family of adjusted tests."
    )
    assert said(model(), method="none")[1] == (
        "F test of diet as a whole: p = 0.005; the plan asks for no adjustment for its 6 tests."
    )


def test_few_horses_yards_and_degrees_of_freedom_and_a_singular_fit_are_said_in_words():
    results = model(
        flow=[step("accepted readings", readings=30), step("rows used", readings=30, horses=7, yards=1)],
        effects=[effect(estimate(2.31, 1.02, 3.6, df=3.24))],
        adjusted=fit(boundary=["yard"], converged=False),
    )
    assert said(results)[3:] == [
        "The search for the variances did not converge: these numbers must not be used.",
        "With 7 horses (fewer than 10) this is a description, not evidence.",
        "With 1 yard (fewer than 5) differences between yards cannot be told apart from differences in keeping.",
        "The comparison has 3.24 degrees of freedom (fewer than 4): it rests on very few independent units, and "
        "its interval "
        "and p-value are fragile.",
        "The fit is singular: at least one variance was estimated as zero (see the outcome's section).",
    ]


def test_what_could_not_be_estimated_is_said():
    assert said(model(effects=[effect(None)])) == [
        "Toe-heel angle difference: the comparison “concentrate v hay (all days v all days)” could not be "
        "estimated from these data.",
        "This rests on 120 readings of 110 feet of 30 horses in 8 yards, with 1 other exposure and 1 further "
        "variable held constant.",
    ]
    assert said(model(effects=[])) == ["Toe-heel angle difference: the plan names no comparison of interest."]


def test_a_comparison_that_interacts_is_told_averaged_and_then_for_each_value():
    pair = {"first": "concentrate", "second": "hay"}
    at = [{"at": {"variable": "fore_hind", "value": value}, "of_interest": False} for value in ("fore", "hind", "none")]
    rows = [
        effect(estimate(1.5, 0.5, 2.5), **pair, at=None),
        effect(estimate(9.0, 8.0, 10.0), **pair | {"first": "pasture"}, **at[0]),
        effect(estimate(2.0, 1.0, 3.0), **pair, **at[0]),
        effect(estimate(0.1, -1.0, 1.2), **pair, **at[1]),
        effect(None, **pair, **at[2]),
    ]
    first, second, third, *_ = said(model(effects=rows))
    assert first.startswith("Toe-heel angle difference was 1.5° higher")
    assert second == (
        "This difference is averaged over fore or hind foot, with which diet interacts; by fore or hind foot it was: "
        "at fore, 2.0° (95% interval 1.0° to 3.0°); at hind, 0.1° (95% interval −1.0° to 1.2°); at none, not estimable."
    )
    assert third.startswith("F test of diet")


def test_a_limit_near_zero_is_told_with_its_digits():
    assert "(95% interval 0.005° to 2.4° higher)" in said(model(effects=[effect(estimate(1.2, 0.0052, 2.41))]))[0]


def test_findings_claim_no_cause():
    rows = [[effect(estimate(value, value - 1, value + 1))] for value in (-3.0, -0.5, 0.0, 0.5, 3.0)]
    words = " ".join(" ".join(said(model(effects=row), p=p)) for row in rows for p in (None, 0.001, 0.5)).lower()
    for wrong in ("cause", "effect of", "due to", "leads to", "because", "no effect", "makes"):
        assert wrong not in words


def test_below_one_degree_of_freedom_nothing_is_claimed_and_few_horses_are_still_told():
    last = step("rows used", readings=40, horses=6, yards=3)
    found = said(model(effects=[effect(estimate(1.0, -1e150, 1e150, df=0.02))], flow=[last]))
    assert found == [
        "Toe-heel angle difference: the comparison “concentrate v hay (all days v all days)” could not be "
        "estimated from these data; fewer than one degree of freedom was left.",
        "This rests on 40 readings of 110 feet of 6 horses in 3 yards, with 1 other exposure and 1 further "
        "variable held constant.",
        "With 6 horses (fewer than 10) this is a description, not evidence.",
        "With 3 yards (fewer than 5) differences between yards cannot be told apart from differences in keeping.",
    ]

"""The engine against dense matrix algebra, and against changes of the data that must change nothing."""

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from scipy.optimize import minimize

from hoofcohort.errors import ModelError, UnidentifiableLevelError
from hoofcohort.models import Covariate, Factor, Grouping, Shares, build_design, fit_mixed_model
from hoofcohort.models.criterion import evaluate
from hoofcohort.models.inference import _f_approximation
from hoofcohort.models.statistics import sufficient_statistics

TWO_MINIMA = """
0,0,2,-2.6220637274419616,-2.55419652586672
0,1,0,-2.9829441254792126,-3.072690620918536
1,2,0,-0.2893880628541843,-0.481452630393709
2,2,0,-0.9603189412588027,3.944873452962833
1,1,2,1.4268958519838364,1.662530449500541
1,2,2,0.6681162814341169,3.7726270218843765
0,1,1,7.602823108536636,-2.020366111818313
2,2,2,1.0954617525910424,3.9418166095071134
0,1,1,8.283060124642152,-1.7846706470384726
"""
RAGGED = {"yards": 5, "horses": 4, "feet": 4, "visits": 3, "kept": 0.8}


def cohort(seed, yards, horses, feet, visits, kept):
    """Return labels, explanatory columns and an outcome of a ragged cohort, horse numbers restarting in each yard."""
    rng = np.random.default_rng(seed)
    shape = (yards, horses, feet, visits)
    yard, horse, foot, visit = (index.ravel() for index in np.indices(shape))
    keep = rng.random(len(yard)) < kept
    effect = rng.normal(0, 1, shape[0])[yard] + rng.normal(0, 1.5, shape[:2])[yard, horse]
    effect += (
        rng.normal(0, 0.8, shape[:3])[yard, horse, foot] + rng.normal(0, 1, (yards, horses, visits))[yard, horse, visit]
    )
    trim = rng.uniform(3, 12, (yards, horses, visits))[yard, horse, visit]
    diet = rng.integers(0, 3, (yards, horses))[yard, horse]
    y = 10 + 0.5 * trim + (diet == 1) + effect + rng.normal(0, 0.7, len(yard))
    labels = {"yard": yard[keep], "horse": horse[keep], "foot": foot[keep], "visit": visit[keep]}
    return labels, trim[keep], diet[keep], y[keep]


def grouping_of(labels, levels=("yard", "horse", "foot"), also=("horse:visit",)):
    return Grouping.from_labels(
        {name: labels[name] for name in levels}, {name: labels[name.split(":")[1]] for name in also}
    )


def design_of(trim, diet):
    return build_design([Covariate("trim", trim), Factor("diet", diet, ("a", "b", "c"))], ["trim", "diet"])


def dense(statistics_columns, grouping, variances, restricted):
    """-2 log likelihood from the whole covariance matrix."""
    x, y = statistics_columns[:, :-1], statistics_columns[:, -1]
    v = np.eye(len(y)) * variances[0]
    for code, variance in zip(grouping.codes, variances[1:], strict=True):
        v += variance * (code[:, None] == code)
    inverse = np.linalg.inv(v)
    fixed = x.T @ inverse @ x
    rest = y - x @ np.linalg.solve(fixed, x.T @ inverse @ y)
    value = np.linalg.slogdet(v)[1] + rest @ inverse @ rest
    degrees = len(y) - x.shape[1] if restricted else len(y)
    return value + degrees * np.log(2 * np.pi) + (np.linalg.slogdet(fixed)[1] if restricted else 0)


STRUCTURES = [
    (("yard", "horse", "foot"), ("horse:visit",)),
    (("yard", "horse", "foot"), ()),
    (("yard", "horse"), ("horse:foot", "horse:visit")),
    (("yard", "horse"), ("yard:visit",)),
    (("horse",), ("horse:visit",)),
    (("yard", "horse", "foot"), ("horse:visit", "yard:visit")),
]


@pytest.mark.parametrize(("levels", "also"), STRUCTURES)
@pytest.mark.parametrize("restricted", [True, False])
def test_criterion_and_derivatives_equal_dense_algebra(levels, also, restricted):
    labels, trim, diet, y = cohort(3, **RAGGED)
    grouping = grouping_of(labels, levels, also)
    columns = np.column_stack([design_of(trim, diet).matrix, y])
    statistics = sufficient_statistics(columns, grouping)
    variances = np.random.default_rng(1).uniform(0.2, 2.0, 1 + len(grouping.names))
    here = evaluate(statistics, variances, restricted)
    assert here.criterion == pytest.approx(dense(columns, grouping, variances, restricted), rel=1e-10)
    step = 1e-4
    for k in range(len(variances)):
        up, down = variances.copy(), variances.copy()
        up[k] += step
        down[k] -= step
        slope = (dense(columns, grouping, up, restricted) - dense(columns, grouping, down, restricted)) / (2 * step)
        assert here.gradient[k] == pytest.approx(slope, rel=1e-5, abs=1e-5)
        bend = evaluate(statistics, up, restricted).gradient - evaluate(statistics, down, restricted).gradient
        bend /= 2 * step
        np.testing.assert_allclose(here.hessian[k], bend, rtol=1e-5, atol=1e-5)


def test_expected_information_equals_the_trace_formula():
    labels, trim, diet, y = cohort(4, **RAGGED)
    grouping = grouping_of(labels)
    x = design_of(trim, diet).matrix
    variances = np.array([0.5, 1.0, 2.0, 0.7, 0.0])
    here = evaluate(sufficient_statistics(np.column_stack([x, y]), grouping), variances, True)
    parts = [np.eye(len(y)), *((code[:, None] == code).astype(float) for code in grouping.codes)]
    inverse = np.linalg.inv(sum(s * g for s, g in zip(variances, parts, strict=True)))
    p = inverse - inverse @ x @ np.linalg.solve(x.T @ inverse @ x, x.T @ inverse)
    expected = [[np.trace(p @ a @ p @ b) for b in parts] for a in parts]
    np.testing.assert_allclose(here.expected, expected, rtol=1e-9)


def test_pooled_blocks_give_the_answer_of_single_ones(monkeypatch):
    labels, trim, diet, y = cohort(5, 60, 5, 2, 2, 1.0)
    grouping = grouping_of(labels)
    columns = np.column_stack([design_of(trim, diet).matrix, y])
    pooled = sufficient_statistics(columns, grouping)
    monkeypatch.setattr("hoofcohort.models.statistics._compress", lambda sums, pattern, patterns: (sums, pattern))
    single = sufficient_statistics(columns, grouping)
    assert len(pooled.sums) < len(single.sums) == 300
    variances = np.array([0.5, 1.0, 2.0, 0.7, 0.4])
    np.testing.assert_allclose(
        evaluate(pooled, variances, True).hessian, evaluate(single, variances, True).hessian, rtol=1e-9
    )


@pytest.mark.parametrize("seed", [0, 1])
def test_optimum_is_that_of_a_general_optimiser(seed):
    labels, trim, diet, y = cohort(seed, **RAGGED | {"yards": 3})
    grouping = grouping_of(labels)
    design = design_of(trim, diet)
    fit = fit_mixed_model(y, design, grouping)
    columns = np.column_stack([design.matrix, y])
    found = minimize(
        lambda log_s: dense(columns, grouping, np.exp(log_s), True), np.zeros(5), method="Nelder-Mead",
        options={"maxiter": 1500, "xatol": 1e-6, "fatol": 1e-9},
    )  # fmt: skip
    assert fit.optimum.converged
    assert fit.criterion <= found.fun + 1e-6


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(seed=st.integers(0, 10_000), shift=st.floats(-1e4, 1e4), scale=st.floats(1e-3, 1e3))
def test_order_names_shift_and_scale(seed, shift, scale):
    labels, trim, diet, y = cohort(seed, **RAGGED)
    rng = np.random.default_rng(seed)
    plain = fit_mixed_model(y, design_of(trim, diet), grouping_of(labels)).to_dict()
    order = rng.permutation(len(y))
    names = np.array([f"name {place}" for place in rng.permutation(40)])
    renamed = {key: names[value[order]] for key, value in labels.items()}
    moved = fit_mixed_model(
        shift + scale * y[order], design_of(trim[order], diet[order]), grouping_of(renamed)
    ).to_dict()
    for a, b in zip(plain["variances"], moved["variances"], strict=True):
        assert b["variance"] == pytest.approx(scale**2 * a["variance"], rel=1e-6, abs=1e-9 * scale**2)
    for place, (a, b) in enumerate(zip(plain["coefficients"], moved["coefficients"], strict=True)):
        expected = scale * a["estimate"] + (shift if place == 0 else 0)
        assert b["estimate"] == pytest.approx(expected, rel=1e-6, abs=1e-7 * (scale + abs(shift)))
        assert b["std_error"] == pytest.approx(scale * a["std_error"], rel=1e-6)
        assert b["df"] == pytest.approx(a["df"], rel=1e-5)
    assert moved["boundary"] == plain["boundary"]


def test_one_hot_shares_are_a_factor():
    labels, trim, diet, y = cohort(8, **RAGGED)
    grouping = grouping_of(labels)
    terms = ["trim", "diet", "fore", "diet:fore"]
    others = [Covariate("trim", trim), Factor("fore", (labels["foot"] < 2).astype(int), ("no", "yes"))]
    words = Factor("diet", diet, ("a", "b", "c"))
    factor = fit_mixed_model(y, build_design([*others, words], terms), grouping)
    whole = Shares("diet", np.eye(3)[diet], ("a", "b", "c"))
    shares = fit_mixed_model(y, build_design([*others, whole], terms), grouping)
    assert shares.design.names == factor.design.names
    np.testing.assert_allclose(shares.coefficients, factor.coefficients, rtol=1e-10)
    for term, test in factor.tests().items():
        assert shares.tests()[term].f == pytest.approx(test.f, rel=1e-9)


def test_columns_span_the_same_space_however_the_terms_are_written():
    labels, trim, diet, y = cohort(9, **RAGGED)
    fore = (labels["foot"] < 2).astype(int)
    variables = [Factor("diet", diet, ("a", "b", "c")), Factor("fore", fore, ("no", "yes")), Covariate("trim", trim)]
    whole = fit_mixed_model(y, build_design(variables, ["diet", "fore", "diet:fore"]), grouping_of(labels), "ml")
    for terms, intercept in (
        [["diet:fore"], False],
        [["diet", "diet:fore"], True],
        [["fore", "fore:diet"], False],
    ):
        other = fit_mixed_model(y, build_design(variables, terms, intercept), grouping_of(labels), "ml")
        assert len(other.coefficients) == 6
        assert other.criterion == pytest.approx(whole.criterion, abs=1e-8)


def test_the_f_approximation_is_usable_or_not_given():
    """With much uncertainty in the variances (A2 near q) Kenward and Roger's F has no degrees of freedom."""
    broken = 0
    for q in (2, 3, 5):
        for second in np.linspace(0.01, 2 * q, 50):
            for first in np.linspace(0.5, 1.0, 5) * q * second:
                df, scale = _f_approximation(q, first, second)
                assert (df > 0 and scale > 0) or (np.isnan(df) and np.isnan(scale))
                broken += np.isnan(df)
    assert 0 < broken < 750


def test_an_f_test_that_breaks_down_is_said_to(monkeypatch):
    labels, trim, diet, y = cohort(3, **RAGGED)
    monkeypatch.setattr("hoofcohort.models.inference._f_approximation", lambda q, first, second: (np.nan, np.nan))
    record = fit_mixed_model(y, design_of(trim, diet), grouping_of(labels)).to_dict()
    tests = {test["term"]: test for test in record["tests"]}
    assert (tests["diet"]["f"], tests["diet"]["den_df"], tests["diet"]["p"]) == (None, None, None)
    assert tests["trim"]["f"] > 0
    (message,) = [text for text in record["messages"] if "F test" in text]
    assert message.startswith("The F test of 'diet' cannot be given: with so few groups")


def test_the_better_of_two_minima_is_found():
    """A criterion with two minima; R's lmer (lme4 1.1-31) finds the lower one, 34.2768."""
    rows = [line.split(",") for line in TWO_MINIMA.split()]
    h, f, v = (np.array(column) for column in list(zip(*rows, strict=True))[:3])
    x, y = (np.array(column, float) for column in list(zip(*rows, strict=True))[3:])
    grouping = Grouping.from_labels({"h": h, "f": f}, {"h:v": v})
    fit = fit_mixed_model(y, build_design([Covariate("x", x)], ["x"]), grouping)
    assert fit.optimum.converged
    assert fit.criterion == pytest.approx(34.2768, abs=1e-4)


def test_an_outcome_constant_within_its_groups_is_refused():
    horse = np.repeat(np.arange(8), 3)
    trim = np.random.default_rng(1).uniform(3, 9, 24)
    with pytest.raises(ModelError, match="does not vary within their groups"):
        fit_mixed_model(
            horse**2 % 7.0, build_design([Covariate("trim", trim)], ["trim"]), Grouping.from_labels({"horse": horse})
        )


def test_refusals_name_the_level_and_the_reason():
    labels, trim, diet, y = cohort(10, **RAGGED)
    design = design_of(trim, diet)
    one_yard = labels | {"yard": np.zeros(len(y))}
    with pytest.raises(UnidentifiableLevelError, match="level 'yard' has a single group"):
        fit_mixed_model(y, design, grouping_of(one_yard))
    with pytest.raises(UnidentifiableLevelError, match="levels 'foot' and 'horse:twin' group the rows in the same way"):
        fit_mixed_model(y, design, grouping_of(labels | {"twin": labels["foot"]}, also=("horse:twin",)))
    yard_term = build_design([Factor("yard", labels["yard"], tuple("abcde"))], ["yard"])
    with pytest.raises(UnidentifiableLevelError, match="variance of level 'yard'") as error:
        fit_mixed_model(y, yard_term, grouping_of(labels))
    assert error.value.level == "yard"
    with pytest.raises(ModelError, match="reproduce the outcome exactly"):
        fit_mixed_model(3 * trim, design, grouping_of(labels))
    with pytest.raises(ModelError, match="missing or not finite"):
        fit_mixed_model(np.where(trim > 11, np.nan, y), design, grouping_of(labels))
    with pytest.raises(ModelError, match="restricted maximum likelihood only"):
        fit_mixed_model(y, design, grouping_of(labels), method="ml", df="kenward-roger")
    with pytest.raises(ModelError, match="no variable 'trm'; did you mean 'trim'"):
        build_design([Covariate("trim", trim)], ["trm"])

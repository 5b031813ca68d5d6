"""Profile-likelihood intervals: R's, dense matrix algebra, balanced designs in closed form, and their coverage."""

import json

import numpy as np
import pytest
from scipy.optimize import brentq, minimize, minimize_scalar
from scipy.stats import chi2
from test_engine import RAGGED, TWO_MINIMA, cohort, dense, design_of, grouping_of
from test_reference import build_parser

from hoofcohort.commands.model import fit_from
from hoofcohort.errors import ModelError
from hoofcohort.models import Covariate, Grouping, build_design, fit_mixed_model
from hoofcohort.models.profile import profile_intervals
from reference import REFERENCE, prepared

PROFILES = json.loads((REFERENCE / "profiles.json").read_text())["models"]
QUANTILE = chi2.ppf(0.95, 1)
STOPPED_EARLY = [("dyestuff2_null", "(Intercept)")]
"""R's optimiser stopped short here: at its ends the deviance, minimised in closed form below, is under the quantile."""


def intercept_only(rows):
    return build_design([], [], True, rows=rows)


def one_way(seed, groups, size, sd):
    rng = np.random.default_rng(seed)
    group = np.repeat(np.arange(groups), size)
    y = rng.normal(0, sd, groups)[group] + rng.normal(0, 1, groups * size)
    return y, Grouping.from_labels({"horse": group})


@pytest.mark.parametrize("case", PROFILES)
def test_agrees_with_r(case, tmp_path):
    arguments, groups = prepared(case, tmp_path)
    fit = fit_from(build_parser().parse_args([*arguments, "--method", "ml", "--out", ""]))[0]
    found, expected = profile_intervals(fit), PROFILES[case]
    theirs = dict(zip(expected["sd_names"], expected["sd_ci"], strict=True))
    pairs = [(sd, theirs[name]) for sd, name in zip(found.sds.values(), [*groups, "Residual"], strict=True)]
    for name, ours, ends in zip(expected["coef_names"], found.coefficients.values(), expected["coef_ci"], strict=True):
        if (case, name) not in STOPPED_EARLY:
            pairs.append((ours, ends))
    for ours, (low, high) in pairs:
        assert [ours.low, ours.high] == pytest.approx([low, high], abs=1e-6 * (high - low))
        assert (ours.low == 0) == (low == 0)
    assert found.messages == ()


def test_where_r_stopped_early_the_ends_are_those_of_the_closed_form(tmp_path):
    arguments, _ = prepared("dyestuff2_null", tmp_path)
    fit = fit_from(build_parser().parse_args([*arguments, "--method", "ml", "--out", ""]))[0]
    y = fit.outcome.reshape(6, 5)[np.argsort(fit.grouping.codes[0][::5])]

    def deviance(mean):
        rows, groups = y.size, len(y)
        within, between = ((y - y.mean(1, keepdims=True)) ** 2).sum(), 5 * ((y.mean(1) - mean) ** 2).sum()

        def at(ratio):
            rest = within + between / (1 + 5 * ratio)
            return groups * np.log(1 + 5 * ratio) + rows * (1 + np.log(2 * np.pi * rest / rows))

        return min(at(0.0), minimize_scalar(at, bounds=(0, 5), method="bounded", options={"xatol": 1e-12}).fun)

    base = deviance(y.mean())
    ours = profile_intervals(fit).coefficients["(intercept)"]
    assert deviance(ours.low) - base == pytest.approx(QUANTILE, abs=1e-8)
    assert deviance(ours.high) - base == pytest.approx(QUANTILE, abs=1e-8)
    assert deviance(PROFILES["dyestuff2_null"]["coef_ci"][0][0]) - base < QUANTILE - 0.004


def balanced_criterion(y, groups, size):
    """-2 log restricted likelihood of a balanced one-way layout at a share, less what does not depend on it."""
    table = y.reshape(groups, size)
    within = ((table - table.mean(1, keepdims=True)) ** 2).sum()
    between = size * ((table.mean(1) - table.mean()) ** 2).sum()
    rows = groups * size

    def at(share):
        factor = 1 + size * share / (1 - share)
        rest = within + between / factor
        return (groups - 1) * np.log(factor) + (rows - 1) * np.log(rest)

    return at


@pytest.mark.parametrize(("seed", "groups", "size", "sd"), [(0, 12, 4, 1.0), (1, 5, 3, 2.0), (2, 2, 6, 3.0)])
def test_icc_of_a_balanced_one_way_layout_is_the_closed_form(seed, groups, size, sd):
    y, grouping = one_way(seed, groups, size, sd)
    found = profile_intervals(fit_mixed_model(y, intercept_only(len(y)), grouping)).icc
    at = balanced_criterion(y, groups, size)
    best = minimize_scalar(at, bounds=(0, 1 - 1e-9), method="bounded", options={"xatol": 1e-13})

    def rise(share):
        return at(share) - best.fun - QUANTILE

    share = found["horse"]
    assert share.estimate == pytest.approx(best.x, abs=1e-6)
    assert share.high == pytest.approx(brentq(rise, best.x, 1 - 1e-12, xtol=1e-14), abs=1e-7)
    low = brentq(rise, 0, best.x, xtol=1e-14) if rise(0) > 0 else 0.0
    assert share.low == pytest.approx(low, abs=1e-7)
    rest = found["residual"]
    assert [rest.low, rest.high] == pytest.approx([1 - share.high, 1 - share.low], abs=1e-7)


def dense_least(columns, grouping, held, restricted, starts, smallest=-20):
    """Least of the dense criterion over the logarithms of the free variances; ``held`` completes them."""
    return min(
        minimize(
            lambda logs: dense(columns, grouping, held(np.exp(np.clip(logs, smallest, 9))), restricted), np.log(start),
            method="Nelder-Mead", options={"xatol": 1e-6, "fatol": 1e-8, "maxiter": 1000},
        ).fun
        for start in starts
    )  # fmt: skip


def with_variance(k, sd):
    return lambda free: np.insert(free, k, sd**2)


def with_share(k, share):
    return lambda free: np.insert(free, k, free.sum() * share / (1 - share))


def with_farriers():
    labels, trim, diet, y = cohort(5, **RAGGED | {"yards": 3})
    rng = np.random.default_rng(2)
    farrier = rng.integers(0, 6, len(y))
    grouping = Grouping.from_labels({"horse": labels["horse"]}, {"horse:foot": labels["foot"]}, {"farrier": farrier})
    return y + rng.normal(0, 1, 6)[farrier], design_of(trim, diet), grouping


def with_visits():
    labels, trim, diet, y = cohort(6, **RAGGED | {"yards": 3})
    return y, design_of(trim, diet), grouping_of(labels, ("horse", "foot"), ("horse:visit",))


@pytest.mark.parametrize(("data", "restricted"), [(with_visits, True), (with_visits, False), (with_farriers, True)])
def test_ends_of_three_groupings_agree_with_dense_algebra(data, restricted):
    y, design, grouping = data()
    fit = fit_mixed_model(y, design, grouping, "reml" if restricted else "ml")
    found = profile_intervals(fit)
    columns = np.column_stack([design.matrix, y])
    estimate = np.array([fit.variances[name] for name in ("residual", *grouping.names)])
    base = dense(columns, grouping, estimate, restricted)
    checked = 0
    for k, name in enumerate(["residual", *grouping.names]):
        others = np.maximum(np.delete(estimate, k), 0.01)
        starts = [others, np.roll(others, 1)]
        held = [with_variance(k, end) for end in (found.sds[name].low, found.sds[name].high) if end > 0]
        held += [with_share(k, end) for end in (found.icc[name].low, found.icc[name].high) if end > 0]
        for complete in held:
            value = dense_least(columns, grouping, complete, restricted, starts)
            assert value - base == pytest.approx(QUANTILE, abs=1e-4)
            checked += 1
    assert checked >= 12
    assert bool(found.coefficients) is not restricted


def test_follows_the_unit_of_the_outcome():
    labels, trim, diet, y = cohort(7, **RAGGED | {"yards": 3})
    grouping, design = grouping_of(labels), design_of(trim, diet)
    plain = profile_intervals(fit_mixed_model(y, design, grouping, "ml"))
    moved = profile_intervals(fit_mixed_model(500 - 0.01 * y, design, grouping, "ml"))
    for name, sd in plain.sds.items():
        assert vars(moved.sds[name]) == pytest.approx({key: 0.01 * end for key, end in vars(sd).items()}, rel=1e-6)
        assert moved.variances[name].high == pytest.approx(moved.sds[name].high ** 2)
        assert vars(moved.icc[name]) == pytest.approx(vars(plain.icc[name]), rel=1e-6)
    ours, other = plain.coefficients["trim"], moved.coefficients["trim"]
    assert [other.low, other.high] == pytest.approx([-0.01 * ours.high, -0.01 * ours.low], rel=1e-6)


def test_variance_at_zero_has_an_interval_from_zero_and_the_residual_may_be_everything():
    y, grouping = one_way(5, 10, 4, 0.0)
    fit = fit_mixed_model(y, intercept_only(40), grouping)
    assert fit.boundary == ["horse"]
    found = profile_intervals(fit)
    assert (found.sds["horse"].low, found.sds["horse"].estimate) == (0, 0)
    assert found.sds["horse"].high > 0
    assert (found.icc["horse"].low, found.icc["residual"].high) == (0, 1)
    at = balanced_criterion(y, 10, 4)
    for end in (found.icc["horse"].high, 1 - found.icc["residual"].low):
        assert at(end) - at(0.0) == pytest.approx(QUANTILE, abs=1e-6)


def test_a_higher_confidence_gives_a_wider_interval_that_may_know_no_upper_end():
    y, grouping = one_way(2, 2, 6, 3.0)
    fit = fit_mixed_model(y, intercept_only(12), grouping)
    usual, wide = profile_intervals(fit), profile_intervals(fit, 0.9999999)
    assert usual.confidence == 0.95
    assert usual.messages == ()
    assert np.isfinite(usual.sds["horse"].high)
    assert wide.sds["residual"].low < usual.sds["residual"].low < usual.sds["residual"].high < wide.sds["residual"].high
    assert wide.sds["horse"].high == wide.variances["horse"].high == np.inf
    assert wide.messages == ("The data set no upper limit to the variance of level 'horse'.",)


def test_two_minima_are_both_followed():
    """At every end the dense criterion, minimised from many starts, has risen by the quantile."""
    rows = [line.split(",") for line in TWO_MINIMA.split()]
    h, f, v = (np.array(column) for column in list(zip(*rows, strict=True))[:3])
    x, y = (np.array(column, float) for column in list(zip(*rows, strict=True))[3:])
    grouping = Grouping.from_labels({"h": h, "f": f}, {"h:v": v})
    design = build_design([Covariate("x", x)], ["x"])
    fit = fit_mixed_model(y, design, grouping)
    columns = np.column_stack([design.matrix, y])
    found = profile_intervals(fit)
    starts = np.exp(np.random.default_rng(0).uniform(-3, 4, (3, 3)))
    checked = 0
    for k, name in enumerate(["residual", *grouping.names]):
        held = [with_variance(k, end) for end in (found.sds[name].low, found.sds[name].high) if end > 0]
        held += [with_share(k, end) for end in (found.icc[name].low, found.icc[name].high) if end > 0]
        for complete in held:
            value = dense_least(columns, grouping, complete, True, starts, -9)
            assert value - fit.criterion == pytest.approx(QUANTILE, abs=0.01)
            checked += 1
    assert checked == 8
    assert found.sds["residual"].low == 0
    assert found.messages == ("The data set no lower limit above zero to the residual variance.",)


def test_refuses_a_confidence_outside_zero_to_one():
    y, grouping = one_way(0, 6, 3, 1.0)
    with pytest.raises(ModelError, match="confidence must lie between 0 and 1, found 95"):
        profile_intervals(fit_mixed_model(y, intercept_only(18), grouping), 95)


@pytest.mark.slow
def test_intervals_of_the_share_hold_the_truth_as_often_as_they_say():
    """2,000 invented cohorts of 30 horses with 4 readings and a true share of one half."""
    inside = 0
    for seed in range(2000):
        y, grouping = one_way(seed, 30, 4, 1.0)
        share = profile_intervals(fit_mixed_model(y, intercept_only(120), grouping)).icc["horse"]
        inside += share.low <= 0.5 <= share.high
    assert inside / 2000 == pytest.approx(0.95, abs=0.015)

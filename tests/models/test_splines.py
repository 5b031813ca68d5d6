"""Splines and polynomials against R's natural splines in the same mixed models, and against their definition."""

import json
from functools import cache
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from hoofcohort.errors import ModelError
from hoofcohort.models import Covariate, Curve, Factor, Grouping, build_design, fit_mixed_model
from hoofcohort.models.splines import Polynomial, Spline, carries, polynomial, quantile_knots

REFERENCE = Path(__file__).parents[1] / "reference"
R = json.loads((REFERENCE / "shapes.json").read_text())


@cache
def rows():
    table = pd.read_csv(REFERENCE / "data" / "default_model.csv", dtype={"yard": str, "horse": str, "foot": str})
    return table[table["underrun"].notna()]


def fit(shape, terms=("trim", "concentrate", "fore_hind"), method="reml"):
    table = rows()
    design = build_design(
        [
            Curve("trim", table["trim"].to_numpy(), shape),
            Covariate("concentrate", table["concentrate"].to_numpy()),
            Factor("fore_hind", (table["fore_hind"] == "hind").to_numpy().astype(int), ("fore", "hind")),
        ],
        terms,
    )
    grouping = Grouping.from_labels(
        {name: table[name].to_numpy() for name in ("yard", "horse", "foot")},
        {"horse:visit": table["visit"].to_numpy()},
    )
    return fit_mixed_model(table["underrun"].to_numpy(), design, grouping, method=method)


@cache
def shaped(kind):
    shape = Spline(tuple(map(float, R["spline"]["knots"]))) if kind == "spline" else polynomial(rows()["trim"], 2)
    return fit(shape), fit(shape, method="ml")


def close(found, expected, rtol):
    for key in ("num_df", "den_df", "f", "p"):
        assert getattr(found, key) == pytest.approx(expected[key], rel=rtol), key


@pytest.mark.parametrize("kind", ["spline", "polynomial"])
def test_the_model_is_that_of_r(kind):
    reml, ml = shaped(kind)
    expected = R[kind]
    assert ml.criterion == pytest.approx(expected["ml_criterion"], abs=1e-7)
    assert np.abs(reml.fixed_fitted - expected["fixed_fitted"]).max() < 1e-5
    groups = {"yard": "yard", "horse": "yard:horse", "foot": "yard:horse:foot", "horse:visit": "yard:horse:visit"}
    variances = {row["grp"]: row["vcov"] for row in expected["variances"]}
    for level, name in groups.items():
        assert reml.variances[level] == pytest.approx(variances[name], rel=2e-5)


@pytest.mark.parametrize("kind", ["spline", "polynomial"])
def test_joint_tests_of_the_curve_and_of_non_linearity_are_those_of_r(kind):
    reml, _ = shaped(kind)
    functions = reml.design.basis_functions("trim")
    close(reml.joint_test(functions), R[kind]["shape"], 1e-4)
    close(reml.joint_test(functions[1:]), R[kind]["nonlinearity"], 1e-4)
    assert reml.tests()["trim"].f == pytest.approx(R[kind]["shape"]["f"], rel=1e-4)


@pytest.mark.parametrize("kind", ["spline", "polynomial"])
def test_differences_between_values_are_those_of_r(kind):
    reml, _ = shaped(kind)
    held = {"concentrate": np.array(0.4), "fore_hind": np.array([0.5, 0.5])}
    for expected in R[kind]["differences"]:
        ends = [reml.design.row(held | {"trim": expected[end]}) for end in ("from", "to")]
        found = reml.linear(ends[1] - ends[0])[0]
        for key in ("estimate", "std_error", "df", "low", "high"):
            assert getattr(found, key) == pytest.approx(expected[key], rel=1e-4), key


def test_an_interaction_with_a_factor_and_its_simple_differences_are_those_of_r():
    model = fit(
        Spline(tuple(map(float, R["interaction"]["knots"]))), ("trim", "fore_hind", "trim:fore_hind", "concentrate")
    )
    close(model.tests()["trim:fore_hind"], R["interaction"]["test"], 1e-4)
    averaged, engine = model.joint_test(model.design.basis_functions("trim")), model.tests()["trim"]
    assert [engine.f, engine.den_df] == pytest.approx([averaged.f, averaged.den_df], rel=1e-6)
    for place, expected in enumerate(R["interaction"]["simple"]):
        held = {"concentrate": np.array(0.4), "fore_hind": np.eye(2)[place]}
        rows_ = [model.design.row(held | {"trim": value}) for value in (42.0, 63.0)]
        found = model.linear(rows_[1] - rows_[0])[0]
        assert [found.estimate, found.std_error, found.df] == pytest.approx(
            [expected["estimate"], expected["std_error"], expected["df"]], rel=1e-4
        )


def test_spline_columns_span_those_of_r_and_are_straight_beyond_the_outer_knots():
    basis = R["basis"]
    own = np.column_stack([np.ones(len(basis["x"])), Spline(tuple(basis["knots"])).columns(basis["x"])])
    theirs = np.column_stack([np.ones(len(basis["x"])), np.array(basis["ns"])])
    solution = np.linalg.lstsq(own, theirs, rcond=None)[0]
    assert np.abs(own @ solution - theirs).max() < 1e-10
    beyond = Spline((10.0, 20.0, 40.0)).columns([40.0, 50.0, 60.0])
    assert np.abs(np.diff(beyond, n=2, axis=0)).max() < 1e-12
    assert (Spline((10.0, 20.0, 40.0)).columns([-5.0, 10.0])[:, 1] == 0).all()


def test_a_spline_is_smooth_at_its_knots_and_curved_between_them():
    spline, step = Spline((1.0, 2.0, 4.0, 7.0)), 1e-3
    for knot in spline.knots:
        second = np.diff(spline.columns(knot + step * np.arange(-3, 4))[:, 1:], n=2, axis=0) / step**2
        assert np.abs(np.diff(second, axis=0)).max() < 10 * step
    middle = np.diff(spline.columns([2.9, 3.0, 3.1])[:, 1:], n=2, axis=0)
    assert (np.abs(middle) > 1e-4).all()


def test_means_stand_at_the_mean_value_of_a_curve():
    reml, _ = shaped("spline")
    functions, values = reml.means_matrix("fore_hind")
    assert values == ("fore", "hind")
    mean = rows()["trim"].mean()
    at_mean = reml.design.row({"trim": mean, "concentrate": rows()["concentrate"].mean(), "fore_hind": [1.0, 0.0]})
    assert np.array_equal(functions[0], at_mean)
    columns = reml.design.variables["trim"].shape.columns(rows()["trim"]).mean(axis=0)
    assert np.abs(functions[0][1:4] - columns).max() > 0.1


def test_knots_are_quantiles_and_fewer_where_values_repeat():
    x = np.arange(101.0)
    assert quantile_knots(x, 5) == pytest.approx((5.0, 27.5, 50.0, 72.5, 95.0))
    assert quantile_knots(x, 4) == pytest.approx((5.0, 35.0, 65.0, 95.0))
    assert quantile_knots(x, 3) == pytest.approx((10.0, 50.0, 90.0))
    few = np.repeat([0.0, 1.0, 2.0, 3.0], [30, 40, 15, 15])
    assert len(quantile_knots(few, 5)) == 3
    assert quantile_knots(np.repeat([0.0, 1.0], 50), 4) == ()
    assert len(quantile_knots(1000 + 1e-3 * x, 4)) == 4
    assert quantile_knots(1000 + 1e-6 * x, 4) == ()  # beside an intercept the line itself would be dropped
    assert quantile_knots(np.repeat([0.0, 1.0, 2.0], [95, 3, 2]), 3) == ()
    with pytest.raises(ModelError, match="one of 3, 4, 5; found 6"):
        quantile_knots(x, 6)


@pytest.mark.parametrize("knots", [(1.0, 2.0), (1.0, 1.0, 2.0), (3.0, 2.0, 1.0), (1.0, float("nan"), 2.0)])
def test_knots_that_make_no_spline_are_refused(knots):
    with pytest.raises(ModelError, match="knots"):
        Spline(knots)


def test_polynomials_that_make_no_sense_are_refused():
    with pytest.raises(ModelError, match="degree is 2 or 3, found 4"):
        Polynomial(4, 0.0, 1.0)
    with pytest.raises(ModelError, match="positive scale"):
        polynomial(np.ones(5), 2)


def test_a_covariate_must_vary_where_the_basis_bends():
    assert carries([1.0, 2.0, 3.0, 4.0], Spline((1.5, 2.5, 3.5)))
    assert not carries([1.0, 2.0, 1.0], Polynomial(2, 1.0, 1.0))
    assert not carries([1.0, 2.0, 3.0, 4.0], Spline((10.0, 20.0, 30.0)))


def test_large_offsets_and_units_change_no_test():
    table = rows()
    plain = shaped("spline")[0]
    moved = Spline(tuple(1e-3 * knot + 1e3 for knot in plain.design.variables["trim"].shape.knots))
    design = build_design(
        [
            Curve("trim", 1e-3 * table["trim"].to_numpy() + 1e3, moved),
            Covariate("concentrate", table["concentrate"].to_numpy()),
            Factor("fore_hind", (table["fore_hind"] == "hind").to_numpy().astype(int), ("fore", "hind")),
        ],
        ["trim", "concentrate", "fore_hind"],
    )
    other = fit_mixed_model(table["underrun"].to_numpy(), design, plain.grouping)
    found = other.joint_test(other.design.basis_functions("trim")[1:])
    expected = plain.joint_test(plain.design.basis_functions("trim")[1:])
    assert [found.f, found.den_df] == pytest.approx([expected.f, expected.den_df], rel=1e-6)

"""Cluster-robust standard errors against the whole matrices, row by row, and against R's clubSandwich."""

import json

import numpy as np
import pandas as pd
import pytest
from test_engine import RAGGED, cohort, design_of, grouping_of

from hoofcohort.errors import ModelError
from hoofcohort.models import Covariate, Factor, Grouping, build_design, fit_mixed_model
from hoofcohort.models.robust import cluster_robust
from reference import REFERENCE

TRUTH = json.loads((REFERENCE / "companions.json").read_text())


def covariance_of_rows(fit):
    """V of all rows."""
    v = np.eye(len(fit.outcome)) * fit.variances["residual"]
    for code, name in zip(fit.grouping.codes, fit.grouping.names, strict=True):
        v += fit.variances[name] * (code[:, None] == code)
    return v


def adjustment(target, left):
    """The symmetric root in the whitened rows: A with A left A' = target."""
    lower = np.linalg.cholesky(target)
    inverse = np.linalg.inv(lower)
    return lower @ inverse_root(inverse @ left @ inverse.T) @ inverse


def adjustment_of_clubsandwich(target, left):
    """The root that clubSandwich takes: D'(D left D')^(-1/2) D with D'D = target, D triangular."""
    upper = np.linalg.cholesky(target).T
    return upper.T @ inverse_root(upper @ left @ upper.T) @ upper


def inverse_root(matrix):
    values, vectors = np.linalg.eigh(matrix)
    return (vectors * np.where(values > 1e-9, np.abs(values) ** -0.5, 0.0)) @ vectors.T


def from_rows(fit, functions, adjustment=adjustment):
    """Standard errors and df from n x n matrices, as Bell & McCaffrey and Pustejovsky & Tipton define them."""
    x, y = fit.design.matrix, fit.outcome
    v = covariance_of_rows(fit)
    weight = np.linalg.inv(v)
    bread = np.linalg.inv(x.T @ weight @ x)
    hat = x @ bread @ x.T @ weight
    rest = np.eye(len(y)) - hat
    cluster = fit.grouping.codes[0]
    rows = []
    for which in np.unique(cluster):
        mine = cluster == which
        square = np.ix_(mine, mine)
        adjusted = adjustment(v[square], (v - x @ bread @ x.T)[square])
        rows.append(bread @ x[mine].T @ np.linalg.inv(v[square]) @ adjusted @ rest[mine])
    parts = np.array(rows)
    errors, degrees = [], []
    for function in functions:
        weights = function @ parts
        between = weights @ v @ weights.T
        errors.append(np.sqrt(((weights @ y) ** 2).sum()))
        degrees.append(np.trace(between) ** 2 / (between**2).sum())
    return np.array(errors), np.array(degrees)


def read(name, *labels):
    return pd.read_csv(REFERENCE / "data" / name, dtype=dict.fromkeys(labels, str))


@pytest.mark.parametrize(
    ("levels", "also"),
    [
        (("yard", "horse", "foot"), ("horse:visit",)),
        (("yard", "horse", "foot"), ()),
        (("yard", "horse"), ()),
        (("yard",), ()),
    ],
)
@pytest.mark.parametrize("method", ["reml", "ml"])
def test_errors_and_df_equal_those_of_whole_matrices(levels, also, method):
    labels, trim, diet, y = cohort(11, **RAGGED)
    fit = fit_mixed_model(y, design_of(trim, diet), grouping_of(labels, levels, also), method=method)
    functions = np.vstack([np.eye(4), [0.0, 0.0, 1.0, -1.0]])
    robust = cluster_robust(fit)
    found = robust.linear(functions)
    errors, degrees = from_rows(fit, functions)
    assert robust.clusters == 5
    assert [own.std_error for own in found] == pytest.approx(list(errors), rel=1e-8)
    assert [own.df for own in found] == pytest.approx(list(degrees), rel=1e-8)


def test_a_cluster_that_alone_carries_a_column_is_left_out_of_it():
    """Its residuals say nothing of that column: the generalised inverse takes the direction away."""
    labels, trim, diet, y = cohort(12, **RAGGED)
    diet = np.where(labels["yard"] == 2, 2, diet % 2)
    fit = fit_mixed_model(y, design_of(trim, diet), grouping_of(labels))
    errors, degrees = from_rows(fit, np.eye(4))
    found = cluster_robust(fit).linear(np.eye(4))
    assert [own.std_error for own in found] == pytest.approx(list(errors), rel=1e-6)
    assert [own.df for own in found] == pytest.approx(list(degrees), rel=1e-6)


def test_with_independent_rows_it_is_clubsandwich():
    """Both variances of this data set are zero, so the model is least squares."""
    d = read("sing_both0_pub.csv", "horse", "foot")
    factors = {"diet": ("grass", "hay", "mixed"), "limb": ("fore", "hind")}
    variables = [Factor(name, d[name].map(values.index), values) for name, values in factors.items()]
    design = build_design([*variables, Covariate("trim", d["trim"])], ["diet", "limb", "trim"])
    fit = fit_mixed_model(d["y"], design, Grouping.from_labels({"horse": d["horse"], "foot": d["foot"]}))
    assert fit.boundary == ["horse", "foot"]
    equal_to_r(cluster_robust(fit).linear(np.eye(5)), TRUTH["least_squares"], 1e-8)


def equal_to_r(found, truth, tolerance):
    for name in ("estimate", "std_error", "df", "p"):
        assert [getattr(own, name) for own in found] == pytest.approx(truth[name], rel=tolerance), name


def default_model():
    d = read("default_model.csv", "yard", "horse", "foot", "visit")
    return d[d["underrun"].notna()]


@pytest.mark.parametrize(
    ("case", "columns", "levels", "also", "apart"),
    [
        ("yards", ["concentrate", "pasture", "trim"], ("yard", "horse", "foot"), ("horse:visit",), 0.02),
        ("horses", ["concentrate", "trim"], ("horse",), (), 0.004),
    ],
)
def test_with_a_fitted_model_only_the_root_differs_from_clubsandwich(case, columns, levels, also, apart):
    """Any A with A left A' = V adjusts exactly; with clubSandwich's choice the dense formulas give its answers.

    Its choice depends on the order of the rows, ours does not. The standard errors differ by up to 2 per cent here,
    the degrees of freedom by a tenth of that.
    """
    d = default_model()
    labels = {name: d[name].to_numpy() for name in ("yard", "horse", "foot", "visit")}
    design = build_design([Covariate(name, d[name]) for name in columns], columns)
    fit = fit_mixed_model(d["underrun"], design, grouping_of(labels, levels, also))
    truth, unit = TRUTH[case], np.eye(1 + len(columns))
    errors, degrees = from_rows(fit, unit, adjustment_of_clubsandwich)
    assert list(errors) == pytest.approx(truth["std_error"], rel=1e-5)
    assert list(degrees) == pytest.approx(truth["df"], rel=1e-5)
    found = cluster_robust(fit).linear(unit)
    assert [own.std_error for own in found] == pytest.approx(truth["std_error"], rel=apart)
    assert [own.df for own in found] == pytest.approx(truth["df"], rel=apart / 10)


def test_what_cannot_be_estimated_is_not_given():
    labels, trim, _, y = cohort(11, **RAGGED)
    design = build_design([Covariate("trim", trim), Covariate("again", trim)], ["trim", "again"])
    fit = fit_mixed_model(y, design, grouping_of(labels))
    first, second = cluster_robust(fit).linear([[0.0, 1.0, 1.0], [0.0, 1.0, 0.0]])
    assert np.isfinite(first.std_error) and np.isnan(second.std_error) and np.isnan(second.df)


def test_a_factor_that_crosses_the_clusters_is_refused():
    labels, trim, diet, y = cohort(11, **RAGGED)
    grouping = Grouping.from_labels(
        {"yard": labels["yard"], "horse": labels["horse"]}, crossed={"farrier": np.arange(len(y)) % 5}
    )
    fit = fit_mixed_model(y, design_of(trim, diet), grouping)
    with pytest.raises(ModelError, match="'yard' cannot be set apart"):
        cluster_robust(fit)

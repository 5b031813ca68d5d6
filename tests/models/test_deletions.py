"""Every group left out in turn, against fits to the rows that remain, and against R."""

import json
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from test_engine import RAGGED, cohort, design_of, grouping_of

from hoofcohort.errors import ModelError
from hoofcohort.models import Covariate, Factor, Grouping, build_design, fit_mixed_model, interpolation
from hoofcohort.models import deletions as module
from hoofcohort.models.deletions import delete_groups
from hoofcohort.models.sweep import sweep
from reference import REFERENCE

LEVELS = ("yard", "horse", "foot")
ALSO = ("horse:visit",)
TRUTH = json.loads((REFERENCE / "companions.json").read_text())["without_yard"]


def remaining(fit, labels, levels, also, level, which):
    """Fit the same model to the rows without one group, starting from their labels."""
    keep = fit.grouping.codes[levels.index(level)] != which
    rest = {name: values[keep] for name, values in labels.items()}
    design = replace(fit.design, matrix=fit.design.matrix[keep])
    return fit_mixed_model(fit.outcome[keep], design, grouping_of(rest, levels, also), method=fit.method)


def equal_to_refits(fit, labels, levels, also, level, chosen=None):
    """Compare a level's deletions with refits; return the deletions."""
    found = delete_groups(fit, level)
    functions = np.vstack([np.eye(len(fit.design.names)), [0.0, 0.5, 1.0, -1.0]])
    estimates, errors, degrees = found.linear(functions)
    for which in range(len(found.labels)) if chosen is None else chosen:
        refit = remaining(fit, labels, levels, also, level, which)
        rows = refit.linear(functions)
        error = np.array([own.std_error for own in rows])
        assert (estimates[which] - [own.estimate for own in rows]) / error == pytest.approx(0, abs=1e-8)
        assert errors[which] == pytest.approx(list(error), rel=1e-8)
        assert degrees[which] == pytest.approx([own.df for own in rows], rel=1e-7)
        variances = list(refit.variances.values())
        assert found.variances[which] == pytest.approx(variances, abs=1e-8 * sum(variances))
    return found


@pytest.mark.parametrize(
    ("levels", "also", "level"),
    [
        (LEVELS, ALSO, "yard"),
        (LEVELS, ALSO, "horse"),
        (LEVELS, (), "horse"),
        (("yard", "horse"), (), "yard"),
        (("yard", "horse"), (), "horse"),
        (("horse", "foot"), ALSO, "horse"),
        (("yard",), (), "yard"),
    ],
)
@pytest.mark.parametrize("method", ["reml", "ml"])
def test_deletions_are_fits_to_the_remaining_rows(levels, also, level, method):
    labels, trim, diet, y = cohort(1, **RAGGED)
    if "yard" not in levels:
        labels["horse"] = labels["yard"] * 100 + labels["horse"]
    fit = fit_mixed_model(y, design_of(trim, diet), grouping_of(labels, levels, also), method=method)
    found = equal_to_refits(fit, labels, levels, also, level)
    assert found.refits == {} and set(found.reasons) == {""}


def test_yards_a_thousand_times_further_apart_than_readings_and_columns_of_unlike_size():
    labels, trim, diet, y = cohort(1, 6, 4, 4, 3, 0.8)
    y = 1e5 + y + np.random.default_rng(0).normal(0, 1000, 6)[labels["yard"]]
    near = 1e6 * (trim + 1e-3 * np.random.default_rng(3).normal(size=len(y)))
    design = build_design([Covariate("trim", trim), Covariate("near", near), Factor("diet", diet % 2, ("a", "b"))],
                          ["trim", "near", "diet"])  # fmt: skip
    fit = fit_mixed_model(y, design, grouping_of(labels))
    assert fit.variances["yard"] > 1e5 * fit.variances["residual"]
    equal_to_refits(fit, labels, LEVELS, ALSO, "horse")


@pytest.mark.parametrize("seed", [12, 29])
def test_variances_at_zero_in_the_whole_and_in_parts(seed):
    labels, trim, diet, y = cohort(seed, 4, 3, 2, 2, 0.9)
    fit = fit_mixed_model(y, design_of(trim, diet), grouping_of(labels))
    found = equal_to_refits(fit, labels, LEVELS, ALSO, "horse")
    assert len(fit.boundary) == 1
    assert {0, 1, 2} == set((found.variances == 0).sum(axis=1))


def test_every_yard_left_out_in_r():
    """R's search ends short of a zero gradient, so only about six digits are its own."""
    labels = ("yard", "horse", "foot", "visit")
    d = pd.read_csv(REFERENCE / "data" / "default_model.csv", dtype=dict.fromkeys(labels, str))
    d = d[d["underrun"].notna()]
    names = ["concentrate", "pasture", "trim"]
    design = build_design([Covariate(name, d[name]) for name in names], names)
    fit = fit_mixed_model(d["underrun"], design, grouping_of({name: d[name].to_numpy() for name in labels}))
    groups = ("yard", "yard:horse", "yard:horse:foot", "yard:horse:visit", "Residual")
    found = delete_groups(fit, "yard")
    assert list(found.labels) == [row["yard"] for row in TRUTH]
    for which, row in enumerate(TRUTH):
        assert list(found.coefficients[which]) == pytest.approx(row["estimate"], rel=2e-5)
        assert list(found.std_errors[which]) == pytest.approx(row["std_error"], rel=2e-5)
        variances = [row["variances"][name] for name in groups]
        assert list(found.variances[which]) == pytest.approx(variances, rel=2e-4)


def test_many_deletions_go_by_a_polynomial(monkeypatch):
    """Sweeps of all rows at 180 sets of ratios come from a polynomial that agrees with true sweeps."""
    monkeypatch.setattr(interpolation, "FEW", 20)
    monkeypatch.setattr(module, "FEW_DELETIONS", 0)
    labels, trim, diet, y = cohort(5, 60, 3, 4, 3, 0.9)
    labels["horse"] = labels["yard"] * 100 + labels["horse"]
    fit = fit_mixed_model(y, design_of(trim, diet), grouping_of(labels, ("horse", "foot"), ()))
    made = []
    fitted = interpolation._fitted
    monkeypatch.setattr(interpolation, "_fitted", lambda *given: made.append(fitted(*given)) or made[-1])
    equal_to_refits(fit, labels, ("horse", "foot"), (), "horse", range(0, 180, 20))
    assert len(made) == 1
    polynomial = made[0]
    inside = np.exp(polynomial.middle + polynomial.half * [[0.3, -0.8], [-1.0, 1.0]]) - polynomial.shift
    truth, found = sweep(fit.statistics, inside), polynomial.at(inside)
    size = np.abs(truth.cross).max(axis=(0, 2, 3))[:, None, None]
    assert np.abs((found.cross - truth.cross) / size).max() < 1e-9
    assert found.log_determinant == pytest.approx(truth.log_determinant, rel=1e-9)


def test_a_column_lost_with_its_only_horse_is_named():
    labels, trim, diet, y = cohort(2, **RAGGED)
    yard, horse = labels["yard"], labels["horse"]
    diet = np.where((yard == 1) & (horse == 2), 2, diet % 2)
    fit = fit_mixed_model(y, design_of(trim, diet), grouping_of(labels))
    found = delete_groups(fit, "horse")
    lost = found.labels.index("1:2")
    assert [k for k, reason in enumerate(found.reasons) if reason] == [lost]
    assert found.reasons[lost] == "the remaining rows cannot estimate diet[c]"
    refit = remaining(fit, labels, LEVELS, ALSO, "horse", lost)
    assert np.isnan(found.coefficients[lost][3]) and np.isnan(found.std_errors[lost][3])
    assert list(found.coefficients[lost][:3]) == pytest.approx(list(refit.coefficients), rel=1e-8)
    assert np.isfinite(np.delete(found.coefficients, lost, axis=0)).all()
    assert np.isnan(found.distances()[lost])


def test_a_level_that_cannot_be_told_apart_any_more_is_named():
    labels, trim, diet, y = cohort(2, 2, 8, 4, 3, 0.9)
    fit = fit_mixed_model(y, design_of(trim, diet), grouping_of(labels))
    found = delete_groups(fit, "yard")
    assert all("level 'yard' has a single group" in reason for reason in found.reasons)
    assert np.isnan(found.coefficients).all() and np.isnan(found.variances).all()


def test_a_horse_far_off_is_far_off_in_every_summary():
    labels, trim, diet, y = cohort(6, **RAGGED)
    odd = (labels["yard"] == 3) & (labels["horse"] == 1)
    y = y + np.where(odd, 15.0 + 3.0 * trim, 0.0)
    fit = fit_mixed_model(y, design_of(trim, diet), grouping_of(labels))
    found = delete_groups(fit, "horse")
    distances, changes = found.distances(), found.changes()
    assert found.labels[int(np.argmax(distances))] == "3:1"
    errors = np.array([own.std_error for own in fit.linear(np.eye(4))])
    assert changes == pytest.approx((found.coefficients - fit.coefficients) / errors, rel=1e-9)
    moved = found.coefficients - fit.coefficients
    covariance = fit.transform @ fit.inference.covariance @ fit.transform.T * fit.scale**2
    assert list(distances) == pytest.approx([own @ np.linalg.solve(covariance, own) / 4 for own in moved], rel=1e-8)


def test_groups_that_cannot_be_set_apart_are_refitted_if_few(monkeypatch):
    labels, trim, diet, y = cohort(1, **RAGGED)
    levels = {"yard": labels["yard"], "horse": labels["horse"]}
    farrier = np.arange(len(y)) % 4
    fit = fit_mixed_model(y, design_of(trim, diet), Grouping.from_labels(levels, crossed={"farrier": farrier}))
    found = delete_groups(fit, "yard")
    keep = labels["yard"] != 2
    rest = Grouping.from_labels({k: own[keep] for k, own in levels.items()}, crossed={"farrier": farrier[keep]})
    alone = fit_mixed_model(y[keep], design_of(trim[keep], diet[keep]), rest)
    assert list(found.coefficients[2]) == pytest.approx(list(alone.coefficients), rel=1e-8)
    assert list(found.variances[2]) == pytest.approx(list(alone.variances.values()), rel=1e-6)
    monkeypatch.setattr(module, "MOST_REFITS", 4)
    with pytest.raises(ModelError, match="a factor of the model crosses all of them"):
        delete_groups(fit, "yard")
    season = Grouping.from_labels(levels, {"yard:season": labels["visit"]})
    fit = fit_mixed_model(y, design_of(trim, diet), season)
    with pytest.raises(ModelError, match="'yard:season' crosses them inside level 'yard'"):
        delete_groups(fit, "horse")
    assert delete_groups(fit, "yard").refits == {}
    with pytest.raises(ModelError, match="the model has no level 'herd'; its levels are yard, horse"):
        delete_groups(fit, "herd")


def test_a_function_that_does_not_need_an_aliased_column_is_estimated_without_every_group():
    """As a breed that occurs in one word of another factor alone: it is no reason to lose the other comparisons."""
    draw = np.random.default_rng(12)
    horse = np.repeat(np.arange(24), 8)
    labels = {"horse": horse, "foot": np.tile(np.repeat(np.arange(4), 2), 24)}
    breed, diet = horse % 3, horse // 12
    y = draw.normal(size=24)[horse] + draw.normal(size=192) + diet
    small = Factor("size", (breed == 1).astype(int), ("large", "small"))
    words = [Factor("breed", breed, ("cob", "pony", "warm")), small, Factor("diet", diet, ("hay", "grass"))]
    design = build_design(words, ["breed", "size", "diet"])
    fit = fit_mixed_model(y, design, grouping_of(labels, ("horse", "foot"), ()))
    found = delete_groups(fit, "horse")
    function = np.eye(len(design.names))[[design.names.index("diet[grass]")]]
    estimates, errors, _ = found.linear(function)
    assert np.isfinite(estimates).all() and np.isfinite(errors).all() and np.isfinite(found.distances()).all()
    for which in (0, 7, 20):
        (own,) = remaining(fit, labels, ("horse", "foot"), (), "horse", which).linear(function)
        assert estimates[which, 0] == pytest.approx(own.estimate, abs=1e-8 * own.std_error)

"""Crossed factors: against R at zero gradient (tests/reference/make_crossed.R) and against dense matrix algebra."""

import argparse
import json
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from hoofcohort.cli import main
from hoofcohort.commands.model import fit_from, register
from hoofcohort.errors import ModelError, UnidentifiableLevelError
from hoofcohort.models import Covariate, Factor, Grouping, build_design, expansion, fit_mixed_model, random_effects
from hoofcohort.models.grouping import MOST_CROSSED
from hoofcohort.models.profile import profile_intervals
from hoofcohort.models.statistics import sufficient_statistics
from hoofcohort.models.sweep import sweep
from reference import REFERENCE, prepared

LEVELS = ["--levels", "yard", "horse", "foot", "--also", "horse:visit"]
NESTED = {"yard": "yard", "horse": "yard:horse", "foot": "yard:horse:foot", "horse:visit": "yard:horse:visit"}
COHORT = {
    "farrier": ["angle", "--terms", "trim", "place", *LEVELS, "--crossed", "farrier"],
    "farrier_and_observer": ["angle", "--terms", "trim", "place", *LEVELS, "--crossed", "farrier", "observer"],
    "farrier_at_zero": ["length", "--terms", "trim", "place", *LEVELS, "--crossed", "farrier"],
    "horse_and_farrier": [
        "angle", "--terms", "trim", "place", "trim:place", "--levels", "stable", "--crossed", "observer", "farrier",
    ],
}  # fmt: skip
ARGUMENTS = {
    "penicillin": ["penicillin.csv", "--outcome", "diameter", "--levels", "plate", "--crossed", "sample"],
    **{case: ["crossed_cohort.csv", "--outcome", *options] for case, options in COHORT.items()},
}
R_NAMES = {**NESTED, "stable": "yard:horse", "residual": "Residual"}


@cache
def truth():
    return json.loads((REFERENCE / "crossed.json").read_text())["models"]


def data_file(name, tmp_path):
    """Add to the cohort a label of the horse that holds in all yards, as R's yard:horse."""
    if name != "crossed_cohort.csv":
        return str(REFERENCE / "data" / name)
    lines = (REFERENCE / "data" / name).read_text().splitlines()
    marked = [lines[0] + ",stable"]
    marked += [f"{line},{':'.join(line.split(',')[:2])}" for line in lines[1:]]
    path = tmp_path / name
    path.write_text("\n".join(marked) + "\n")
    return str(path)


def fitted(case, tmp_path, *options):
    name, *arguments = ARGUMENTS[case]
    parser = argparse.ArgumentParser()
    register(parser)
    given = [data_file(name, tmp_path), *arguments, *options, "--out", str(tmp_path / "fit.json")]
    return fit_from(parser.parse_args(given))[0]


def close(ours, theirs, tolerance=1e-8, floor=0.0):
    np.testing.assert_allclose(np.asarray(ours, float), np.asarray(theirs, float), rtol=tolerance, atol=floor)


def r_name(level):
    return R_NAMES.get(level, level)


@pytest.mark.parametrize("case", list(ARGUMENTS))
@pytest.mark.parametrize("method", ["REML", "ML"])
def test_fit_agrees_with_r(case, method, tmp_path):
    expected = truth()[case][method]
    fit = fitted(case, tmp_path, "--method", method.lower(), "--df", "satterthwaite")
    record = fit.to_dict()
    assert record["converged"]
    assert {r_name(level): n for level, n in record["groups"].items()} == expected["n_groups"]
    theirs = [expected["variances"][r_name(level)] for level in fit.variances]
    close(list(fit.variances.values()), theirs, floor=1e-10 * theirs[-1])
    assert sorted(map(r_name, fit.boundary)) == sorted(expected["boundary"])
    close(record["criterion"], expected["criterion"], 1e-10)
    close([row["estimate"] for row in record["coefficients"]], expected["beta"])
    close([row["std_error_unadjusted"] for row in record["coefficients"]], expected["se"])
    close([row["df"] for row in record["coefficients"]], expected["satterthwaite_df"])


@pytest.mark.parametrize("case", list(ARGUMENTS))
def test_kenward_roger_agrees_with_r(case, tmp_path):
    expected = truth()[case]["REML"]
    record = fitted(case, tmp_path).to_dict()
    assert record["df_method"] == "kenward-roger"
    close([row["std_error"] for row in record["coefficients"]], expected["kenward_roger_se"])
    close([row["df"] for row in record["coefficients"]], expected["kenward_roger_df"])
    tests = {test["term"]: test for test in record["tests"]}
    assert len(tests) == len(expected["tests"] or {})
    for term, theirs in (expected["tests"] or {}).items():
        ours = tests[term]
        close([ours["num_df"], ours["den_df"], ours["f"]], [theirs["NumDF"], theirs["DenDF"], theirs["F"]], 1e-7)


@pytest.mark.parametrize("case", list(ARGUMENTS))
def test_shares_and_predictions_agree_with_r(case, tmp_path):
    expected = truth()[case]["REML"]
    fit = fitted(case, tmp_path)
    shares = dict(zip(expected["icc"]["levels"], expected["icc"]["share"], strict=True))
    close(list(fit.icc().values()), [shares[r_name(level)] for level in fit.icc()], floor=1e-12)
    close(fit.r_squared()["marginal"], expected["r2"]["marginal"], floor=1e-14)
    close(fit.r_squared()["conditional"], expected["r2"]["conditional"])
    close(fit.fitted, expected["fitted"])
    for level, effects in random_effects(fit).items():
        theirs = expected["ranef"][r_name(level)]
        order = [effects.labels.index(label) for label in theirs["level"]]
        sigma = fit.variances["residual"] ** 0.5
        close(effects.values[order], theirs["blup"], floor=1e-8 * sigma)
        close(effects.std_errors[order], theirs["cond_sd"], floor=1e-8 * sigma)


@pytest.mark.parametrize("case", ["penicillin", "horse_and_farrier"])
def test_profile_intervals_agree_with_r(case, tmp_path):
    """By root finding in both programs, not by interpolation between points of the profile."""
    expected = truth()[case]["ML"]["profile_sd95"]
    found = profile_intervals(fitted(case, tmp_path, "--method", "ml", "--df", "satterthwaite")).sds
    assert len(found) == len(expected)
    for level, interval in found.items():
        close([interval.low, interval.high], expected[r_name(level)], 1e-6)


def test_horse_visit_as_a_crossed_factor_is_the_same_model(tmp_path):
    """The public case cvisit_crossed: one route through blocks, the other through the dense step."""
    arguments, _ = prepared("cvisit_crossed_pub", tmp_path)
    path, place = arguments[0], arguments.index("--also")
    assert arguments[place + 1] == "horse:visit"
    lines = [line.split(",") for line in Path(path).read_text().splitlines()]
    horse, visit = lines[0].index("horse"), lines[0].index("visit")
    marked = [",".join([*lines[0], "both"])] + [",".join([*row, f"{row[horse]}:{row[visit]}"]) for row in lines[1:]]
    (tmp_path / "both.csv").write_text("\n".join(marked) + "\n")
    records = []
    for name, chosen in ((path, arguments[place : place + 2]), (str(tmp_path / "both.csv"), ["--crossed", "both"])):
        out = tmp_path / "fit.json"
        given = [name, *arguments[1:place], *chosen, *arguments[place + 2 :]]
        assert main(["model", *given, "--out", str(out)]) == 0
        records.append(json.loads(out.read_text()))
    blocks, dense = records
    assert dense["groups"]["both"] == blocks["groups"]["horse:visit"]
    close([row["variance"] for row in dense["variances"]], [row["variance"] for row in blocks["variances"]])
    for key in ("estimate", "std_error", "df", "low", "high"):
        close([row[key] for row in dense["coefficients"]], [row[key] for row in blocks["coefficients"]], floor=1e-10)


def invented(rows=180, seed=1):
    rng = np.random.default_rng(seed)
    sizes = {"yard": 5, "horse": 3, "foot": 4, "visit": 3, "farrier": 6, "observer": 4}
    return {name: rng.integers(0, size, rows) for name, size in sizes.items()}, rng.normal(size=(rows, 4))


@pytest.mark.parametrize("nested", [("yard",), ("yard", "horse"), ("yard", "horse", "foot")])
@pytest.mark.parametrize("also", [(), ("visit",)])
@pytest.mark.parametrize("zero", ["none", "all", "crossed"])
def test_sweep_agrees_with_dense_algebra(nested, also, zero):
    labels, columns = invented()
    inner = {f"{nested[0]}:{name}": labels[name] for name in also}
    crossed = {name: labels[name] for name in ("farrier", "observer")}
    grouping = Grouping.from_labels({name: labels[name] for name in nested}, inner, crossed)
    count = len(grouping.names)
    ratios = np.linspace(0.2, 1.3, count)
    if zero != "none":
        ratios[-2 if zero == "crossed" else 0 :] = 0.0
    found = sweep(sufficient_statistics(columns, grouping), np.array([ratios, ratios + 0.1]))
    same = [(code[:, None] == code).astype(float) for code in grouping.codes]
    inverse = np.linalg.inv(np.eye(len(columns)) + sum(r * s for r, s in zip(ratios, same, strict=True)))
    parts = [inverse @ s for s in same]
    cross = [inverse, *(-part @ inverse for part in parts)]
    logs = [-np.linalg.slogdet(inverse)[1], *(np.trace(part) for part in parts)]
    for k, m in expansion.pairs(count):
        both = parts[k] @ parts[m]
        cross.append((both + parts[m] @ parts[k]) @ inverse)
        logs.append(-np.trace(both))
    for place in range(expansion.length(count)):
        theirs = columns.T @ cross[place] @ columns
        close(found.cross[0, place], theirs, 1e-10, floor=1e-10 * np.abs(theirs).max())
    close(found.log_determinant[0], logs, 1e-10, floor=1e-9)


def fit_invented(crossed, labels, columns):
    grouping = Grouping.from_labels({"yard": labels["yard"]}, None, crossed)
    return fit_mixed_model(columns[:, 0], build_design([Covariate("x", columns[:, 1])], ["x"]), grouping)


def test_a_factor_inside_a_level_may_be_declared_crossed():
    """Horses numbered through, once as a nested level, once as a crossed factor: the same model."""
    labels, columns = invented()
    horse = labels["yard"] * 10 + labels["horse"]
    columns[:, 0] += np.random.default_rng(2).normal(size=60)[horse]
    dense = fit_invented({"horse": horse}, labels, columns)
    grouping = Grouping.from_labels({"yard": labels["yard"], "horse": horse})
    sweep_only = fit_mixed_model(columns[:, 0], dense.design, grouping)
    close(list(dense.variances.values()), list(sweep_only.variances.values()), 1e-8, floor=1e-10)
    close(dense.linear(np.eye(2))[1].df, sweep_only.linear(np.eye(2))[1].df)


@pytest.mark.parametrize(("size", "tolerance"), [(1e2, 1e-9), (1e4, 1e-6)])
def test_a_very_large_variance_costs_no_digit(size, tolerance):
    """Of two groupings that cross, either may be the level; the limit is the factor among the fixed terms."""
    labels, columns = invented(rows=400)
    rng = np.random.default_rng(3)
    columns[:, 0] += columns[:, 1] / 2 + rng.normal(size=5)[labels["yard"]]
    columns[:, 0] += size * rng.normal(size=6)[labels["farrier"]]
    x = Covariate("x", columns[:, 1])
    one, other = {"yard": labels["yard"]}, {"farrier": labels["farrier"]}
    fits = [
        fit_mixed_model(columns[:, 0], build_design([x], ["x"]), Grouping.from_labels(nested, None, crossed))
        for nested, crossed in ((one, other), (other, one))
    ]
    values = [[fit.variances[name] for name in ("yard", "farrier", "residual")] for fit in fits]
    slopes = [vars(fit.linear([[0, 1]])[0]) for fit in fits]
    assert fits[0].optimum.converged and fits[1].optimum.converged
    close(values[0], values[1], tolerance)
    close(list(slopes[0].values())[:5], list(slopes[1].values())[:5], tolerance)
    factor = Factor("farrier", labels["farrier"], tuple("ABCDEF"))
    fixed = fit_mixed_model(columns[:, 0], build_design([x, factor], ["x", "farrier"]), Grouping.from_labels(one))
    among = fixed.linear(np.eye(len(fixed.design.names))[[1]])[0]
    close([slopes[0]["estimate"], slopes[0]["std_error"]], [among.estimate, among.std_error], 10 / size**2)


@pytest.mark.parametrize(
    ("make", "reason"),
    [
        (lambda labels: labels["yard"] + 7, "levels 'yard' and 'who' group the rows in the same way"),
        (lambda labels: labels["yard"] * 0, "level 'who' has a single group"),
        (lambda labels: np.arange(len(labels["yard"])), "level 'who' has one row in each of its 180 groups"),
    ],
)
def test_factor_that_the_data_cannot_tell_apart_is_refused(make, reason):
    labels, columns = invented()
    with pytest.raises(UnidentifiableLevelError, match=reason) as caught:
        fit_invented({"who": make(labels)}, labels, columns)
    assert caught.value.level == "who"


def test_too_many_groups_are_refused_with_their_numbers():
    labels, columns = invented(rows=4 * MOST_CROSSED)
    many = np.arange(4 * MOST_CROSSED) % (MOST_CROSSED + 1)
    with pytest.raises(ModelError, match=f"have {MOST_CROSSED + 1} groups .who {MOST_CROSSED + 1}.; at most"):
        fit_invented({"who": many}, labels, columns)


def test_a_table_too_large_is_refused_with_what_would_do(monkeypatch):
    labels, columns = invented()
    monkeypatch.setattr("hoofcohort.models.crossed.MOST_NUMBERS", 1000)
    with pytest.raises(ModelError, match=r"180 rows with 9 columns, of which 6 are groups .* exactly; 5 columns can"):
        fit_invented({"farrier": labels["farrier"]}, labels, columns)


def test_a_name_is_used_once(tmp_path, capsys):
    name, *arguments = ARGUMENTS["penicillin"]
    given = [data_file(name, tmp_path), *arguments[:-1], "plate", "--out", str(tmp_path / "fit.json")]
    assert main(["model", *given]) == 2
    assert "'plate' is named both as a level and as a crossed factor" in capsys.readouterr().err
    assert not (tmp_path / "fit.json").exists()

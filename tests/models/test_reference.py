"""Every reference case, through the command, against R's answers at zero gradient (tests/reference/README.md)."""

import argparse
import json
import re

import numpy as np
import pytest

from hoofcohort.cli import main
from hoofcohort.commands.model import fit_from, register
from hoofcohort.models import random_effects
from reference import REFERENCE, prepared, truth

CASES = [case for case, model in truth().items() if "expected_error" not in model]
LOOSE = {"illscaled_pub": 1e-6}


def build_parser():
    parser = argparse.ArgumentParser()
    register(parser)
    return parser


def fitted(case, tmp_path, *options):
    arguments, groups = prepared(case, tmp_path)
    out = tmp_path / "fit.json"
    assert main(["model", *arguments, *options, "--out", str(out)]) == 0
    return json.loads(out.read_text()), groups


def r_name(term):
    """Translate our column name (with the rank prefix of the prepared file) into R's."""
    if term == "(intercept)":
        return "(Intercept)"
    return re.sub(r"\[\d{3}_([^\]]*)\]", r"\1", re.sub(r"\[([^\]]*)\]", r"[\1]", term))


def r_label(label, name, grouping, group):
    """Translate the label of one of our groups, outer labels first, into R's, in the order of its factor's name."""
    host, _, own = name.rpartition(":")
    nested = list(grouping.names[: grouping.nested])
    columns = [*nested[: nested.index(host) + 1], own] if host else nested[: nested.index(name) + 1]
    parts = dict(zip(columns, label.split(":", len(columns) - 1), strict=True))
    return ":".join(parts[column] for column in re.findall(r"[^:()]+", group))


def close(ours, theirs, tolerance, floor=0.0):
    ours, theirs = np.asarray(ours, float), np.asarray(theirs, float)
    np.testing.assert_allclose(ours, theirs, rtol=tolerance, atol=floor)


@pytest.mark.parametrize("case", CASES)
@pytest.mark.parametrize("method", ["REML", "ML"])
def test_agrees_with_r(case, method, tmp_path):
    tolerance = LOOSE.get(case, 1e-8)
    expected = truth()[case][method]
    record, groups = fitted(case, tmp_path, "--method", method.lower(), "--df", "satterthwaite")
    assert record["converged"]
    assert record["rows_used"] == expected["n_obs"]
    assert record["rows_used"] + record["rows_dropped"] == truth()[case]["n_rows_file"]
    named = dict(zip(record["groups"], groups, strict=True))
    assert {named[level]: n for level, n in record["groups"].items()} == expected["n_groups"]
    close(record["criterion"], expected["criterion"], tolerance)
    theirs = [expected["variances"][group] for group in [*groups, "Residual"]]
    close([row["variance"] for row in record["variances"]], theirs, tolerance, floor=1e-10 * theirs[-1])
    assert sorted(named[level] for level in record["boundary"]) == sorted(expected["boundary"])
    source = expected["dense"]
    rows = record["coefficients"]
    scale = np.array(source["se"])
    close([row["estimate"] for row in rows], source["beta"], tolerance, floor=tolerance * scale.max() * 1e-3)
    close([row["std_error_unadjusted"] for row in rows], source["se"], tolerance)
    assert [r_name(term) for term in record["dropped_terms"]] == expected.get("dropped_columns", [])
    close([row["df"] for row in rows], expected["satterthwaite_analytic"]["df"], tolerance)


@pytest.mark.parametrize("case", CASES)
def test_kenward_roger_agrees_with_r(case, tmp_path):
    tolerance = LOOSE.get(case, 1e-8)
    expected = truth()[case]["REML"]
    record, _ = fitted(case, tmp_path)
    rows = record["coefficients"]
    assert record["df_method"] == "kenward-roger"
    close([row["std_error"] for row in rows], expected["kenward_roger_dense"]["se"], tolerance)
    close([row["df"] for row in rows], expected["kenward_roger_dense"]["df"], tolerance)


# lmerTest rounds its hypotheses to seven digits of their largest entry, which mixes the intercept into those of the
# badly scaled case (F of 1e10): its tests there are no truth. Its df and standard errors are compared above.
@pytest.mark.parametrize("degrees", ["kenward_roger", "satterthwaite"])
@pytest.mark.parametrize("case", [case for case in CASES if case not in LOOSE and "null" not in case])
def test_type_three_tests_agree_with_r(case, degrees, tmp_path):
    expected = truth()[case]["REML"][f"anova_type3_{degrees}"]
    record, _ = fitted(case, tmp_path, "--df", degrees.replace("_", "-"))
    tests = {test["term"]: test for test in record["tests"]}
    compared = 0
    for name, theirs in expected.items():
        ours = tests[name.replace("factor(", "").replace(")", "").replace("I(day^2", "day2")]
        assert ours["num_df"] == theirs["NumDF"]
        close(ours["f"], theirs["F"], 1e-6)
        close(ours["den_df"], theirs["DenDF"], 1e-6)
        close(ours["p"], theirs["p"], 1e-5, floor=1e-300)
        compared += 1
    assert compared == len(tests)


@pytest.mark.parametrize("case", CASES)
def test_icc_and_r_squared_agree_with_r(case, tmp_path):
    expected = truth()[case]["REML"]
    record, groups = fitted(case, tmp_path)
    shares = dict(zip(expected["icc"]["levels"], expected["icc"]["share"], strict=True))
    close(list(record["icc"].values()), [shares[group] for group in groups], 1e-7, floor=1e-10)
    close(record["r2"]["marginal"], expected["r2"]["marginal"], 1e-6, floor=1e-12)
    close(record["r2"]["conditional"], expected["r2"]["conditional"], 1e-6, floor=1e-12)


def blocks_of_means():
    return [
        (case, place)
        for case in CASES
        for place, block in enumerate(truth()[case]["REML"]["emmeans"])
        if block["emmeans"] and block["spec"] != "1"
    ]


@pytest.mark.parametrize(("case", "place"), blocks_of_means())
def test_linear_functions_agree_with_r(case, place, tmp_path):
    """Every marginal mean of R, as the function of the coefficients that R took."""
    block = truth()[case]["REML"]["emmeans"][place]
    arguments, _ = prepared(case, tmp_path)
    options = build_parser().parse_args([*arguments, "--df", block["df_method"], "--out", ""])
    fit = fit_from(options)[0]
    for ours, theirs in zip(fit.linear(block["linfct"]), block["emmeans"], strict=True):
        if theirs["emmean"] is None:
            assert np.isnan(ours.estimate)
        else:
            close(
                [ours.estimate, ours.std_error, ours.df, ours.low, ours.high],
                [theirs["emmean"], theirs["SE"], theirs["df"], theirs["lower_CL"], theirs["upper_CL"]],
                1e-5 if case in LOOSE else 1e-7,
            )


def blocks_of_factor_means():
    """Means of one factor where R's covariates stand at the mean of the rows used, as ours do.

    With a missing outcome R averages the covariates over the rows whose explanatory columns are complete.
    """
    return [
        (case, block["df_method"], block["spec"])
        for case in CASES
        for block in truth()[case]["REML"]["emmeans"]
        if re.fullmatch("[A-Za-z]+", block["spec"]) and not block["at"] and "missing" not in truth()[case]["tags"]
    ]


@pytest.mark.parametrize(("case", "degrees", "factor"), blocks_of_factor_means())
def test_marginal_means_agree_with_r(case, degrees, factor, tmp_path):
    blocks = truth()[case]["REML"]["emmeans"]
    expected = next(b for b in blocks if b["spec"] == factor and b["df_method"] == degrees and not b["at"])
    record, _ = fitted(case, tmp_path, "--df", degrees, "--means", factor)
    loose = 1e-5 if case in LOOSE else 1e-7
    for ours, theirs in zip(record["means"], expected["emmeans"], strict=True):
        assert str(theirs[factor]) in (ours["value"], ours["value"][4:])
        compare(ours, theirs, {"estimate": "emmean", "std_error": "SE", "df": "df", "low": "lower_CL"}, loose)
    for ours, theirs in zip(record["contrasts"], expected["pairs"]["holm"], strict=True):
        names = {"estimate": "estimate", "std_error": "SE", "df": "df", "t": "t_ratio", "p_holm": "p_value"}
        compare(ours, theirs, names, loose * 10)


def compare(ours, theirs, names, tolerance):
    for our_name, their_name in names.items():
        if theirs["SE"] is None:
            assert ours[our_name] is None
        else:
            close(ours[our_name], theirs[their_name], tolerance, floor=1e-300)


@pytest.mark.parametrize("case", CASES)
def test_predicted_effects_agree_with_r(case, tmp_path):
    expected = truth()[case]["REML"]["ranef"]
    arguments, groups = prepared(case, tmp_path)
    fit = fit_from(build_parser().parse_args([*arguments, "--out", ""]))[0]
    sigma = fit.variances["residual"] ** 0.5
    loose = 1e-5 if case in LOOSE else 1e-7
    for (name, effects), group in zip(random_effects(fit).items(), groups, strict=True):
        theirs = expected[group]
        place = {label: number for number, label in enumerate(theirs["level"])}
        ours = [place[r_label(label, name, fit.grouping, group)] for label in effects.labels]
        assert sorted(ours) == list(range(len(place)))
        close(effects.values, np.array(theirs["blup"])[ours], loose, floor=loose * sigma)
        close(effects.std_errors, np.array(theirs["cond_sd"])[ours], loose, floor=loose * sigma)


def test_unidentified_level_is_refused_with_the_reason(tmp_path, capsys):
    arguments, _ = prepared("c30_unidentified_pub", tmp_path)
    out = tmp_path / "fit.json"
    assert main(["model", *arguments, "--out", str(out)]) == 2
    message = capsys.readouterr().err
    assert "level 'foot' has one row in each of its" in message
    assert not out.exists()


def test_satterthwaite_of_a_single_factor_agrees_with_r(tmp_path):
    """anova(lmer(Wt ~ Litter + (1 | Mother/Litter))), lmerTest 3.1-3: F(3, 8.6348) = 0.1434, p = 0.9313."""
    out = tmp_path / "fit.json"
    options = "--outcome Wt --terms Litter --levels Mother Litter --df satterthwaite"
    assert main(["model", str(REFERENCE / "data" / "genotype.csv"), *options.split(), "--out", str(out)]) == 0
    (test,) = json.loads(out.read_text())["tests"]
    assert test["den_df"] == pytest.approx(8.6348, abs=5e-5)
    assert test["f"] == pytest.approx(0.1434, abs=5e-5)
    assert test["p"] == pytest.approx(0.9313, abs=5e-5)


def test_default_model_agrees_with_r(tmp_path):
    """Yard > horse > foot and horse:visit, the model of every study; R's answers from make_default_model.R."""
    expected = json.loads((REFERENCE / "default_model.json").read_text())
    data = str(REFERENCE / "data" / "default_model.csv")
    options = (
        "--outcome underrun --terms concentrate pasture trim fore_hind --levels yard horse foot --also horse:visit"
    )
    records = {}
    for degrees in ("kenward-roger", "satterthwaite"):
        out = tmp_path / f"{degrees}.json"
        assert main(["model", data, *options.split(), "--df", degrees, "--out", str(out)]) == 0
        records[degrees] = json.loads(out.read_text())
    record = records["kenward-roger"]
    groups = ["yard", "yard:horse", "yard:horse:foot", "yard:horse:visit", "Residual"]
    close([row["variance"] for row in record["variances"]], [expected["variances"][g] for g in groups], 1e-8)
    close(record["criterion"], expected["criterion"], 1e-10)
    rows = record["coefficients"]
    close([row["estimate"] for row in rows], expected["beta"], 1e-8)
    close([row["std_error_unadjusted"] for row in rows], expected["se"], 1e-8)
    close([row["std_error"] for row in rows], expected["pbkrtest_se"], 1e-8)
    close([row["df"] for row in rows], expected["pbkrtest_df"], 1e-8)
    close([row["df"] for row in records["satterthwaite"]["coefficients"]], expected["satterthwaite_df"], 1e-8)
    for test in record["tests"]:
        theirs = expected["tests"][test["term"]]
        close([test["num_df"], test["den_df"], test["f"]], [theirs["NumDF"], theirs["DenDF"], theirs["F"]], 1e-8)

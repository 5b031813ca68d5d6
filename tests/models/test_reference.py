"""Every reference case, through the command, against R's answers at zero gradient (tests/reference/README.md)."""

import json
import re

import numpy as np
import pytest
from reference import prepared, truth

from hoofcohort.cli import main

CASES = [case for case, model in truth().items() if "expected_error" not in model]
LOOSE = {"illscaled_pub": 1e-6}


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
    if "dropped_columns" in expected:
        assert [r_name(term) for term in record["dropped_terms"]] == _cleaned(expected["dropped_columns"])
    close([row["df"] for row in rows], expected["satterthwaite_analytic"]["df"], tolerance)


def _cleaned(names):
    return list(names)


@pytest.mark.parametrize("case", CASES)
def test_kenward_roger_agrees_with_r(case, tmp_path):
    tolerance = LOOSE.get(case, 1e-8)
    expected = truth()[case]["REML"]
    record, _ = fitted(case, tmp_path)
    rows = record["coefficients"]
    assert record["df_method"] == "kenward-roger"
    close([row["std_error"] for row in rows], expected["kenward_roger_dense"]["se"], tolerance)
    close([row["df"] for row in rows], expected["kenward_roger_dense"]["df"], tolerance)


@pytest.mark.parametrize("degrees", ["kenward_roger", "satterthwaite"])
@pytest.mark.parametrize("case", CASES)
def test_type_three_tests_agree_with_r(case, degrees, tmp_path):
    expected = truth()[case]["REML"].get(f"anova_type3_{degrees}")
    if not expected:
        pytest.skip("R gives no test for this model")
    record, _ = fitted(case, tmp_path, "--df", degrees.replace("_", "-"))
    tests = {test["term"]: test for test in record["tests"]}
    compared = 0
    for name, theirs in expected.items():
        ours = tests[name.replace("factor(", "").replace(")", "").replace("I(day^2", "day2")]
        assert ours["num_df"] == theirs["NumDF"]
        loose = 1e-3 if case in LOOSE else 1e-6
        close(ours["f"], theirs["F"], loose)
        close(ours["den_df"], theirs["DenDF"], loose)
        close(ours["p"], theirs["p"], 10 * loose, floor=1e-300)
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


def factor_means():
    found = []
    for case in CASES:
        for degrees in ("kenward-roger", "satterthwaite"):
            for block in truth()[case]["REML"]["emmeans"]:
                if re.fullmatch(r"\w+", block["spec"]) and block["spec"] != "1" and not block["at"]:
                    if block["df_method"] == degrees:
                        found.append((case, degrees, block["spec"]))
    return found


@pytest.mark.parametrize(("case", "degrees", "factor"), factor_means())
def test_marginal_means_agree_with_r(case, degrees, factor, tmp_path):
    blocks = truth()[case]["REML"]["emmeans"]
    expected = next(b for b in blocks if b["spec"] == factor and b["df_method"] == degrees and not b["at"])
    record, _ = fitted(case, tmp_path, "--df", degrees, "--means", factor)
    loose = 1e-4 if case in LOOSE else 1e-7
    for ours, theirs in zip(record["means"], expected["emmeans"], strict=True):
        assert ours["value"] == str(theirs[factor]) or ours["value"][4:] == str(theirs[factor])
        if theirs["emmean"] is None:
            assert ours["estimate"] is None
            continue
        close(
            [ours["estimate"], ours["std_error"], ours["df"], ours["low"], ours["high"]],
            [theirs["emmean"], theirs["SE"], theirs["df"], theirs["lower_CL"], theirs["upper_CL"]],
            loose,
        )
    for ours, theirs in zip(record["contrasts"], expected["pairs"]["holm"], strict=True):
        if theirs["estimate"] is None:
            assert ours["estimate"] is None
            continue
        close(
            [ours["estimate"], ours["std_error"], ours["df"], ours["t"], ours["p_holm"]],
            [theirs["estimate"], theirs["SE"], theirs["df"], theirs["t_ratio"], theirs["p_value"]],
            loose * 10,
        )


def test_unidentified_level_is_refused_with_the_reason(tmp_path, capsys):
    arguments, _ = prepared("c30_unidentified_pub", tmp_path)
    out = tmp_path / "fit.json"
    assert main(["model", *arguments, "--out", str(out)]) == 2
    message = capsys.readouterr().err
    assert "level 'foot' has one row in each of its" in message
    assert not out.exists()

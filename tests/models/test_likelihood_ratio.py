"""Likelihood-ratio tests by parametric bootstrap, held to R (bootstrap.json) and to tests known exactly."""

import json

import numpy as np
import pandas as pd
import pytest

from hoofcohort.errors import ModelError
from hoofcohort.models import Covariate, Factor, Grouping, build_design, fit_mixed_model
from hoofcohort.models.likelihood_ratio import likelihood_ratio_test
from reference import REFERENCE

R = json.loads((REFERENCE / "bootstrap.json").read_text())


def design_of(table, terms, factors):
    variables = []
    for name in terms:
        if name in factors:
            codes, values = pd.factorize(table[name], sort=True)
            variables.append(Factor(name, codes, tuple(map(str, values))))
        else:
            variables.append(Covariate(name, table[name]))
    return build_design(variables, terms, rows=len(table))


def read(name):
    return pd.read_csv(REFERENCE / "data" / name).dropna().reset_index(drop=True)


@pytest.fixture(scope="module")
def beets():
    table = read("beets.csv")
    design = design_of(table, ["block", "sow", "harvest"], ["block", "sow", "harvest"])
    return fit_mixed_model(table["sugpct"], design, Grouping.from_labels({"plot": table["block"] + table["harvest"]}))


@pytest.fixture(scope="module")
def pastes():
    table = read("pastes.csv")
    groups = Grouping.from_labels({"batch": table["batch"], "cask": table["cask"]})
    return fit_mixed_model(table["strength"], build_design([], [], rows=len(table)), groups)


@pytest.fixture(scope="module")
def visits():
    table = read("cohort_visit_pub.csv")
    groups = Grouping.from_labels({"horse": table["horse"], "foot": table["foot"]}, {"horse:visit": table["visit"]})
    return fit_mixed_model(table["y"], design_of(table, ["diet", "trim", "limb"], ["diet", "limb"]), groups)


@pytest.fixture(scope="module")
def yards():
    table = read("yard3_pub.csv")
    terms = ["diet", "terrain", "age", "mass", "trim", "limb"]
    groups = Grouping.from_labels({name: table[name] for name in ("yard", "horse", "foot")})
    return fit_mixed_model(table["y"], design_of(table, terms, ["diet", "terrain", "limb"]), groups)


def agree(found, truth):
    """Compare a bootstrap p with R's, both of which are estimates."""
    error = np.hypot(found.monte_carlo_error, np.sqrt(truth["p"] * (1 - truth["p"]) / truth["replicates"]))
    assert abs(found.p - truth["p"]) < 4 * error
    assert found.statistic == pytest.approx(truth["statistic"], abs=1e-5)


@pytest.mark.parametrize("term", ["harvest", "sow"])
def test_terms_of_the_sugar_beets(beets, term):
    truth = R[f"beets_{term}"]
    found = likelihood_ratio_test(beets, without_terms=[term], replicates=2000)
    agree(found, truth)
    assert found.df == truth["df"]
    assert found.p_chi_square == pytest.approx(truth["p_chi_square"], rel=1e-4)


def test_the_sugar_beets_show_why_one_bootstraps(beets):
    # Halekoh & Hojsgaard, J Stat Softw 2014;59(9): likelihood-ratio test p .0003, Kenward-Roger p .0599
    found = likelihood_ratio_test(beets, without_terms=["harvest"], replicates=2000)
    assert found.p_chi_square == pytest.approx(0.0003, abs=5e-5)
    assert beets.tests()["harvest"].p == pytest.approx(0.0599, abs=5e-5)
    assert 0.02 < found.p < 0.05


def test_a_term_of_a_crossed_cohort(visits):
    agree(likelihood_ratio_test(visits, without_terms=["diet"], replicates=500), R["visits_diet"])


@pytest.mark.parametrize("level", ["cask", "batch"])
def test_variances_of_the_pastes(pastes, level):
    truth = R[f"pastes_{level}"]
    found = likelihood_ratio_test(pastes, without_level=level, replicates=2000)
    agree(found, truth)
    assert found.share_at_zero == pytest.approx(truth["share_at_zero"], abs=0.06)


def test_the_variance_of_the_beets_blocks():
    table = read("beets.csv")
    groups = Grouping.from_labels({"block": table["block"], "harvest": table["harvest"]})
    fit = fit_mixed_model(table["sugpct"], design_of(table, ["sow", "harvest"], ["sow", "harvest"]), groups)
    found = likelihood_ratio_test(fit, without_level="block", replicates=2000)
    agree(found, R["beets_block"])
    assert found.share_at_zero == pytest.approx(R["beets_block"]["share_at_zero"], abs=0.06)


@pytest.mark.parametrize(
    ("case", "levels"), [("visits", ["horse", "foot", "horse:visit"]), ("yards", ["yard", "horse", "foot"])]
)
def test_statistics_are_those_of_ranova(case, levels, request):
    fit = request.getfixturevalue(case)
    found = {level: likelihood_ratio_test(fit, without_level=level, replicates=20) for level in levels}
    truth = R[f"{case}_ranova"]
    inner_first = {"visits": ["horse", "foot", "horse:visit"], "yards": ["foot", "horse", "yard"]}[case]
    assert [found[level].statistic for level in inner_first] == pytest.approx(truth["statistic"], abs=1e-4)
    # ranova refers to the chi-square distribution with one degree of freedom, the mixture has half of its tail
    halves = [2 * found[level].p_chi_square for level in inner_first]
    assert halves == pytest.approx(truth["p_chi_square"], rel=1e-3, abs=1e-12)


def test_p_values_are_uniform_where_nothing_is_to_be_found():
    rng = np.random.default_rng(11)
    codes, found = np.repeat(np.arange(6), 20), []
    x = rng.normal(size=6)[codes]
    for _ in range(60):
        y = rng.normal(size=6)[codes] + rng.normal(size=120)
        fit = fit_mixed_model(y, build_design([Covariate("x", x)], ["x"]), Grouping.from_labels({"group": codes}))
        found.append(likelihood_ratio_test(fit, without_terms=["x"], replicates=60).p)
    from scipy.stats import kstest

    assert kstest(found, "uniform").pvalue > 1e-3


def test_a_variance_estimated_at_zero_gives_no_evidence():
    rng = np.random.default_rng(1)
    codes = np.repeat(np.arange(8), 6)
    y = rng.normal(size=48)
    y -= np.array([y[codes == group].mean() for group in range(8)])[codes]
    fit = fit_mixed_model(y, build_design([], [], rows=48), Grouping.from_labels({"group": codes}))
    found = likelihood_ratio_test(fit, without_level="group", replicates=50)
    assert (found.statistic, found.p, found.p_chi_square) == (0.0, 1.0, 1.0)


@pytest.mark.parametrize(
    ("chosen", "said"),
    [
        ({}, "give one of the two"),
        ({"without_level": "plot", "without_terms": ["sow"]}, "give one of the two"),
        ({"without_level": "plots"}, "no level 'plots'"),
        ({"without_terms": ["harvests"]}, "no term 'harvests'"),
        ({"without_terms": ["sow"], "replicates": 5}, "20 to 1,000,000"),
    ],
)
def test_questions_without_sense_are_refused(beets, chosen, said):
    with pytest.raises(ModelError, match=said):
        likelihood_ratio_test(beets, **chosen)


def test_a_term_inside_an_interaction_is_refused():
    rng = np.random.default_rng(1)
    codes = np.repeat(np.arange(8), 4)
    variables = [Covariate("a", rng.normal(size=32)), Covariate("b", rng.normal(size=32))]
    design = build_design(variables, ["a", "b", "a:b"])
    fit = fit_mixed_model(rng.normal(size=32), design, Grouping.from_labels({"group": codes}))
    with pytest.raises(ModelError, match="part of 'a:b'"):
        likelihood_ratio_test(fit, without_terms=["a"])

"""What of a plan enters the models, and the sentences about what cannot."""

from __future__ import annotations

import numpy as np
import pytest
from small_study import horses_of, management_of, readings_of, settings_of

from hoofcohort.errors import ModelError
from hoofcohort.models import Covariate, Factor, Shares
from hoofcohort.study.describe import describe_outcome, describe_variables
from hoofcohort.study.table import build_table
from hoofcohort.study.terms import build_terms

YARDS = {"H1": "Y1", "H2": "Y1", "H3": "Y2"}


def made(diets=("hay", "pasture", "hay"), terrain="mixed", **changes):
    management = management_of(
        [
            (horse, "2026-01-01", None, diet, terrain, trim)
            for horse, diet, trim in zip(YARDS, diets, (42.0, 49.0, 56.0), strict=True)
        ]
    )
    rows = readings_of([(horse, foot, "2026-06-30", 50.0) for horse in YARDS for foot in ("LF", "RH")])
    changes = {"window_days": 10, "adjustments": ["fore_hind", "method"], "references": {}} | changes
    settings = settings_of(**changes)
    table = build_table(settings, rows, horses_of(YARDS), management)
    return settings, table


def test_words_that_do_not_occur_and_variables_that_do_not_vary_are_left_out_aloud():
    settings, table = made()
    terms = build_terms(settings, table)
    assert terms.exposures == ("diet", "trim_interval_days")
    assert terms.adjustments == ("fore_hind",)
    assert terms.messages == (
        "No row used has diet 'concentrate'; nothing is estimated for it.",
        "The terrain is the same in all rows used; it was left out.",
        "The method of measuring is the same in all rows used; it was left out.",
    )
    diet = terms.variables["diet"]
    assert isinstance(diet, Shares)
    assert diet.values == ("hay", "pasture")
    assert np.asarray(diet.matrix).tolist() == [[1, 0], [1, 0], [0, 1], [0, 1], [1, 0], [1, 0]]


def test_a_base_that_does_not_occur_is_replaced_aloud():
    settings, table = made(diets=("concentrate", "pasture", "pasture"))
    terms = build_terms(settings, table)
    assert terms.variables["diet"].values == ("pasture", "concentrate")
    assert "The base of diet, 'hay', does not occur; 'pasture' is used instead." in terms.messages


def test_the_plans_base_comes_first():
    settings, table = made(references={"fore_hind": "hind"})
    hind_first = build_terms(settings, table).variables["fore_hind"]
    assert isinstance(hind_first, Factor)
    assert hind_first.values == ("hind", "fore")
    assert np.asarray(hind_first.codes).tolist() == [1, 0] * 3


def test_an_interaction_goes_with_its_variable():
    settings, table = made(interactions=[["diet", "fore_hind"], ["diet", "method"]])
    terms = build_terms(settings, table)
    assert terms.interactions == ("diet:fore_hind",)
    assert "The interaction of diet and method of measuring was left out with its variable." in terms.messages
    assert terms.adjusted == ["diet", "trim_interval_days", "fore_hind", "diet:fore_hind"]


def test_no_exposure_left_is_an_error():
    settings, table = made(diets=("hay",) * 3, exposures={"diet": {}, "terrain": {}}, interactions=[])
    with pytest.raises(ModelError, match="no exposure varies among the 6 readings that could be used"):
        build_terms(settings, table)


def test_variables_are_described():
    settings, table = made()
    terms = build_terms(settings, table)
    diet, trim, foot = describe_variables(settings, terms, table, {}, {})
    assert (diet["kind"], diet["reference"], diet["values"]) == ("shares", "hay", ["hay", "pasture"])
    assert diet["mean_share"] == pytest.approx({"hay": 2 / 3, "pasture": 1 / 3})
    assert diet["horses"] == {"hay": 2, "pasture": 1}
    assert diet["form"] == "share of the 10 days up to the visit"
    assert (trim["kind"], trim["unit"], trim["per"], trim["mean"]) == ("covariate", "days", 7.0, 49.0)
    assert trim["sd"] == pytest.approx(np.std([42, 42, 49, 49, 56, 56], ddof=1))
    assert (foot["role"], foot["rows"], "horses" in foot) == ("adjustment", {"fore": 3, "hind": 3}, False)
    withheld = describe_variables(settings, terms, table, {"diet": ("pasture",)}, {})[0]
    assert withheld["horses"] == {"hay": 2, "pasture": None}
    assert withheld["withheld"] == ["pasture"]
    assert isinstance(terms.variables["trim_interval_days"], Covariate)


@pytest.mark.parametrize(("name", "unit"), [("toe_angle_deg", "deg"), ("frog_ratio", "ratio")])
def test_outcomes_are_described_whether_measured_or_derived(name, unit):
    got = describe_outcome(settings_of(name))
    assert (got["name"], got["unit"], got["role"], got["window_days"]) == (name, unit, "secondary", 120)
    assert got["title"] and got["formula"] and got["source"]

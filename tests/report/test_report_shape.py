"""Curves, contrasts and interactions as the report tells and draws them."""

from __future__ import annotations

import csv
import io
import json
from copy import deepcopy
from html import escape
from pathlib import Path
from xml.etree import ElementTree

import pytest
import yaml
from invented_results import effect, estimate, model
from small_run import CONTRAST

from hoofcohort.plan import parse_plan
from hoofcohort.report.figures.curves import curves_figure
from hoofcohort.report.outcome_section import _curves
from hoofcohort.report.sheets.outcome import coefficients_sheet, curve_sheet
from hoofcohort.report.sheets.plan import exposures_sheet
from hoofcohort.report.text.findings import association, conditional_sentences
from hoofcohort.report.text.plan import comparison_text, plan_sentences
from hoofcohort.report.text.shapes import curve_sentence, shape_method_sentence

RAW = yaml.safe_load((Path(__file__).parents[2] / "config/demo.yaml").read_text(encoding="utf-8"))
TRIM = "trim_interval_days"


def shape(**changes):
    grid = [{"value": float(v), **estimate(v - 42, v - 44, v - 40, df=30.0)} for v in (28, 35, 49, 56, 63, 70)]
    zero = {"value": 42.0, "estimate": 0.0, "low": 0.0, "high": 0.0, "std_error": None, "df": None, "p": None}
    return {
        "variable": TRIM,
        "title": "trim interval",
        "role": "exposure",
        "interacts": [],
        "form": "spline",
        "knots": [35.0, 42.0, 63.0],
        "degree": None,
        "reference": 42.0,
        "percentiles": {"10th": 35.0, "50th": 42.0, "90th": 63.0},
        "grid": sorted([*grid, zero], key=lambda row: row["value"]),
        "joint": {"num_df": 2, "den_df": 52.4, "f": 2.91, "p": 0.063},
        "nonlinearity": {"num_df": 1, "den_df": 92.1, "f": 1.53, "p": 0.22},
        "unadjusted": None,
        "histogram": {"edges": [28.0, 42.0, 56.0, 70.0], "counts": [20, 70, 30]},
    } | changes


def plan_with(**changes):
    value = deepcopy(RAW)
    value["exposures"][TRIM].pop("per")
    return parse_plan(value | changes)


def test_a_curve_is_told_with_intervals_before_the_test_of_non_linearity():
    assert curve_sentence(model(), shape()) == (
        "Trim interval entered the model as a restricted cubic spline with 3 knots, at 35, 42 and 63 days. Toe-heel "
        "angle difference differed from that at the median (42 days) at 35 days (the 10th percentile) by −7.0° (95% "
        "interval −9.0° to −5.0°) and at 63 days (the 90th percentile) by 21.0° (95% interval 19.0° to 23.0°). Test of "
        "non-linearity: F(1; 92.1) = 1.53, p = 0.22; no clear departure from a straight line. Test of the whole curve: "
        "F(2; 52.4) = 2.91, p = 0.063."
    )


def test_a_polynomial_an_interaction_and_a_test_that_could_not_be_made_are_told():
    said = curve_sentence(
        model(), shape(form="polynomial", degree=3, interacts=["age at the visit"], nonlinearity=None)
    )
    assert "as a polynomial of degree 3; shown at the average of age at the visit, with which it interacts." in said
    assert said.endswith("The test of non-linearity could not be made.")
    bent = {"num_df": 1, "den_df": 92.1, "f": 9.0, "p": 0.0035}
    assert "p = 0.004; the association departs from a straight line." in curve_sentence(
        model(), shape(nonlinearity=bent)
    )


def test_the_figure_has_a_panel_per_curve_and_none_without():
    assert curves_figure(model()) is None
    figure = curves_figure(model(shapes=[shape(), shape(variable="age_years", title="age at the visit")]))
    assert [panel.name for panel in figure.panels] == [
        "curve-heel_underrun_deg-trim_interval_days",
        "curve-heel_underrun_deg-age_years",
    ]
    text = "".join(ElementTree.fromstring(figure.panels[0].svg).itertext())
    assert "Trim interval (days)" in text and "Difference (degrees)" in text
    assert figure.panels[0].label.startswith(
        "Curve of toe-heel angle difference over trim interval. Trim interval entered"
    )
    alone = curves_figure(model(shapes=[shape()]))
    assert alone == curves_figure(model(shapes=[shape()])), "the same bytes every time"
    wild = shape()
    wild["grid"] = [row | {"df": 0.4} if row["df"] else row for row in wild["grid"]]
    assert curves_figure(model(shapes=[wild])) is None, "below one degree of freedom there is nothing to draw"
    assert 'width="374.4pt"' in alone.panels[0].svg, "a panel on its own is as wide as the figure"


def test_the_csv_file_has_the_whole_curve_and_the_page_its_percentiles_and_ends():
    sheet = curve_sheet(model(), shape())
    rows = list(csv.DictReader(io.StringIO(sheet.to_csv())))
    assert [float(row["value"]) for row in rows] == [28, 35, 42, 49, 56, 63, 70]
    assert rows[0] == {
        "variable": TRIM, "value": "28", "reference": "42", "estimate": "-14", "std_error": "1", "df": "30",
        "low": "-16", "high": "-12", "p": "0.01",
    }  # fmt: skip
    assert [cells for _, cells in sheet.rows()] == [
        ["28", "−14.0 (−16.0 to −12.0)", "30.0"],
        ["35", "−7.0 (−9.0 to −5.0)", "30.0"],
        ["42", "0", "—"],
        ["63", "21.0 (19.0 to 23.0)", "30.0"],
        ["70", "28.0 (26.0 to 30.0)", "30.0"],
    ]


def test_a_finding_on_an_exposure_with_a_shape_names_both_values():
    settings = model()["settings"] | {"comparison": {"exposure": TRIM, "first": None, "second": None}}
    found = effect(estimate(2.31, 1.02, 3.6), exposure=TRIM, label="x", values=[63.0, 35.0])
    assert association(model(settings=settings), found) == (
        "Toe-heel angle difference was 2.3° higher (95% interval 1.0° to 3.6° higher) with a mean trim interval of 63 "
        "days than with one of 35 days."
    )


def test_an_interaction_is_told_per_value_and_then_by_its_joint_test():
    main = effect(estimate(2.0, 1.0, 3.0), values=None, weights=None)
    parts = [
        effect(estimate(value, value - 1, value + 1), of_interest=False, at={"variable": "fore_hind", "value": word})
        for word, value in (("fore", 1.5), ("hind", 2.5))
    ]
    other = effect(
        estimate(9.0, 8.0, 10.0), of_interest=False, at={"variable": "fore_hind", "value": "fore"}, weights={"hay": 1.0}
    )
    own = model(effects=[main, *parts, other])
    own["adjusted"]["tests"].append({"term": "diet:fore_hind", "num_df": 2, "den_df": 80.0, "f": 1.2, "p": 0.31})
    assert conditional_sentences(own, main) == [
        "This difference is averaged over fore or hind foot, with which diet interacts; by fore or hind foot it was: "
        "at fore, 1.5° (95% interval 0.5° to 2.5°); at hind, 2.5° (95% interval 1.5° to 3.5°). F test of the "
        "interaction as a whole: p = 0.31."
    ]


def test_the_plan_tells_its_shapes_and_contrasts():
    shapes = {
        TRIM: {"form": "spline", "knots_at": [28, 42, 63], "values": [28, 56]},
        "age_years": {"form": "polynomial"},
        "days_since_trim": {"form": "spline", "knots": 4},
    }
    plan = plan_with(shapes=shapes)
    sentences = plan_sentences(plan)
    assert (
        "Numbers that need not be straight lines: trim interval as a restricted cubic spline with knots at 28, 42 and "
        "63 days, compared at 28 and 56 days, age at the visit as a polynomial of degree 2 and days since the last "
        "trim as a restricted cubic spline with 4 knots."
    ) in sentences
    assert "Contrasts: “pasture or hay v concentrate” (diet: 0.5 pasture, 0.5 hay, −1 concentrate)." in sentences
    asked = plan.for_outcome("frog_ratio").model_copy(
        update={"comparison": type(plan.outcomes["frog_ratio"].comparison)(exposure=TRIM)}
    )
    assert comparison_text(asked) == "trim interval, 56 v 28"
    assert "Stone and Koo" in shape_method_sentence(plan)
    assert shape_method_sentence(plan_with(shapes={})) == ""


@pytest.mark.parametrize("name", ["heel_underrun_deg", "frog_ratio"])
def test_the_report_of_a_run_shows_its_curve_and_contrast(reported, page, name):
    record = json.loads((reported / f"models/{name}.json").read_text(encoding="utf-8"))
    (curve,) = record["shapes"]
    assert f'id="curves-{name}"' in page
    assert curve_sentence(record, curve).split(". ")[0] in page
    rows = list(csv.DictReader((reported / f"tables/curve_{name}_age_years.csv").open(encoding="utf-8")))
    assert [float(row["value"]) for row in rows] == pytest.approx([row["value"] for row in curve["grid"]], rel=1e-5)
    assert (reported / f"figures/curve-{name}-age_years.svg").exists()
    assert escape(CONTRAST) in page and CONTRAST not in page
    effects = list(csv.DictReader((reported / f"tables/effects_{name}.csv").open(encoding="utf-8")))
    assert f"'{CONTRAST} (all days v all days)" in [row["comparison"] for row in effects]


def test_the_tables_say_that_an_exposure_is_a_curve_and_its_columns_mean_nothing_alone():
    rows = {cells[0]: cells[-1] for _, cells in exposures_sheet(plan_with(shapes={TRIM: {"form": "spline"}})).rows()}
    assert rows["Trim interval"] == "difference between values of a curve"
    assert {cells[0]: cells[-1] for _, cells in exposures_sheet(plan_with(shapes={})).rows()}[
        "Trim interval"
    ] == "1 days"
    assert coefficients_sheet(model(shapes=[shape()])).note.endswith("mean nothing one by one: see Curves.")
    assert "Curves" not in coefficients_sheet(model()).note


def test_a_curve_that_could_not_be_estimated_is_told():
    lost = shape(joint=None, nonlinearity=None)
    lost["grid"] = [row for row in lost["grid"] if row["value"] == 42.0]
    (sentence,) = _curves(model(shapes=[lost]))
    assert sentence.text.endswith(
        "Differences from the median (42 days) could not be estimated. The test of non-linearity could not be made."
    )

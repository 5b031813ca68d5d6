"""Shapes and contrasts in a plan: what is filled in, what an outcome gets, what is refused and how."""

from __future__ import annotations

import json
from copy import deepcopy
from pathlib import Path

import pytest
import yaml

from hoofcohort.errors import PlanError
from hoofcohort.plan import parse_plan

RAW = yaml.safe_load((Path(__file__).parents[2] / "config/demo.yaml").read_text(encoding="utf-8"))
TRIM = "trim_interval_days"


def plan_with(shapes=None, contrasts=None, per=False, **changes):
    value = deepcopy(RAW) | {"shapes": shapes or {}, "contrasts": contrasts or []} | changes
    if not per:
        value["exposures"][TRIM].pop("per")
    return value


def faults(**changes) -> list[str]:
    with pytest.raises(PlanError) as caught:
        parse_plan(plan_with(**changes))
    return str(caught.value).splitlines()


def contrast(weights, name="a", exposure="diet"):
    return [{"name": name, "exposure": exposure, "weights": weights}]


def test_knots_and_degree_are_filled_in_and_a_curve_has_no_slope():
    plan = parse_plan(plan_with({"age_years": {"form": "polynomial"}, TRIM: {"form": "spline"}}))
    assert plan.shapes["age_years"].model_dump(exclude_none=True) == {"form": "polynomial", "degree": 2}
    assert plan.shapes[TRIM].model_dump(exclude_none=True) == {"form": "spline", "knots": 4}
    assert plan.exposures[TRIM].per is None
    placed = parse_plan(plan_with({TRIM: {"form": "spline", "knots_at": [28, 42, 56.5]}})).shapes[TRIM]
    assert (placed.knots, placed.knots_at) == (None, [28.0, 42.0, 56.5])


def test_the_plan_of_a_run_reads_back_as_itself():
    plan = parse_plan(
        plan_with({TRIM: {"form": "spline"}, "age_years": {"form": "polynomial"}}, contrast({"hay": 1, "pasture": -1}))
    )
    assert parse_plan(json.loads(plan.model_dump_json())) == plan


def test_an_outcome_gets_the_shapes_of_its_own_variables_and_all_contrasts():
    value = plan_with(
        {"age_years": {"form": "polynomial"}, TRIM: {"form": "spline"}}, contrast({"hay": 1, "pasture": -1})
    )
    value["outcomes"]["frog_ratio"]["adjustments"] = ["side"]
    plan = parse_plan(value)
    assert set(plan.for_outcome("frog_ratio").shapes) == {TRIM}
    assert set(plan.for_outcome("frog_width_mm").shapes) == {"age_years", TRIM}
    assert [own.name for own in plan.for_outcome("frog_ratio").contrasts] == ["a"]


ONE_FAULT = [
    ({"shapes": {"days_since_trim": "spline"}}, "shapes.days_since_trim: found 'spline'; it must be a group of keys"),
    ({"shapes": {"age_years": {"knots": 4}}}, "shapes.age_years.form: missing; add it"),
    ({"shapes": {"age_years": {"form": "loess"}}}, "shapes.age_years.form: found 'loess'; allowed: spline, polynomial"),
    (
        {"shapes": {"age_years": {"form": "spline", "knots": 6}}},
        "shapes.age_years.knots: found 6; allowed: from 3 to 5",
    ),
    (
        {"shapes": {"age_years": {"form": "spline", "degree": 2}}},
        "shapes.age_years.degree: has no use with the form spline; remove it, or change the form",
    ),
    (
        {"shapes": {"age_years": {"form": "polynomial", "knots_at": [1, 2, 3]}}},
        "shapes.age_years.knots_at: has no use with the form polynomial; remove it, or change the form",
    ),
    (
        {"shapes": {"age_years": {"form": "spline", "knots": 3, "knots_at": [5, 10, 15]}}},
        "shapes.age_years.knots_at: stands beside `knots`; give the number of knots or their places, not both",
    ),
    (
        {"shapes": {"age_years": {"form": "spline", "knots_at": [5, 10]}}},
        "shapes.age_years.knots_at: found 2 knots; a spline needs at least three",
    ),
    (
        {"shapes": {"age_years": {"form": "spline", "knots_at": [5, 15, 10]}}},
        "shapes.age_years.knots_at: found 5, 15, 10; each knot must be above the one before",
    ),
    (
        {"shapes": {"age_years": {"form": "spline", "knots_at": [5, "x", 10]}}},
        "shapes.age_years.knots_at, item 2: found 'x'; it must be a number",
    ),
    (
        {"shapes": {"fore_hind": {"form": "spline"}}},
        "shapes.fore_hind: only a number of the models has a shape: found 'fore_hind'; allowed",
    ),
    (
        {"shapes": {"height_cm": {"form": "spline"}}},
        "shapes.height_cm: only a number of the models has a shape: found 'height_cm'; allowed",
    ),
    (
        {"shapes": {"age_years": {"form": "spline", "values": [5, 10]}}},
        "shapes.age_years.values: only for exposures: no comparison is stated for an adjustment; remove it",
    ),
    (
        {"shapes": {TRIM: {"form": "spline", "values": [28]}}},
        f"shapes.{TRIM}.values: found 1 value; give two or more, the first being the one compared with",
    ),
    (
        {"shapes": {TRIM: {"form": "spline", "values": [28, 42, 28]}}},
        f"shapes.{TRIM}.values: found 28, 42, 28; a value stands twice; remove one",
    ),
    (
        {"shapes": {TRIM: {"form": "spline"}}, "per": True},
        f"exposures.{TRIM}.per: has no use: {TRIM} has a shape, and values are compared instead of a slope",
    ),
    ({"contrasts": [3]}, "contrasts, item 1: found 3; it must be a group of keys"),
    ({"contrasts": {"a": 1}}, "contrasts: found a group of keys; it must be a list in brackets"),
    ({"contrasts": contrast({}, exposure="diets")}, "contrasts, item 1.exposure: found 'diets'; allowed (the plan's"),
    ({"contrasts": contrast({}, exposure=TRIM)}, f"contrasts, item 1.exposure: found '{TRIM}'; allowed (the plan's"),
    (
        {"contrasts": contrast({"hay": 1, "grass": -1})},
        "contrasts, item 1.weights.grass: no word of diet: found 'grass'; allowed: hay, pasture, concentrate",
    ),
    (
        {"contrasts": contrast({"hay": 1, "pasture": -0.5})},
        "contrasts, item 1.weights: those above zero add up to 1, those below zero to -0.5; they must add up to 1 and",
    ),
    (
        {"contrasts": contrast({"hay": 1, "pasture": -1}) * 2},
        "contrasts, item 2.name: 'a' stands twice; names tell contrasts apart",
    ),
]  # fmt: skip


@pytest.mark.parametrize(
    ("changes", "message"), ONE_FAULT, ids=[message.split(";")[0][:60] for _, message in ONE_FAULT]
)
def test_one_fault_gives_one_line_that_says_what_to_do(changes, message):
    (line,) = faults(**changes)
    assert line.startswith(message)


def test_an_unknown_adjustment_is_one_fault_and_no_shape_is_blamed_for_it():
    (line,) = faults(
        shapes={"days_since_trim": {"form": "spline"}},
        adjustments=["fore_hind", "side", "method", "season", "days_since"],
    )
    assert line.startswith("adjustments, item 5: found 'days_since'")


@pytest.mark.parametrize(
    ("shapes", "effect"), [({}, "a slope"), ({TRIM: {"form": "spline"}}, f"set by shapes.{TRIM}.values")]
)
def test_a_comparison_of_numbers_takes_no_words(shapes, effect):
    value = plan_with(shapes)
    value["outcomes"]["frog_ratio"]["comparison"] = {"exposure": TRIM, "first": "28"}
    with pytest.raises(PlanError) as caught:
        parse_plan(value)
    assert str(caught.value) == (
        "outcomes.frog_ratio.comparison.first: only for exposures of words; the comparison of trim_interval_days is "
        f"{effect}; remove it"
    )

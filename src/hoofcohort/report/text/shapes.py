"""Sentences on numbers that need not be straight lines, and on contrasts."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from hoofcohort.plan import Plan, Shape
from hoofcohort.report.numbers import (
    df_text,
    estimate,
    has_interval,
    has_test,
    interval,
    listing,
    p_value,
    percent_level,
    significant,
)
from hoofcohort.report.text.words import exposure_title, exposure_unit, upper_first
from hoofcohort.tables.variables import VARIABLES

ALPHA = 0.05
SPLINES = (
    "Harrell, Regression Modeling Strategies, Springer 2015; Stone and Koo, Proc Stat Comput Sect Am Stat Assoc "
    "1985:45-48; both from memory"
)


def variable_unit(name: str) -> str:
    """Return the unit of an exposure or adjustment."""
    return VARIABLES[name].unit if name in VARIABLES else exposure_unit(name)


def curve_sentence(model: Mapping[str, Any], shape: Mapping[str, Any]) -> str:
    """Return what a curve shows: differences with their intervals first, then the test of non-linearity."""
    return " ".join([_entered(shape), _differences(model, shape), _bend(shape)])


def _entered(shape: Mapping[str, Any]) -> str:
    unit = variable_unit(shape["variable"])
    if shape["form"] == "spline":
        places = listing([f"{knot:.4g}" for knot in shape["knots"]])
        how = f"a restricted cubic spline with {len(shape['knots'])} knots, at {places} {unit}".rstrip()
    else:
        how = f"a polynomial of degree {shape['degree']}"
    if shape["interacts"]:
        how += f"; shown at the average of {listing(shape['interacts'])}, with which it interacts"
    return f"{upper_first(shape['title'])} entered the model as {how}."


def _differences(model: Mapping[str, Any], shape: Mapping[str, Any]) -> str:
    outcome, level = model["outcome"], percent_level(model["settings"]["confidence"])
    unit = variable_unit(shape["variable"])
    at = {row["value"]: row for row in shape["grid"]}
    told = [
        f"at {value:.4g} {unit} (the {name} percentile) by {estimate(at[value], outcome['unit'])} "
        f"({level} interval {interval(at[value], outcome['unit'])})"
        for name, value in shape["percentiles"].items()
        if value != shape["reference"] and has_interval(at.get(value))
    ]
    median = f"{shape['reference']:.4g} {unit}".rstrip()
    if not told:
        return f"Differences from the median ({median}) could not be estimated."
    return f"{upper_first(outcome['title'])} differed from that at the median ({median}) {listing(told)}."


def _bend(shape: Mapping[str, Any]) -> str:
    test = shape["nonlinearity"]
    if not has_test(test):
        return "The test of non-linearity could not be made."
    said = "the association departs" if test["p"] < ALPHA else "no clear departure"
    text = f"Test of non-linearity: {_f(test)}; {said} from a straight line."
    return f"{text} Test of the whole curve: {_f(shape['joint'])}." if has_test(shape["joint"]) else text


def _f(test: Mapping[str, Any]) -> str:
    return f"F({test['num_df']:g}; {df_text(test['den_df'])}) = {significant(test['f'], 3)}, {p_value(test['p'])}"


def shape_plan_sentences(plan: Plan, title: Mapping[str, str]) -> list[str]:
    """Return the plan's shapes and contrasts as declared.

    Parameters
    ----------
    plan : Plan
    title : mapping
        What each variable with a shape is called.
    """
    found = []
    if plan.shapes:
        told = [f"{title[name]} as {_declared(name, own)}" for name, own in plan.shapes.items()]
        found.append(f"Numbers that need not be straight lines: {listing(told)}.")
    if plan.contrasts:
        told = [f"“{own.name}” ({exposure_title(own.exposure)}: {_weights(own.weights)})" for own in plan.contrasts]
        found.append(f"Contrasts: {listing(told)}.")
    return found


def _declared(name: str, shape: Shape) -> str:
    if shape.form == "polynomial":
        how = f"a polynomial of degree {shape.degree}"
    elif shape.knots_at:
        how = f"a restricted cubic spline with knots at {_numbers(shape.knots_at)} {variable_unit(name)}".rstrip()
    else:
        how = f"a restricted cubic spline with {shape.knots} knots"
    return f"{how}, compared at {_numbers(shape.values)} {variable_unit(name)}".rstrip() if shape.values else how


def _numbers(values: Iterable[float]) -> str:
    return listing([f"{value:g}" for value in values])


def _weights(weights: Mapping[str, float]) -> str:
    return ", ".join(f"{weight:g} {word}".replace("-", "\N{MINUS SIGN}", 1) for word, weight in weights.items())


def shape_method_sentence(plan: Plan) -> str:
    """Return how curves were fitted and tested; empty without any."""
    if not plan.shapes:
        return ""
    return (
        "Numbers to which the plan gives a shape entered as restricted cubic splines, straight beyond the outer knots "
        f"({SPLINES}), or as polynomials; non-linearity was tested by the Kenward-Roger F test of all columns but the "
        "linear one. Curves are adjusted differences from the median, with pointwise intervals."
    )

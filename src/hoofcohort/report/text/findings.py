"""The main findings in words: associations, with estimate, interval and adjusted p-value, in that order."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from hoofcohort.report.numbers import (
    decimals_for,
    df_text,
    estimate,
    fixed,
    interval,
    listing,
    p_value,
    percent_level,
    with_unit,
)
from hoofcohort.report.text.words import comparison_phrase, exposure_title, upper_first

FEW_HORSES, FEW_YARDS, FEW_DF = 10, 5, 4.0
ALPHA = 0.05
"""Level at which an adjusted p-value is said to be in or out of line with its interval."""


def effect_of_interest(model: Mapping[str, Any]) -> Mapping[str, Any] | None:
    """Return the effect that the outcome's comparison is about, or None."""
    return next((effect for effect in model["effects"] if effect["of_interest"]), None)


def finding(model: Mapping[str, Any], p_adjusted: float | None, tests: int, method: str) -> list[str]:
    """Return the sentences on an outcome's comparison of interest.

    Parameters
    ----------
    model : mapping
        The outcome's results, as in ``models/<outcome>.json``.
    p_adjusted : float or None
        Of the exposure's F test, adjusted within its family; None when the outcome is in no family.
    tests : int
        Number of tests in the family.
    method : str
        ``holm`` or ``none``.
    """
    effect = effect_of_interest(model)
    title = model["outcome"]["title"]
    if effect is None:
        return [f"{upper_first(title)}: the plan names no comparison of interest."]
    adjusted = effect["adjusted"]
    if adjusted is None or adjusted.get("low") is None:
        return [f"{upper_first(title)}: the comparison ({effect['label']}) could not be estimated from these data."]
    sentences = [association(model, effect)]
    sentences += [f_test_sentence(model, effect, p_adjusted, tests, method), size_sentence(model)]
    return sentences + caution_sentences(model, adjusted)


def association(model: Mapping[str, Any], effect: Mapping[str, Any]) -> str:
    """Return the sentence with the adjusted estimate and its interval: which side is higher, by how much."""
    row, unit = effect["adjusted"], model["outcome"]["unit"]
    title = upper_first(model["outcome"]["title"])
    first, second = comparison_phrase(model["settings"], _comparison(model, effect))
    level = percent_level(model["settings"]["confidence"])
    within = f"{level} interval {interval(row, unit)}"
    if row["low"] <= 0 <= row["high"]:
        return (
            f"{title}: no clear association. With {first}, compared with {second}, the estimated difference was "
            f"{estimate(row, unit)} ({within}): these data agree with differences from {_reach(row, unit)}."
        )
    direction = "higher" if row["estimate"] > 0 else "lower"
    size = with_unit(fixed(abs(row["estimate"]), decimals_for(row["low"], row["high"])), unit)
    return (
        f"{title} was {size} {direction} (difference {estimate(row, unit)}, {within}) with {first} than with {second}."
    )


def _comparison(model: Mapping[str, Any], effect: Mapping[str, Any]) -> Mapping[str, Any]:
    return model["settings"].get("comparison") or {"exposure": effect["exposure"]}


def _reach(row: Mapping[str, Any], unit: str) -> str:
    decimals = decimals_for(row["low"], row["high"])
    low = with_unit(fixed(abs(row["low"]), decimals), unit)
    high = with_unit(fixed(abs(row["high"]), decimals), unit)
    return f"{low} lower to {high} higher"


def f_test_sentence(
    model: Mapping[str, Any], effect: Mapping[str, Any], p_adjusted: float | None, tests: int, method: str
) -> str:
    """Return the sentence with the exposure's F test, adjusted within its family."""
    name = exposure_title(effect["exposure"])
    test = exposure_test(model, effect["exposure"])
    if test is None:
        return f"There is no F test of {name}: its columns could not be estimated."
    unadjusted = f"F test of {name} as a whole: {p_value(test['p'])}"
    if p_adjusted is None:
        return f"{unadjusted}; secondary outcome, outside the family of adjusted tests."
    if method == "none":
        return f"{unadjusted}; the plan asks for no adjustment for its {tests} tests."
    row = effect["adjusted"]
    clear = not row["low"] <= 0 <= row["high"]
    text = f"{unadjusted}, and {p_value(p_adjusted)} by Holm's adjustment for the family's {tests} tests."
    if clear and p_adjusted >= ALPHA:
        text += (
            " The interval, which is not adjusted, excludes zero; taken among that many tests the evidence is weaker."
        )
    if not clear and p_adjusted < ALPHA:
        text += " The test is of all the exposure's values together; this one comparison alone is not clear."
    return text


def exposure_test(model: Mapping[str, Any], exposure: str) -> Mapping[str, Any] | None:
    """Return the F test of an exposure in the adjusted model, or None."""
    return next((row for row in model["adjusted"]["tests"] if row["term"] == exposure and row["p"] is not None), None)


def size_sentence(model: Mapping[str, Any]) -> str:
    """Return what the finding rests on, and what was held constant."""
    last = model["flow"][-1]
    titles = [row["title"] for row in model["variables"] if row["role"] == "adjustment"]
    held = f"held constant: {listing(titles)}, and the other exposures" if titles else "no adjustments were planned"
    return (
        f"This rests on {last['readings']} readings of {last['feet']} feet of {last['horses']} horses in "
        f"{last['yards']} yards; {held}."
    )


def caution_sentences(model: Mapping[str, Any], row: Mapping[str, Any]) -> list[str]:
    """Return what a reader must know before believing the numbers: too few groups, too few df, a failed search."""
    last = model["flow"][-1]
    found = []
    if not model["adjusted"]["converged"]:
        found.append("The search for the variances did not converge: these numbers must not be used.")
    if last["horses"] < FEW_HORSES:
        found.append(f"With {last['horses']} horses (fewer than {FEW_HORSES}) this is a description, not evidence.")
    if last["yards"] < FEW_YARDS and "yard" in model["settings"]["levels"]:
        found.append(
            f"With {last['yards']} yards (fewer than {FEW_YARDS}) differences between yards cannot be told apart from "
            "differences in keeping."
        )
    if row.get("df") is not None and row["df"] < FEW_DF:
        found.append(
            f"The comparison has {df_text(row['df'])} degrees of freedom (fewer than {FEW_DF:g}): it rests on very few "
            "independent units, and its interval and p-value are fragile."
        )
    if model["adjusted"]["boundary"]:
        found.append("The fit is singular: at least one variance was estimated as zero (see the outcome's section).")
    return found

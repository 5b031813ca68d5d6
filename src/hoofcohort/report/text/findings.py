"""The main findings in words: associations, with estimate, interval and adjusted p-value, in that order."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from hoofcohort.report.numbers import (
    MINUS,
    estimate,
    has_interval,
    has_test,
    interval,
    limit,
    listing,
    of_things,
    p_value,
    percent_level,
    with_unit,
)
from hoofcohort.report.text.words import comparison_phrase, exposure_title, upper_first
from hoofcohort.tables.variables import title_of

FEW_HORSES, FEW_YARDS, FEW_DF = 10, 5, 4.0
PAIR = ("exposure", "first", "second", "values", "weights")
"""What tells the comparisons of one outcome apart, at whatever value of another variable they are stated."""
ALPHA = 0.05
"""Level at which an adjusted p-value is said to be in or out of line with its interval."""


def effects_of_interest(model: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    """Return the effects that the outcome's comparison is about: one, averaged over what it interacts with."""
    return [effect for effect in model["effects"] if effect["of_interest"]]


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
    effects = effects_of_interest(model)
    title = upper_first(model["outcome"]["title"])
    if not effects:
        return [f"{title}: the plan names no comparison of interest."]
    sentences = [association(model, effect) for effect in effects if _known(effect)]
    sentences += [_unknown(title, effect) for effect in effects if not _known(effect)]
    known = [effect for effect in effects if _known(effect)]
    for effect in known:
        sentences += conditional_sentences(model, effect)
    if known:
        sentences.append(f_test_sentence(model, known, p_adjusted, tests, method))
    return [*sentences, size_sentence(model), *caution_sentences(model, known)]


def _known(effect: Mapping[str, Any]) -> bool:
    return has_interval(effect["adjusted"])


def _unknown(title: str, effect: Mapping[str, Any]) -> str:
    """Return why a comparison says nothing."""
    what = f"{title}: the comparison “{effect['label']}” could not be estimated from these data"
    df = (effect["adjusted"] or {}).get("df")
    return f"{what}; fewer than one degree of freedom was left." if df is not None else f"{what}."


def association(model: Mapping[str, Any], effect: Mapping[str, Any]) -> str:
    """Return the sentence with the adjusted estimate and its interval: which side is higher, by how much."""
    row, unit = effect["adjusted"], model["outcome"]["unit"]
    title = upper_first(model["outcome"]["title"])
    first, second = comparison_phrase(model["settings"], _comparison(model, effect))
    level = percent_level(model["settings"]["confidence"])
    if row["low"] <= 0 <= row["high"]:
        return (
            f"{title}: no clear association. With {first}, compared with {second}, the estimated "
            f"difference was {estimate(row, unit)} ({level} interval {interval(row, unit)}): these data agree with "
            f"anything from {_size(row, 'low', unit)} lower to {_size(row, 'high', unit)} higher."
        )
    direction, ends = ("higher", ("low", "high")) if row["estimate"] > 0 else ("lower", ("high", "low"))
    reach = " to ".join(_size(row, end, unit) for end in ends)
    return (
        f"{title} was {_size(row, 'estimate', unit)} {direction} ({level} interval {reach} {direction}) with "
        f"{first} than "
        f"with {second}."
    )


def _comparison(model: Mapping[str, Any], effect: Mapping[str, Any]) -> Mapping[str, Any]:
    asked = model["settings"].get("comparison") or {"exposure": effect["exposure"]}
    return {**asked, "values": effect.get("values")}


def conditional_sentences(model: Mapping[str, Any], effect: Mapping[str, Any]) -> list[str]:
    """Return that an effect is averaged over what its exposure interacts with, and the effect per value of that."""
    pair = [effect.get(key) for key in PAIR]
    by_variable: dict[str, list[Mapping[str, Any]]] = {}
    for other in model["effects"]:
        if other.get("at") and [other.get(key) for key in PAIR] == pair:
            by_variable.setdefault(other["at"]["variable"], []).append(other)
    return [_per_value(model, effect, name, rows) for name, rows in by_variable.items()]


def _per_value(
    model: Mapping[str, Any], effect: Mapping[str, Any], variable: str, rows: Sequence[Mapping[str, Any]]
) -> str:
    level = percent_level(model["settings"]["confidence"])
    unit, title = model["outcome"]["unit"], title_of(variable)
    told = []
    for row in rows:
        own = row["adjusted"]
        size = f"{estimate(own, unit)} ({level} interval {interval(own, unit)})" if _known(row) else "not estimable"
        told.append(f"at {row['at']['value']}, {size}")
    return (
        f"This difference is averaged over {title}, with which {exposure_title(effect['exposure'])} interacts; by "
        f"{title} it was: {'; '.join(told)}.{_interaction_test(model, effect['exposure'], variable)}"
    )


def _interaction_test(model: Mapping[str, Any], *pair: str) -> str:
    """Return the joint F test of an interaction's columns; empty when there is none."""
    for row in model["adjusted"]["tests"]:
        if set(row["term"].split(":")) == set(pair) and has_test(row):
            return f" F test of the interaction as a whole: {p_value(row['p'])}."
    return ""


def _size(row: Mapping[str, Any], key: str, unit: str) -> str:
    return with_unit(limit(row[key], row).removeprefix(MINUS), unit)


def f_test_sentence(
    model: Mapping[str, Any],
    effects: Sequence[Mapping[str, Any]],
    p_adjusted: float | None,
    tests: int,
    method: str,
) -> str:
    """Return the sentence with the exposure's F test, adjusted within its family."""
    name = exposure_title(effects[0]["exposure"])
    test = exposure_test(model, effects[0]["exposure"])
    if test is None:
        return f"There is no F test of {name}: its columns could not be estimated."
    unadjusted = f"F test of {name} as a whole: {p_value(test['p'])}"
    if p_adjusted is None:
        return f"{unadjusted}; secondary outcome, outside the family of adjusted tests."
    if method == "none":
        return f"{unadjusted}; the plan asks for no adjustment for its {tests} tests."
    clear = any(not effect["adjusted"]["low"] <= 0 <= effect["adjusted"]["high"] for effect in effects)
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
    return next((row for row in model["adjusted"]["tests"] if row["term"] == exposure and has_test(row)), None)


def size_sentence(model: Mapping[str, Any]) -> str:
    """Return what the finding rests on, and how many variables were held constant."""
    last = model["flow"][-1]
    others = sum(row["role"] == "exposure" for row in model["variables"]) - 1
    held = [of_things(others, "other exposure")] if others else []
    adjustments = sum(row["role"] == "adjustment" for row in model["variables"])
    held += [of_things(adjustments, "further variable")] if adjustments else []
    return (
        f"This rests on {of_things(last['readings'], 'reading')} of {of_things(last['feet'], 'foot', 'feet')} of "
        f"{of_things(last['horses'], 'horse')} in {of_things(last['yards'], 'yard')}, with {listing(held)} held "
        "constant."
    )


def caution_sentences(model: Mapping[str, Any], effects: Sequence[Mapping[str, Any]]) -> list[str]:
    """Return what a reader must know before believing the numbers: too few groups, too few df, a failed search."""
    last = model["flow"][-1]
    found = []
    if not model["adjusted"]["converged"]:
        found.append("The search for the variances did not converge: these numbers must not be used.")
    if last["horses"] < FEW_HORSES:
        found.append(
            f"With {of_things(last['horses'], 'horse')} (fewer than {FEW_HORSES}) this is a description, not evidence."
        )
    if last["yards"] < FEW_YARDS and "yard" in model["settings"]["levels"]:
        found.append(
            f"With {of_things(last['yards'], 'yard')} (fewer than {FEW_YARDS}) differences between yards cannot be "
            "told apart from differences in keeping."
        )
    fewest = min((e["adjusted"]["df"] for e in effects if e["adjusted"].get("df") is not None), default=FEW_DF)
    if fewest < FEW_DF:
        found.append(
            f"The comparison has {fewest:.2f} degrees of freedom (fewer than {FEW_DF:g}): it rests on very few "
            "independent units, and its interval and p-value are fragile."
        )
    if model["adjusted"]["boundary"]:
        found.append("The fit is singular: at least one variance was estimated as zero (see the outcome's section).")
    return found

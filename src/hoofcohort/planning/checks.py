"""Check what a plan means: its names against the tables, indices and variables, and its parts against each other."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from itertools import pairwise
from typing import Any

from hoofcohort.plan import LEVELS, Comparison, Exposure, Outcome, Plan
from hoofcohort.planning import vocabulary as v
from hoofcohort.planning.faults import Fault, Where, found, not_allowed
from hoofcohort.planning.shapes import contrast_faults, shape_faults, with_shape_defaults
from hoofcohort.planning.structure import overlaps, structure

STAND_INS = {
    "study": "x",
    "written": "2000-01-01",
    "data": {"horses": "x", "management": "x", "feet": "x"},
    "outcomes": {"?": {"role": "secondary"}},
    "exposures": {"?": {}},
    "role": "secondary",
    "form": "spline",
    "weights": {},
}


def validate(value: Any) -> tuple[Plan | None, list[Fault]]:
    """Check a plan's structure and meaning.

    Parameters
    ----------
    value : object
        The content of a plan's file.

    Returns
    -------
    Plan or None
        With the exposures' forms, references and units filled in; None when it has faults.
    list of Fault
        All faults; none of them merely follows from another.
    """
    plan, faults = structure(Plan, value, STAND_INS)
    if plan is not None:
        whole = {fault.where[0] for fault in faults if len(fault.where) == 1}
        found_too = [fault for needs, check in CHECKS if not whole & needs for fault in check(plan)]
        faults += [fault for fault in dict.fromkeys(found_too) if not overlaps(fault, faults)]
    return (None if faults or plan is None else _filled_in(plan)), faults


def _filled_in(plan: Plan) -> Plan:
    columns = v.management_columns()
    exposures = {name: _with_defaults(columns[name], own, name in plan.shapes) for name, own in plan.exposures.items()}
    return plan.model_copy(update={"exposures": exposures, "shapes": with_shape_defaults(plan.shapes)})


def _with_defaults(words: Sequence[str] | None, exposure: Exposure, shaped: bool) -> Exposure:
    if words is None:
        per = None if shaped else exposure.per or 1.0
        return exposure.model_copy(update={"form": exposure.form or "mean", "per": per})
    return exposure.model_copy(update={"form": exposure.form or "share", "reference": exposure.reference or words[0]})


def _outcome_names(plan: Plan) -> Iterator[Fault]:
    numbers, words = v.outcomes(), v.word_columns()
    for name in plan.outcomes:
        if name in words:
            text = f"holds words, not numbers, and cannot be an outcome of these models; allowed: {', '.join(numbers)}"
            yield Fault(("outcomes", name), text, about_key=True)
        elif name not in numbers:
            yield Fault(
                ("outcomes", name),
                f"cannot be computed: {not_allowed(name, numbers, 'measurements and indices')}",
                about_key=True,
            )


def _exposures(plan: Plan) -> Iterator[Fault]:
    columns = v.management_columns()
    for name, exposure in plan.exposures.items():
        if name not in columns:
            text = f"no such management column: {not_allowed(name, columns)}"
            yield Fault(("exposures", name), text, about_key=True)
        else:
            yield from _exposure(("exposures", name), exposure, columns[name])
    for outcome, own in plan.outcomes.items():
        for name, exposure in (own.exposures or {}).items():
            where = ("outcomes", outcome, "exposures", name)
            if name not in plan.exposures:
                text = f"not one of the study's exposures: {not_allowed(name, plan.exposures)}"
                yield Fault(where, text, about_key=True)
            elif name in columns:
                yield from _exposure(where, exposure, columns[name])


def _exposure(where: Where, exposure: Exposure, words: Sequence[str] | None) -> Iterator[Fault]:
    forms = ("share", "as_of") if words else ("mean", "as_of")
    column = "a column of words" if words else "a column of numbers"
    if exposure.form and exposure.form not in forms:
        yield Fault((*where, "form"), not_allowed(exposure.form, forms, f"for {column}"))
    if words and exposure.per is not None:
        yield Fault((*where, "per"), f"only for columns of numbers, and this is {column}; remove it")
    if exposure.reference is not None and not words:
        yield Fault((*where, "reference"), f"only for columns of words, and this is {column}; remove it")
    elif exposure.reference is not None and exposure.reference not in (words or ()):
        yield Fault((*where, "reference"), not_allowed(exposure.reference, words or ()))


def _comparisons(plan: Plan) -> Iterator[Fault]:
    for name, outcome in plan.outcomes.items():
        where = ("outcomes", name, "comparison")
        if outcome.comparison is not None:
            yield from _comparison(where, outcome.comparison, plan)
        elif outcome.role == "primary":
            yield Fault(
                where,
                "missing; a primary outcome names the comparison of interest, e.g. "
                "{exposure: diet, first: concentrate, second: hay}",
            )


def _comparison(where: Where, comparison: Comparison, plan: Plan) -> Iterator[Fault]:
    columns = v.management_columns()
    if comparison.exposure not in plan.exposures:
        yield Fault((*where, "exposure"), not_allowed(comparison.exposure, plan.exposures, "the plan's exposures"))
        return
    words = columns.get(comparison.exposure, ())
    for key, value in (("first", comparison.first), ("second", comparison.second)):
        if words is None and value is not None:
            shaped = comparison.exposure in plan.shapes
            compared = f"set by shapes.{comparison.exposure}.values" if shaped else "a slope"
            text = f"only for exposures of words; the comparison of {comparison.exposure} is {compared}; remove it"
            yield Fault((*where, key), text)
        elif words and value is None:
            yield Fault((*where, key), f"missing; allowed: {', '.join(words)}")
        elif words and value not in words:
            yield Fault((*where, key), not_allowed(value, words, f"the words of {comparison.exposure}"))
    if words and comparison.first is not None and comparison.first == comparison.second:
        yield Fault(where, f"first and second are both {found(comparison.first)}; name two different values")


def _adjustments(plan: Plan) -> Iterator[Fault]:
    for where, names in _study_and_own(plan, "adjustments"):
        for place, name in enumerate(names):
            if name not in v.variables():
                yield Fault((*where, place), not_allowed(name, v.variables()))
            elif name in names[:place]:
                yield Fault((*where, place), f"{found(name)} stands twice; remove one")
            elif name in plan.exposures:
                text = f"{found(name)} is already an exposure; a variable is one or the other: remove it here or there"
                yield Fault((*where, place), text)


def _references(plan: Plan) -> Iterator[Fault]:
    variables = v.variables()
    used = {name for _, names in _study_and_own(plan, "adjustments") for name in names}
    for name, value in plan.references.items():
        where = ("references", name)
        words = variables[name].words if name in variables else ()
        if name in plan.exposures:
            yield Fault(where, f"is an exposure; set exposures.{name}.reference instead", about_key=True)
        elif name not in variables or variables[name].kind != "word":
            allowed = [key for key, variable in variables.items() if variable.kind == "word"]
            yield Fault(where, f"no adjustment of words: {not_allowed(name, allowed)}", about_key=True)
        elif name not in used and used <= variables.keys():
            yield Fault(where, "is not among the adjustments; add it there or remove it here", about_key=True)
        elif words and value not in words:
            yield Fault(where, not_allowed(value, words))


def _interactions(plan: Plan) -> Iterator[Fault]:
    study_wide = Outcome(role="secondary")
    faults = {fault.where: fault for fault in _pairs(("interactions",), plan, study_wide, plan.interactions)}
    yield from faults.values()
    for name, own in plan.outcomes.items():
        where: Where = ("outcomes", name, "interactions")
        if own.interactions is not None:
            yield from _pairs(where, plan, own, own.interactions)
        elif own.adjustments is not None or own.exposures:
            sound = [pair for i, pair in enumerate(plan.interactions) if not _any_below(("interactions", i), faults)]
            for fault in _pairs(where, plan, own, sound):
                yield Fault(where, f"the study's interactions do not fit this outcome: {fault.text}; give it its own")


def _any_below(where: Where, faults: Mapping[Where, Fault]) -> bool:
    return any(key[: len(where)] == where for key in faults)


def _pairs(where: Where, plan: Plan, own: Outcome, pairs: Sequence[Sequence[str]]) -> Iterator[Fault]:
    adjustments = plan.adjustments if own.adjustments is None else own.adjustments
    model = [*plan.exposures, *(name for name in adjustments if name in v.variables())]
    for place, pair in enumerate(pairs):
        here = (*where, place)
        strange = [name for name in pair if name not in model]
        if len(pair) != 2 or pair[0] == pair[-1]:
            yield Fault(here, f"found {pair}; an interaction is a pair of different variables, e.g. [diet, fore_hind]")
        elif strange:
            yield from (
                Fault((*here, pair.index(name)), not_allowed(name, model, "the model's variables")) for name in strange
            )
        elif set(pair) in [set(earlier) for earlier in pairs[:place]]:
            yield Fault(here, f"found {pair}; the pair stands twice; remove one")
        elif all(_form(name, plan, own) == "share" for name in pair):
            yield Fault(
                here,
                f"found {pair}; both are shares of days, and the product of two shares is not the share of days on "
                "which both were so; give one of them the form as_of, or remove the pair",
            )


def _form(name: str, plan: Plan, own: Outcome) -> str:
    """Return the form of an exposure for an outcome; empty for an adjustment."""
    if name not in plan.exposures:
        return ""
    changed = (own.exposures or {}).get(name)
    default = "share" if v.management_columns().get(name) else "mean"
    return (changed.form if changed else None) or plan.exposures[name].form or default


def _levels(plan: Plan) -> Iterator[Fault]:
    for where, names in _study_and_own(plan, "levels"):
        unknown = [place for place, name in enumerate(names) if name not in LEVELS]
        yield from (Fault((*where, place), not_allowed(names[place], LEVELS)) for place in unknown)
        known = [name for name in names if name in LEVELS]
        if any(LEVELS.index(outer) >= LEVELS.index(inner) for outer, inner in pairwise(known)):
            text = f"found {', '.join(names)}; levels stand outermost first, each once: yard, horse, foot"
            yield Fault(where, text)
        elif "horse" not in names and not unknown:
            text = f"found {', '.join(names)}; 'horse' must be one: the four feet of a horse are not four horses"
            yield Fault(where, text)


def _also(plan: Plan) -> Iterator[Fault]:
    yield from _crossed(("also",), plan.also, plan.levels)
    for name, own in plan.outcomes.items():
        if own.also is not None or own.levels is not None:
            where = ("outcomes", name, "levels" if own.also is None else "also")
            also = plan.also if own.also is None else own.also
            levels = plan.levels if own.levels is None else own.levels
            yield from _crossed(where, also, levels, items=own.also is not None)


def _crossed(where: Where, also: Sequence[str], levels: Sequence[str], *, items: bool = True) -> Iterator[Fault]:
    allowed = [f"{level}:visit" for level in levels if level in LEVELS]
    for place, name in enumerate(also):
        here = (*where, place) if items else where
        host, _, crossing = name.partition(":")
        if name in also[:place]:
            yield Fault(here, f"{found(name)} stands twice; remove one")
        elif name in allowed:
            continue
        elif host in LEVELS and crossing == "visit":
            text = (
                f"{found(name)} is a grouping inside {host}, and {host} is not among the levels ({', '.join(levels)})"
            )
            yield Fault(here, f"{text}; add that level, or leave the grouping out")
        else:
            yield Fault(here, not_allowed(name, allowed))


def _crossed_factors(plan: Plan) -> Iterator[Fault]:
    words = [name for name, variable in v.variables().items() if variable.kind == "word"]
    for where, names in _study_and_own(plan, "crossed"):
        for place, name in enumerate(names):
            if name not in words:
                yield Fault((*where, place), not_allowed(name, words))
            elif name in names[:place]:
                yield Fault((*where, place), f"{found(name)} stands twice; remove one")
            elif name in plan.exposures:
                text = f"{found(name)} is already an exposure, whose differences are estimated one by one"
                yield Fault((*where, place), f"{text}; remove it here or there")
    for outcome, own in plan.outcomes.items():
        key = "adjustments" if own.crossed is None and own.adjustments is not None else "crossed"
        chosen = getattr(own, key)
        base: Where = (key,) if chosen is None else ("outcomes", outcome, key)
        adjustments = plan.adjustments if own.adjustments is None else own.adjustments
        crossed = plan.crossed if own.crossed is None else own.crossed
        for place, name in enumerate(getattr(plan, key) if chosen is None else chosen):
            if name in words and name in adjustments and name in crossed:
                text = f"{found(name)} is both an adjustment and a crossed factor; it is one or the other"
                yield Fault((*base, place), f"{text}: remove it here or there")


def _study_and_own(plan: Plan, key: str) -> Iterator[tuple[Where, list[str]]]:
    """Yield the study's list of a key, and each outcome's own where it has one."""
    yield (key,), getattr(plan, key)
    for name, outcome in plan.outcomes.items():
        if getattr(outcome, key) is not None:
            yield ("outcomes", name, key), getattr(outcome, key)


CHECKS: tuple[tuple[set[str], Callable[[Plan], Iterator[Fault]]], ...] = (
    (set(), _outcome_names),
    (set(), _exposures),
    ({"exposures"}, _comparisons),
    (set(), _adjustments),
    ({"adjustments", "exposures"}, _references),
    ({"adjustments", "exposures"}, _interactions),
    ({"adjustments", "exposures"}, shape_faults),
    ({"exposures"}, contrast_faults),
    (set(), _levels),
    ({"levels"}, _also),
    ({"adjustments", "exposures"}, _crossed_factors),
)

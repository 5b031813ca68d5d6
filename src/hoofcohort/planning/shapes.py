"""Check the shapes of numbers and the contrasts of words that a plan asks for."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise

from hoofcohort.plan import Contrast, Plan, Shape
from hoofcohort.planning import vocabulary as v
from hoofcohort.planning.faults import Fault, Where, found, not_allowed

ROUNDING = 0.005
"""How far the weights of one side may be from adding up to 1: thirds written 0.333. They are then scaled."""


def with_shape_defaults(shapes: Mapping[str, Shape]) -> dict[str, Shape]:
    """Return shapes with the number of knots or the degree filled in."""
    filled = {}
    for name, own in shapes.items():
        if own.form == "polynomial":
            filled[name] = own.model_copy(update={"degree": own.degree or 2})
        else:
            filled[name] = own if own.knots_at else own.model_copy(update={"knots": own.knots or 4})
    return filled


def shape_faults(plan: Plan) -> Iterator[Fault]:
    """Yield what is wrong with a plan's ``shapes``."""
    lists = [plan.adjustments, *(own.adjustments or [] for own in plan.outcomes.values())]
    adjustments = {name for names in lists for name in names}
    columns, variables = v.management_columns(), v.variables()
    numbers = [name for name in plan.exposures if name in columns and columns[name] is None]
    numbers += sorted(name for name in adjustments if name in variables and variables[name].kind == "number")
    sound = all(name in variables and name not in plan.exposures for name in adjustments)
    for name, shape in plan.shapes.items():
        where: Where = ("shapes", name)
        known = name in variables and variables[name].kind == "number"
        if name not in numbers and known and not (sound and _once_each(lists)):
            continue
        if name not in numbers:
            what = "the plan's exposures and adjustments of numbers"
            text = f"only a number of the models has a shape: {not_allowed(name, numbers, what)}"
            yield Fault(where, text, about_key=True)
            continue
        yield from _of_form(where, shape)
        if shape.values is not None:
            yield from _values((*where, "values"), shape.values, name in plan.exposures)
        if name in plan.exposures:
            yield from _per(name, plan)


def _once_each(lists: Sequence[Sequence[str]]) -> bool:
    return all(len(set(names)) == len(names) for names in lists)


def _of_form(where: Where, shape: Shape) -> Iterator[Fault]:
    foreign = ("degree",) if shape.form == "spline" else ("knots", "knots_at")
    for key in foreign:
        if getattr(shape, key) is not None:
            yield Fault((*where, key), f"has no use with the form {shape.form}; remove it, or change the form")
    places = shape.knots_at
    if shape.form != "spline" or places is None:
        return
    if shape.knots is not None:
        yield Fault((*where, "knots_at"), "stands beside `knots`; give the number of knots or their places, not both")
    if len(places) < 3:
        yield Fault((*where, "knots_at"), f"found {_count(places, 'knot')}; a spline needs at least three")
    elif any(low >= high for low, high in pairwise(places)):
        text = f"found {_listed(places)}; each knot must be above the one before"
        yield Fault((*where, "knots_at"), text)


def _values(where: Where, values: Sequence[float], exposure: bool) -> Iterator[Fault]:
    if not exposure:
        yield Fault(where, "only for exposures: no comparison is stated for an adjustment; remove it")
    elif len(values) < 2:
        yield Fault(where, f"found {_count(values, 'value')}; give two or more, the first being the one compared with")
    elif len(set(values)) < len(values):
        yield Fault(where, f"found {_listed(values)}; a value stands twice; remove one")


def _per(name: str, plan: Plan) -> Iterator[Fault]:
    places: list[tuple[Where, float | None]] = [(("exposures", name, "per"), plan.exposures[name].per)]
    for outcome, own in plan.outcomes.items():
        if own.exposures and name in own.exposures:
            places.append((("outcomes", outcome, "exposures", name, "per"), own.exposures[name].per))
    for where, per in places:
        if per is not None:
            text = f"has no use: {name} has a shape, and values are compared instead of a slope; remove `per`, and set "
            yield Fault(where, f"{text}shapes.{name}.values if need be")


def contrast_faults(plan: Plan) -> Iterator[Fault]:
    """Yield what is wrong with a plan's ``contrasts``."""
    columns = v.management_columns()
    for place, contrast in enumerate(plan.contrasts):
        where: Where = ("contrasts", place)
        if contrast.name in [earlier.name for earlier in plan.contrasts[:place]]:
            yield Fault((*where, "name"), f"{found(contrast.name)} stands twice; names tell contrasts apart")
        worded = [name for name in plan.exposures if columns.get(name)]
        if contrast.exposure not in worded:
            what = "the plan's exposures of words"
            yield Fault((*where, "exposure"), not_allowed(contrast.exposure, worded, what))
        else:
            yield from _weights((*where, "weights"), contrast, columns[contrast.exposure] or ())


def _weights(where: Where, contrast: Contrast, words: Sequence[str]) -> Iterator[Fault]:
    strange = [word for word in contrast.weights if word not in words]
    for word in strange:
        text = f"no word of {contrast.exposure}: {not_allowed(word, words)}"
        yield Fault((*where, word), text, about_key=True)
    sides = [sum(max(sign * weight, 0.0) for weight in contrast.weights.values()) for sign in (1, -1)]
    if not strange and any(abs(side - 1) > ROUNDING for side in sides):
        yield Fault(
            where,
            f"those above zero add up to {sides[0]:g}, those below zero to {-sides[1]:g}; they must add up to 1 and "
            "-1, so that the contrast is a difference between two means, e.g. "
            "{pasture: 0.5, hay: 0.5, concentrate: -1}",
        )


def _count(items: Sequence[float], what: str) -> str:
    return f"{len(items)} {what}{'' if len(items) == 1 else 's'}"


def _listed(items: Sequence[float]) -> str:
    return ", ".join(f"{item:g}" for item in items)

"""Numbers that need not go with the outcome as a straight line: their bases, the values compared, and their curves."""

from __future__ import annotations

from operator import itemgetter
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from hoofcohort.errors import ModelError
from hoofcohort.models import Covariate, Curve, Design, Fit
from hoofcohort.models.design import average
from hoofcohort.models.splines import Polynomial, Spline, carries, polynomial, quantile_knots
from hoofcohort.plan import Shape
from hoofcohort.tables.declare import Column

Array = NDArray[np.floating]
COMPARED = {0.1: "10th", 0.5: "50th", 0.9: "90th"}
"""Percentiles of an exposure that are compared where the plan names no values; the project's own choice, no source."""
SHOWN = (0.01, 0.99)
"""Quantiles between which a curve is shown; the project's own choice, no source."""
POINTS, BINS = 60, 24


def shaped(name: str, values: ArrayLike, shape: Shape, title: str, messages: list[str]) -> Covariate:
    """Return a variable in the plan's shape; with fewer knots, or as a straight line, where its values are too few.

    Parameters
    ----------
    name, title : str
    values : array, shape (n,)
        Finite, not all equal.
    shape : Shape
        With its defaults filled in.
    messages : list of str
        Gets a sentence where the variable enters otherwise than planned.

    Raises
    ------
    ModelError
        When the plan's own knots do not fit the values.
    """
    x = np.asarray(values, float)
    basis = _polynomial(x, shape.degree or 2) if shape.form == "polynomial" else _spline(x, shape, title)
    if basis is None:
        messages.append(
            f"The {title} has {len(np.unique(x))} distinct values, too few or too unevenly spread for a curve; it "
            "enters as a straight line."
        )
        return Covariate(name, x)
    if isinstance(basis, Spline) and not shape.knots_at and len(basis.knots) < (shape.knots or 4):
        messages.append(
            f"Quantiles of the {title} coincide: {len(basis.knots)} knots are used instead of {shape.knots or 4}."
        )
    if isinstance(basis, Polynomial) and basis.degree < (shape.degree or 2):
        messages.append(f"The {title} has {len(np.unique(x))} distinct values, too few for degree 3; degree 2 is used.")
    return Curve(name, x, basis)


def _polynomial(x: Array, degree: int) -> Polynomial | None:
    """Return the polynomial of the highest degree, at most that asked for, that the values can carry."""
    return next((own for own in (polynomial(x, power) for power in range(degree, 1, -1)) if carries(x, own)), None)


def _spline(x: Array, shape: Shape, title: str) -> Spline | None:
    """Return the plan's spline, with fewer knots where the values cannot carry so many; None below three."""
    if not shape.knots_at:
        knots = quantile_knots(x, shape.knots or 4)
        return Spline(knots) if knots else None
    basis = Spline(tuple(shape.knots_at))
    if not carries(x, basis):
        raise ModelError(
            f"the knots of {title} at {', '.join(f'{knot:g}' for knot in shape.knots_at)} do not fit its values, "
            f"which run from {x.min():g} to {x.max():g}; set others in the plan, or give their number (`knots`)"
        )
    return basis


def compared_values(variable: Covariate, shape: Shape) -> list[tuple[tuple[float, float], str]]:
    """Return pairs of values to compare, the higher of interest first: the ends, and how they were chosen in words.

    The last value against the first, then the others against the first. Percentiles that coincide are left out.
    """
    if shape.values:
        first, *others = shape.values
        return [((value, first), "") for value in (others[-1], *others[:-1])]
    x = np.asarray(variable.values, float)
    low, middle, high = (float(np.quantile(x, share)) for share in COMPARED)
    words = list(COMPARED.values())
    pairs = [
        ((high, low), f"{words[2]} v {words[0]} percentile"),
        ((middle, low), f"{words[1]} v {words[0]} percentile"),
    ]
    return [(ends, said) for ends, said in pairs if ends[0] > ends[1]]


def beyond(column: Column, variable: Covariate, shape: Shape) -> list[str]:
    """Return a sentence when the plan compares values of a management column that no reading reaches."""
    x = np.asarray(variable.values, float)
    outside = [value for value in shape.values or () if not x.min() <= value <= x.max()]
    if not outside:
        return []
    return [
        f"The plan compares the {column.title} at {', '.join(f'{value:g}' for value in outside)} {column.unit}, beyond "
        f"the readings used ({x.min():g} to {x.max():g}): the comparison is extrapolated."
    ]


def curve_record(fit: Fit, alone: Fit | None, name: str) -> dict[str, Any]:
    """Return the curve of a variable: differences from its median over a grid, with pointwise intervals, and its tests.

    Parameters
    ----------
    fit : Fit
        The adjusted model.
    alone : Fit or None
        The model with this variable alone, for its tests.
    name : str
        A :class:`Curve` of the model.

    Returns
    -------
    dict
        ``form``, ``knots``, ``degree``; ``reference``, the median over the rows, and ``percentiles``; ``grid`` (value,
        estimate, std_error, df, low, high, p; these percentiles among the values), variables that interact with it at
        their average; ``joint`` and ``nonlinearity``, F tests of all columns and of all but the first, None where the
        data cannot give them; the same under ``unadjusted``; and a ``histogram`` of the rows.
    """
    variable = fit.design.variables[name]
    assert isinstance(variable, Curve)
    x, basis = np.asarray(variable.values, float), variable.shape
    reference = float(np.quantile(x, 0.5))
    counts, edges = np.histogram(x, bins=BINS)
    return {
        "form": "spline" if isinstance(basis, Spline) else "polynomial",
        "knots": list(basis.knots) if isinstance(basis, Spline) else [],
        "degree": basis.degree if isinstance(basis, Polynomial) else None,
        "reference": reference,
        "percentiles": {said: float(np.quantile(x, share)) for share, said in COMPARED.items()},
        "grid": _grid(fit, name, x, reference),
        **curve_tests(fit, name),
        "unadjusted": None if alone is None else curve_tests(alone, name),
        "histogram": {"edges": edges.tolist(), "counts": counts.tolist()},
    }


def curve_tests(fit: Fit, name: str) -> dict[str, dict[str, float] | None]:
    """Return the F tests of all columns of a curve and of the non-linear ones; None unless all can be estimated."""
    functions = fit.design.basis_functions(name)
    _, possible = fit.basis.restrict(functions)
    return {
        "joint": vars(fit.joint_test(functions)) if possible.all() else None,
        "nonlinearity": vars(fit.joint_test(functions[1:])) if possible[1:].all() else None,
    }


def _grid(fit: Fit, name: str, x: Array, reference: float) -> list[dict[str, float | None]]:
    """Return the differences from the reference over the range shown, the reference among them."""
    low, high = np.quantile(x, SHOWN)
    named = np.array([reference, *np.quantile(x, list(COMPARED))])
    even = np.linspace(low, high, POINTS)
    apart = np.abs(even[:, None] - named).min(axis=1) > 1e-6 * (high - low)
    values = np.unique([*even[apart], *named])
    functions = _values_at(fit.design, name, values) - _values_at(fit.design, name, np.array([reference]))
    elsewhere = values != reference
    rows: list[dict[str, float | None]] = [
        {"value": reference, "estimate": 0.0, "std_error": None, "df": None, "low": 0.0, "high": 0.0, "p": None}
    ]
    for value, found in zip(values[elsewhere].tolist(), fit.linear(functions[elsewhere]), strict=True):
        if np.isfinite(found.estimate):
            keys = ("estimate", "std_error", "df", "low", "high", "p")
            rows.append({"value": value} | {key: getattr(found, key) for key in keys})
    return sorted(rows, key=itemgetter("value"))


def _values_at(design: Design, name: str, values: Array) -> Array:
    """Return the columns, shape (k, p), at values of one variable, the others at their average."""
    settings = {key: average(own) for key, own in design.variables.items()}
    return np.array([design.row(settings | {name: value}) for value in values])

"""A fit as plain numbers and words: the content of fit.json."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from hoofcohort.errors import ModelError

if TYPE_CHECKING:
    from hoofcohort.models.fit import Fit
    from hoofcohort.models.profile import ProfileIntervals
    from hoofcohort.models.solution import Solution

NO_F = "with so few groups the approximation of its degrees of freedom breaks down"


def as_record(fit: Solution) -> dict[str, Any]:
    """Return the record of a fit; None stands for what the data cannot estimate, or an unlimited df."""
    at = fit.optimum.at
    means, contrasts = [], []
    for name in fit.means:
        functions, values = fit.means_matrix(name)
        for value, estimate in zip(values, fit.linear(functions), strict=True):
            row = {"factor": name, "value": value, **vars(estimate)}
            means.append({key: row[key] for key in ("factor", "value", "estimate", "std_error", "df", "low", "high")})
        for row in fit.contrasts(name):
            contrasts.append({key: value for key, value in row.items() if key not in ("low", "high")} | {
                "low": row["low"], "high": row["high"],
            })  # fmt: skip
    tests = fit.tests()
    broken = [f"The F test of '{term}' cannot be given: {NO_F}." for term, test in tests.items() if math.isnan(test.f)]
    record = {
        "rows_used": fit.grouping.rows,
        "rows_dropped": fit.rows_dropped,
        "groups": fit.grouping.sizes(),
        "method": fit.method,
        "df_method": fit.df,
        "confidence": fit.confidence,
        "criterion": fit.criterion,
        "log_likelihood": -fit.criterion / 2,
        "converged": fit.optimum.converged,
        "boundary": fit.boundary,
        "iterations": fit.optimum.iterations,
        "gradient": fit.optimum.gradient,
        "dropped_terms": fit.dropped_terms,
        "coefficients": _coefficients(fit, np.sqrt(np.diag(fit.transform @ at.covariance @ fit.transform.T))),
        "tests": [{"term": term, **vars(test)} for term, test in tests.items()],
        "variances": [
            {"level": name, "variance": value, "sd": math.sqrt(value)} for name, value in fit.variances.items()
        ],
        "means": means,
        "contrasts": contrasts,
        "icc": fit.icc(),
        "r2": fit.r_squared(),
        "messages": [*fit.messages, *broken],
    }
    return plain(record)


def with_profile(record: dict[str, Any], found: ProfileIntervals) -> dict[str, Any]:
    """Return a record with profile-likelihood intervals beside its estimates.

    Variances gain ``low``, ``high``, ``sd_low`` and ``sd_high``, coefficients of a fit by maximum likelihood
    ``profile_low`` and ``profile_high``; ``icc_intervals`` holds ``low`` and ``high`` of every level's share of the
    variance, the residual's too. A ``high`` of None is no limit.
    """
    variances = [
        row
        | {"low": found.variances[row["level"]].low, "high": found.variances[row["level"]].high}
        | {"sd_low": found.sds[row["level"]].low, "sd_high": found.sds[row["level"]].high}
        for row in record["variances"]
    ]
    coefficients = [
        row | {f"profile_{end}": getattr(found.coefficients[row["term"]], end) for end in ("low", "high")}
        if row["term"] in found.coefficients
        else row
        for row in record["coefficients"]
    ]
    return plain(
        record
        | {
            "coefficients": coefficients,
            "variances": variances,
            "icc_intervals": {name: {"low": own.low, "high": own.high} for name, own in found.icc.items()},
            "profile_confidence": found.confidence,
            "messages": [*record["messages"], *found.messages],
        }
    )


def with_bootstrap(record: dict[str, Any], fit: Fit, replicates: int, seed: int) -> dict[str, Any]:
    """Add parametric bootstrap intervals, and bootstrap tests of every level and of every term that can be left out.

    A term inside an interaction cannot be; a level or term whose null model cannot be fitted is named in a message.
    """
    from hoofcohort.models.bootstrap import parametric_bootstrap
    from hoofcohort.models.likelihood_ratio import likelihood_ratio_test

    found = parametric_bootstrap(fit, replicates, seed).to_dict()
    variables = [set(term.split(":")) for term in fit.design.terms]
    wanted: list[tuple[str, dict[str, Any]]] = [(name, {"without_level": name}) for name in fit.grouping.names]
    wanted += [
        (term, {"without_terms": [term]})
        for term, own in zip(fit.design.terms, variables, strict=True)
        if not any(own < other for other in variables)
    ]
    tests, messages = [], []
    for name, chosen in wanted:
        try:
            tests.append(likelihood_ratio_test(fit, **chosen, replicates=replicates, seed=seed).to_dict())
        except ModelError as error:
            messages.append(f"No bootstrap test of '{name}': {error}.")
    added = {"bootstrap": found | {"tests": tests}, "messages": [*record["messages"], *messages]}
    return plain(record | added)


def _coefficients(fit: Solution, unadjusted: np.ndarray) -> list[dict[str, Any]]:
    """Return one row per kept column."""
    functions = np.eye(len(fit.design.names))[fit.basis.kept]
    rows = []
    for column, estimate, plain in zip(fit.basis.kept, fit.linear(functions), unadjusted, strict=True):
        row = vars(estimate)
        rows.append({
            "term": fit.design.names[column], "estimate": row["estimate"], "std_error": row["std_error"],
            "std_error_unadjusted": float(plain) * fit.scale,
            **{key: row[key] for key in ("df", "t", "p", "low", "high")},
        })  # fmt: skip
    return rows


def plain(value: Any) -> Any:
    """Return a value made of dicts, lists, text, numbers and None alone; NaN and infinity become None."""
    if isinstance(value, str) or value is None or isinstance(value, bool):
        return value
    if isinstance(value, Mapping):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, Sequence):
        return [plain(item) for item in value]
    if hasattr(value, "tolist"):
        return plain(value.tolist())
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value

"""An independent check: the adjusted model fitted again by statsmodels' MixedLM.

It shares nothing with the engine but the columns and the groups. Columns are handed over as an orthonormal basis and
the outcome in units of its spread about them, so that no badly scaled column troubles its optimiser; the answers are
turned back.
"""

from __future__ import annotations

import re
import warnings
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from hoofcohort.models import Fit, Grouping

if TYPE_CHECKING:
    from statsmodels.regression.mixed_linear_model import VCSpec

Array = NDArray[np.floating]
MOST_ROWS = 5000
"""Most rows that are checked: MixedLM loops over the outermost groups in Python."""
MOST_COLUMNS = 500
"""Most random effects within one outermost group: MixedLM solves a dense system of that size at every step."""
METHODS = ("lbfgs", "bfgs", "powell")
"""Searches tried in turn until one converges: MixedLM's stop early now and then, above all where a variance is zero."""
MOST_STEPS = 100
WORSE = 0.01
"""A -2 log likelihood higher than the engine's by more than this is not the optimum, whatever the search says."""


def check_with_statsmodels(fit: Fit) -> dict[str, Any]:
    """Return the estimates of ``fit`` beside those of statsmodels, or the reason why there are none.

    Parameters
    ----------
    fit : Fit
        By restricted maximum likelihood.

    Returns
    -------
    dict
        ``available``, ``reason``, ``library``, ``version``, ``converged``, ``warnings`` (sentences),
        ``coefficients``, ``variances`` and ``criterion``, of the first search that converged, or of the best when none
        did. A search that stopped at a worse fit than the engine's has not converged. Both standard errors are those
        before the Kenward-Roger adjustment, with the variances taken as known: MixedLM offers no such adjustment.
    """
    from statsmodels import __version__

    record: dict[str, Any] = {
        "available": False, "reason": _too_large(fit.grouping), "library": "statsmodels MixedLM",
        "version": __version__, "converged": None, "warnings": [], "coefficients": [], "variances": [],
        "criterion": None,
    }  # fmt: skip
    if record["reason"]:
        return record
    found: list[dict[str, Any]] = []
    for method in METHODS:
        try:
            found.append(_search(fit, method))
        except (np.linalg.LinAlgError, ValueError, FloatingPointError) as error:
            record["warnings"].append(_sentence(f"{method} could not fit the model: {error}"))
            continue
        record["warnings"] += found[-1].pop("warnings")
        if found[-1]["converged"]:
            break
    record["warnings"] = list(dict.fromkeys(record["warnings"]))
    if not found:
        return record | {"reason": "statsmodels could not fit the model"}
    best = min(found, key=lambda own: (not own["converged"], own["criterion"]["theirs"]))
    return record | {"available": True} | best


def _search(fit: Fit, method: str) -> dict[str, Any]:
    """Return what one search found, and its warnings as sentences."""
    with warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always")
        model = _fit(fit, method)
        record = _beside(fit, model)
    record["warnings"] = [_sentence(f"{method}: {item.message}") for item in caught]
    record["converged"] = bool(model.converged)
    short = record["criterion"]["theirs"] - record["criterion"]["ours"]
    if short > WORSE:
        record["converged"] = False
        text = f"Its search by {method} stopped at a -2 log likelihood {short:.2g} above the engine's, a worse fit."
        record["warnings"].append(text)
    return record


def _too_large(grouping: Grouping) -> str:
    outer = _independent(grouping)
    columns = sum(np.bincount(_outer_group(outer, code, len(parent)), minlength=outer.max() + 1)
                  for code, parent in zip(grouping.codes, grouping.parents, strict=True))  # fmt: skip
    if grouping.rows > MOST_ROWS:
        return (
            f"not run: {grouping.rows} rows are more than the {MOST_ROWS} that it is run on, for it would take too long"
        )
    if np.max(columns) > MOST_COLUMNS:
        where = f"a group of level '{grouping.names[0]}' holds"
        if grouping.crossed:
            where = "with a crossed factor all readings are one group, which holds"
        return (
            f"not run: {where} {np.max(columns)} random effects, more than the "
            f"{MOST_COLUMNS} that it is run on, for it would take too long"
        )
    return ""


def _independent(grouping: Grouping) -> NDArray[np.int64]:
    """Return the group of each row outside which nothing is correlated with it: one for all with a crossed factor."""
    return np.zeros_like(grouping.codes[0]) if grouping.crossed else grouping.codes[0]


def _outer_group(outer: NDArray[np.int64], code: NDArray[np.int64], groups: int) -> NDArray[np.int64]:
    """Return the outermost group of each group."""
    owner = np.zeros(groups, np.int64)
    owner[code] = outer
    return owner


def _fit(fit: Fit, method: str) -> Any:
    from statsmodels.regression.mixed_linear_model import MixedLM

    columns = fit.basis.q * np.sqrt(fit.grouping.rows)
    model = MixedLM(fit.outcome / fit.scale, columns, _independent(fit.grouping), exog_vc=_components(fit.grouping))
    return model.fit(reml=True, method=method, maxiter=MOST_STEPS)


def _components(grouping: Grouping) -> VCSpec:
    """Return the indicator columns of every grouping within each independent group."""
    from statsmodels.regression.mixed_linear_model import VCSpec

    outer = _independent(grouping)
    members = np.split(np.argsort(outer, kind="stable"), np.cumsum(np.bincount(outer))[:-1])
    names: list[list[list[str]]] = []
    matrices: list[list[Array]] = []
    for code in grouping.codes:
        own = [np.unique(code[rows], return_inverse=True) for rows in members]
        names.append([[str(group) for group in groups] for groups, _ in own])
        matrices.append([np.eye(len(groups))[place] for groups, place in own])
    return VCSpec(list(grouping.names), names, matrices)


def _beside(fit: Fit, found: Any) -> dict[str, Any]:
    p = fit.basis.q.shape[1]
    size = np.sqrt(fit.grouping.rows)
    turn = fit.transform * size * fit.scale
    fixed = np.linalg.inv(np.linalg.inv(np.asarray(found.cov_params()))[:p, :p])
    ours = {row["term"]: row for row in fit.to_dict()["coefficients"]}
    theirs = zip(turn @ np.asarray(found.fe_params), np.sqrt(np.diag(turn @ fixed @ turn.T)), strict=True)
    coefficients = [
        {
            "term": term, "ours": row["estimate"], "theirs": float(estimate),
            "ours_std_error": row["std_error_unadjusted"], "theirs_std_error": float(error),
        }
        for (term, row), (estimate, error) in zip(ours.items(), theirs, strict=True)
    ]  # fmt: skip
    components = np.append(found.vcomp, found.scale) * fit.scale**2
    variances = [
        {"level": level, "ours": value, "theirs": float(other)}
        for (level, value), other in zip(fit.variances.items(), components, strict=True)
    ]
    rows = fit.grouping.rows
    criterion = -2 * found.llf + 2 * (rows - p) * np.log(fit.scale) - 2 * p * np.log(size)
    criterion += 2 * fit.basis.log_determinant
    return {
        "coefficients": coefficients,
        "variances": variances,
        "criterion": {"ours": fit.criterion, "theirs": float(criterion)},
    }


def _sentence(text: str) -> str:
    """Return a warning as one sentence: statsmodels' own words, without line breaks."""
    words = re.sub(r"\s+", " ", text).strip().rstrip(".")
    return f"statsmodels warns: {words}."

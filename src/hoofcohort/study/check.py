"""An independent check: the same model fitted by statsmodels' MixedLM."""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from typing import Any

import numpy as np
from numpy.typing import NDArray

from hoofcohort.models import Fit
from hoofcohort.study.sentences import joined

LARGEST = 5000
"""Readings above which the check is skipped: MixedLM loops over groups and slows down."""
METHODS = ["lbfgs", "powell"]


def check_with_statsmodels(fit: Fit) -> dict[str, Any]:
    """Fit the model again with MixedLM and put its estimates beside ours.

    The columns are handed over as the orthonormal basis of ours and the outcome in units of its residual spread, so
    that its optimiser meets no badly scaled column; its answers are turned back.
    """
    import statsmodels
    from statsmodels.regression.mixed_linear_model import MixedLM, VCSpec

    record: dict[str, Any] = {
        "available": False, "reason": "", "library": "statsmodels MixedLM", "version": statsmodels.__version__,
        "converged": None, "warnings": [], "coefficients": [], "variances": [],
    }  # fmt: skip
    rows = len(fit.outcome)
    if rows > LARGEST:
        record["reason"] = f"left out above {LARGEST} readings, where it takes too long; this study has {rows}"
        return record
    names, matrices = zip(*_components(fit), strict=True) if len(fit.grouping.names) > 1 else ((), ())
    components = VCSpec(list(names), [[[]] * len(part) for part in matrices], list(matrices)) if names else None
    size = np.sqrt(rows)
    model = MixedLM(
        fit.outcome / fit.scale,
        fit.basis.q * size,
        fit.grouping.codes[0],
        exog_re=np.ones((rows, 1)),
        exog_vc=components,
    )
    with warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always")
        try:
            found = model.fit(reml=fit.method == "reml", method=METHODS)
        except (np.linalg.LinAlgError, ValueError) as error:
            record["reason"] = f"statsmodels could not fit the model ({error})"
            return record
    turn = np.linalg.inv(fit.basis.r) * size * fit.scale
    covariance = turn @ np.asarray(found.cov_params())[: turn.shape[0], : turn.shape[0]] @ turn.T
    record |= {"available": True, "converged": bool(found.converged)}
    record["warnings"] = sorted({_sentence(str(item.message)) for item in caught})
    record["coefficients"] = _coefficients(fit, turn @ np.asarray(found.fe_params), np.sqrt(np.diag(covariance)))
    values = [float(np.asarray(found.cov_re)[0, 0]), *map(float, found.vcomp), float(found.scale)]
    labels = [fit.grouping.names[0], *names, "residual"]
    theirs = dict(
        zip(
            labels,
            [value * (1.0 if label == "residual" else 1.0) for label, value in zip(labels, values, strict=True)],
            strict=True,
        )
    )
    record["variances"] = [
        {"level": level, "ours": value, "theirs": theirs[level] * fit.scale**2}
        for level, value in fit.variances.items()
    ]
    return record

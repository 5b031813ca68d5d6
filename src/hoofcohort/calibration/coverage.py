"""Count how often 95% intervals hold the truth over the cohorts of one cell."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from hoofcohort.calibration.cells import EFFECTS, LEVELS, METHODS, NOMINAL, Cell
from hoofcohort.calibration.cohorts import Cohort, draw
from hoofcohort.errors import ModelError
from hoofcohort.models import Covariate, Fit, Grouping, build_design, fit_mixed_model
from hoofcohort.models.inference import Satterthwaite

JOINT = "all three"
Z = 1.959963984540054
"""97.5% point of the standard normal distribution."""

FUNCTIONS = np.eye(len(EFFECTS))[1:]
TRUTH = np.array(EFFECTS[1:])


def fit_cohort(cohort: Cohort) -> Fit:
    """Fit horse > foot and horse:visit by REML with all three exposures."""
    grouping = Grouping.from_labels({"horse": cohort.horse, "foot": cohort.foot}, {"horse:visit": cohort.visit})
    variables = [Covariate(name, cohort.exposures[:, column]) for column, name in enumerate(LEVELS)]
    return fit_mixed_model(cohort.outcome, build_design(variables, list(LEVELS)), grouping)


def one_cohort(cohort: Cohort) -> dict[str, Any] | None:
    """Return what the table needs of one cohort, or None when the model is refused.

    Returns
    -------
    dict
        ``estimate`` (3,); ``error``, ``df``, ``held`` (methods, 3); ``joint`` (methods,): whether the F test of all
        three exposures keeps the truth at 5%, NaN where the F test cannot be given; ``boundary``, ``converged``.
    """
    try:
        fit = fit_cohort(cohort)
    except ModelError:
        return None
    plain = replace(fit, df="satterthwaite", inference=Satterthwaite.of(fit.optimum))
    by_method = [fit.linear(FUNCTIONS), plain.linear(FUNCTIONS)]
    error = np.array([[own.std_error for own in rows] for rows in [*by_method, by_method[1]]])
    low, high = (np.array([[getattr(own, end) for own in rows] for rows in by_method]) for end in ("low", "high"))
    estimate = np.array([own.estimate for own in by_method[0]])
    held = (low <= TRUTH) & (high >= TRUTH)
    return {
        "estimate": estimate,
        "error": error,
        "df": np.array([[own.df for own in rows] for rows in by_method] + [[np.inf] * len(LEVELS)]),
        "width": np.vstack([high - low, 2 * Z * error[2]]),
        "held": np.vstack([held, np.abs(estimate - TRUTH) <= Z * error[2]]),
        "joint": _joint(fit, plain, estimate - TRUTH),
        "boundary": bool(fit.boundary),
        "converged": fit.optimum.converged,
    }


def _joint(fit: Fit, plain: Fit, miss: NDArray[np.floating]) -> NDArray[np.floating]:
    """Tell per method whether the F test (chi-squared for z) that the estimates miss the truth by zero stays silent."""
    from scipy.stats import chi2
    from scipy.stats import f as fisher

    turned = FUNCTIONS @ fit.transform
    shift = turned.T @ np.linalg.solve(turned @ turned.T, miss) / fit.scale
    silent = []
    for own in (fit, plain):
        num, den, f = own.inference.joint(turned, shift)
        silent.append(float(fisher.sf(f, num, den) > 1 - NOMINAL) if np.isfinite(f) else np.nan)
    wald = shift @ turned.T @ np.linalg.solve(turned @ plain.inference.covariance @ turned.T, turned @ shift)
    return np.array([*silent, float(chi2.sf(wald, len(LEVELS)) > 1 - NOMINAL)])


def cover(cell: Cell, cohorts: int) -> pd.DataFrame:
    """Return the rows of the table for one cell, from its first so many cohorts.

    Returns
    -------
    DataFrame
        One row a level and method; see :data:`table.COLUMNS`.
    """
    found = [one_cohort(draw(cell, number)) for number in range(cohorts)]
    fitted = [row for row in found if row is not None]
    kept = {key: np.array([row[key] for row in fitted]) for key in fitted[0]}
    head = {"horses": cell.horses, "shape": cell.shape, "errors": cell.errors, "spread": cell.spread}
    tail = {
        "at_boundary": kept["boundary"].mean(),
        "unconverged": int((~kept["converged"]).sum()),
        "refused": cohorts - len(fitted),
        "cohorts": cohorts,
    }
    rows = []
    for position, level in enumerate([*LEVELS, JOINT]):
        for which, method in enumerate(METHODS):
            own = _joint_row(kept, which) if level == JOINT else _single_row(kept, which, position)
            rows.append(head | {"level": level, "method": method} | own | tail)
    return pd.DataFrame(rows)


def _share(held: NDArray[Any]) -> dict[str, float]:
    """Return a share with its Monte Carlo standard error, that of a binomial share."""
    share = float(held.mean())
    return {"coverage": share, "mc_se": float(np.sqrt(share * (1 - share) / len(held)))}


def _single_row(kept: dict[str, NDArray[Any]], which: int, position: int) -> dict[str, float]:
    error = kept["error"][:, which, position]
    return _share(kept["held"][:, which, position]) | {
        "given": len(error),
        "mean_width": float(kept["width"][:, which, position].mean()),
        "median_df": float(np.median(kept["df"][:, which, position])),
        "error_ratio": float(np.sqrt((error**2).mean()) / kept["estimate"][:, position].std(ddof=1)),
    }


def _joint_row(kept: dict[str, NDArray[Any]], which: int) -> dict[str, float]:
    own = kept["joint"][:, which]
    given = own[~np.isnan(own)]
    return _share(given) | {"given": len(given), "mean_width": np.nan, "median_df": np.nan, "error_ratio": np.nan}

"""Count how often 95% intervals hold the truth over the cohorts of one cell."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from hoofcohort.calibration.cells import EFFECTS, LEVELS, METHODS, NOMINAL, Cell
from hoofcohort.calibration.cohorts import Cohorts, draw
from hoofcohort.errors import ModelError
from hoofcohort.models import Grouping
from hoofcohort.models.basis import orthonormal_basis
from hoofcohort.models.criterion import Evaluation, derive
from hoofcohort.models.inference import Inference, KenwardRoger, Satterthwaite
from hoofcohort.models.optimise import Optimum
from hoofcohort.models.refits import refit
from hoofcohort.models.replicates import Replicates

Array = NDArray[np.floating]
Counts = dict[str, NDArray[Any]]
JOINT = "all three"
Z = 1.959963984540054
"""97.5% point of the standard normal distribution."""

FUNCTIONS = np.eye(len(EFFECTS))[1:]
TRUTH = np.array(EFFECTS[1:])


def grouping_of(cohorts: Cohorts) -> Grouping:
    """Return horse > foot and horse:visit."""
    return Grouping.from_labels({"horse": cohorts.horse, "foot": cohorts.foot}, {"horse:visit": cohorts.visit})


def count(cohorts: Cohorts) -> Counts | None:
    """Fit all outcomes of one design by REML with all three exposures; None when the model is refused.

    Returns
    -------
    dict of arrays, the S outcomes in front
        ``estimate`` (S, 3); ``error``, ``df``, ``width``, ``held`` (S, methods, 3); ``joint`` (S, methods): whether the
        F test of all three exposures stays silent about the truth at 5%, NaN where the test cannot be given;
        ``boundary``, ``converged`` (S,).
    """
    try:
        found = _fitted(cohorts)
    except ModelError:
        return None
    at, estimate, functions, scale, converged = found
    rows = [_one(at, which, estimate[which] - TRUTH, functions, scale[which]) for which in range(len(estimate))]
    error, df, joint = (np.array(part) for part in zip(*rows, strict=True))
    half = _quantile(df) * error
    return {
        "estimate": estimate,
        "error": error,
        "df": df,
        "width": 2 * half,
        "held": np.abs(estimate - TRUTH)[:, None] <= half,
        "joint": joint,
        "boundary": (at.variances == 0).any(axis=1),
        "converged": converged,
    }


def _fitted(cohorts: Cohorts) -> tuple[Evaluation, Array, Array, Array, NDArray[np.bool_]]:
    """Return evaluations at the optima, estimates of the exposures, these as functions of the basis, and scales."""
    grouping = grouping_of(cohorts)
    grouping.check()
    basis = orthonormal_basis(np.column_stack([np.ones(len(cohorts.horse)), cohorts.exposures]))
    if len(basis.dropped):
        raise ModelError("an exposure does not vary beside the others")
    raw = basis.q.T @ cohorts.outcomes
    rest = cohorts.outcomes - basis.q @ raw
    scale = np.sqrt((rest**2).sum(axis=0) / (len(rest) - len(EFFECTS)))
    replicates = Replicates.of(basis.q, rest / scale, grouping)
    refits = refit(replicates, True, np.full(len(grouping.names), 0.05))
    at = derive(replicates.sweep(refits.at.ratios), len(rest), refits.variances, True)
    functions = FUNCTIONS @ np.linalg.inv(basis.r)
    return at, (raw.T + scale[:, None] * at.estimate) @ functions.T, functions, scale, refits.converged


def _one(at: Evaluation, which: int, miss: Array, functions: Array, scale: float) -> tuple[Array, Array, Array]:
    """Return standard errors and df, shape (methods, 3), of one outcome, and the verdicts of the joint tests."""
    from scipy.stats import chi2

    own = Evaluation(**{name: value[which] for name, value in vars(at).items()})
    optimum = Optimum(own, 0, 0.0, True, tuple(np.flatnonzero(own.variances == 0)))
    shift = functions.T @ np.linalg.solve(functions @ functions.T, miss) / scale
    ways: tuple[Inference, ...] = (KenwardRoger.of(optimum), Satterthwaite.of(optimum))
    errors = [np.sqrt(np.einsum("ka,ab,kb->k", functions, way.covariance, functions)) * scale for way in ways]
    degrees = [way.degrees(functions) for way in ways]
    wald = miss @ np.linalg.solve(functions @ own.covariance @ functions.T, miss) / scale**2
    joint = [*(_silent(way, functions, shift) for way in ways), float(chi2.sf(wald, len(miss)) > 1 - NOMINAL)]
    return np.array([*errors, errors[1]]), np.array([*degrees, np.full(len(miss), np.inf)]), np.array(joint)


def _silent(way: Inference, functions: Array, shift: Array) -> float:
    """Tell whether the F test that the estimates miss the truth by zero is silent at 5%; NaN when there is none."""
    from scipy.stats import f as fisher

    num, den, f = way.joint(functions, shift)
    return float(fisher.sf(f, num, den) > 1 - NOMINAL) if np.isfinite(f) else np.nan


def _quantile(df: Array) -> Array:
    from scipy.stats import t as student

    return np.where(np.isinf(df), Z, student.ppf(0.5 + NOMINAL / 2, df))


def cover(cell: Cell, designs: int) -> pd.DataFrame:
    """Return the rows of the table for one cell, from its first so many designs.

    Returns
    -------
    DataFrame
        One row a level and method; see :data:`table.MEANINGS`.
    """
    drawn = [draw(cell, number) for number in range(designs)]
    parts = [found for found in map(count, drawn) if found is not None]
    kept = {name: np.stack([part[name] for part in parts]) for name in parts[0]}
    cohorts = sum(own.outcomes.shape[1] for own in drawn)
    tail = {
        "at_boundary": kept["boundary"].mean(),
        "unconverged": int((~kept["converged"]).sum()),
        "refused": cohorts - kept["boundary"].size,
        "cohorts": cohorts,
        "designs": designs,
    }
    rows = []
    for position, level in enumerate([*LEVELS, JOINT]):
        for which, method in enumerate(METHODS):
            own = _joint_row(kept, which) if level == JOINT else _single_row(kept, which, position)
            rows.append(vars(cell) | {"level": level, "method": method} | own | tail)
    return pd.DataFrame(rows)


def _share(held: Array) -> dict[str, float]:
    """Return a share of held, shape (designs, S) with NaN for none, and its Monte Carlo standard error.

    The error is that of the mean of the designs' own shares: outcomes on one design are not quite independent counts.
    """
    given = ~np.isnan(held)
    counts = given.sum(axis=1)
    share = float(np.nansum(held) / counts.sum())
    apart = np.nansum(held, axis=1) - share * counts
    error = np.sqrt((apart**2).sum() * len(held) / max(len(held) - 1, 1)) / counts.sum()
    return {"coverage": share, "mc_se": float(error), "given": int(counts.sum())}


def _single_row(kept: Counts, which: int, position: int) -> dict[str, float]:
    error = kept["error"][..., which, position]
    miss = kept["estimate"][..., position] - TRUTH[position]
    return _share(kept["held"][..., which, position].astype(float)) | {
        "mean_width": float(kept["width"][..., which, position].mean()),
        "median_df": float(np.median(kept["df"][..., which, position])),
        "error_ratio": float(np.sqrt((error**2).mean() / (miss**2).mean())),
    }


def _joint_row(kept: Counts, which: int) -> dict[str, float]:
    return _share(kept["joint"][..., which]) | {"mean_width": np.nan, "median_df": np.nan, "error_ratio": np.nan}

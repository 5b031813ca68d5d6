"""Fit a mixed model to rows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from hoofcohort.errors import ModelError
from hoofcohort.models.basis import orthonormal_basis
from hoofcohort.models.design import Design
from hoofcohort.models.grouping import Grouping
from hoofcohort.models.solution import DEGREES, METHODS, Choices, Estimate, Solution, Test, scale_of, solve
from hoofcohort.models.statistics import sufficient_statistics

__all__ = ["DEGREES", "METHODS", "Estimate", "Fit", "Test", "fit_mixed_model"]

Array = NDArray[np.floating]


@dataclass(frozen=True)
class Fit(Solution):
    """A fitted model with its rows.

    Attributes
    ----------
    grouping : Grouping
    outcome : array, shape (n,)
    """

    grouping: Grouping
    outcome: Array = field(kw_only=True)

    @property
    def fixed_fitted(self) -> Array:
        """Fitted values of the fixed part, shape (n,)."""
        return self.design.matrix[:, self.basis.kept] @ self.coefficients

    @property
    def fitted(self) -> Array:
        """Fitted values with the predicted random effects, shape (n,)."""
        from hoofcohort.models.random_effects import random_effects

        effects = random_effects(self, std_errors=False)
        return self.fixed_fitted + sum(effect.values[effect.codes] for effect in effects.values())

    @property
    def residuals(self) -> Array:
        """Outcome minus fitted values, shape (n,)."""
        return self.outcome - self.fitted


def fit_mixed_model(
    y: ArrayLike,
    design: Design,
    grouping: Grouping,
    method: str = "reml",
    df: str | None = None,
    means: Sequence[str] = (),
    confidence: float = 0.95,
    rows_dropped: int = 0,
) -> Fit:
    """Fit ``y = X b + sum_k Z_k u_k + e`` with independent normal effects of every grouping.

    Parameters
    ----------
    y : array, shape (n,)
        Outcome, finite.
    design, grouping : Design, Grouping
        Of the same n rows.
    method : {"reml", "ml"}
    df : {"kenward-roger", "satterthwaite"}, optional
        Kenward-Roger by default with REML, for which alone it is defined; Satterthwaite with ML.
    means : sequence of str
        Categorical variables whose marginal means and differences the record shall hold.
    confidence : float
        Level of the intervals, between 0 and 1.
    rows_dropped : int
        Rows left out by the caller, for the record.

    Raises
    ------
    ModelError
        With the reason, when the model cannot be fitted to these data.
    """
    choices = Choices(method, df, tuple(means), confidence, rows_dropped)
    choices.check()
    outcome = np.asarray(y, float)
    if not np.isfinite(outcome).all():
        raise ModelError("the outcome holds values that are missing or not finite; drop those rows")
    grouping.check()
    for name in means:
        design.means_matrix(name)
    basis = orthonormal_basis(design.matrix)
    raw, rest = _project(basis.q, outcome)
    largest = float(np.abs(outcome).max())
    scale = scale_of(float(np.linalg.norm(rest)), len(outcome), basis.q.shape[1], largest)
    statistics = sufficient_statistics(np.column_stack([basis.q, rest / scale]), grouping, shifted=True)
    solution = solve(statistics, design, grouping, basis, raw, scale, choices)
    fit = Fit(**vars(solution), outcome=outcome)
    return replace(fit, fixed_variance=float(np.var(fit.fixed_fitted, ddof=1)))


def _project(q: Array, y: Array) -> tuple[Array, Array]:
    """Split y into coefficients on the basis and the rest, twice over."""
    first = q.T @ y
    rest = y - q @ first
    second = q.T @ rest
    return first + second, rest - q @ second

"""Every group of a level left out in turn: what the fit of the remaining rows would give, exactly.

Statistics of outermost groups add up, so those of the remaining rows are those of all rows less what the group
contributes. Newton's method then runs for all deletions at once, each at variances of its own, from those of the whole
fit. Where taking off would lose too many digits, because the group carries nearly all that is known of some column, and
where the remaining rows cannot support the model, the model is fitted to the remaining rows themselves.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from hoofcohort.errors import ModelError
from hoofcohort.models.contributions import Removals
from hoofcohort.models.criterion import Evaluation, best_residual, derive
from hoofcohort.models.grouping import RESIDUAL, Grouping
from hoofcohort.models.interpolation import Sweeps
from hoofcohort.models.optimise import several_minima
from hoofcohort.models.simultaneous import blank, descend, inference, put
from hoofcohort.models.statistics import _ancestor
from hoofcohort.models.sweep import Swept

if TYPE_CHECKING:
    from hoofcohort.models.fit import Fit

Array = NDArray[np.floating]
Ints = NDArray[np.integer]
Flags = NDArray[np.bool_]
LEAST_LEFT = 1e-6
"""Share of every combination of columns that must remain; else the model is fitted to the remaining rows."""
MOST_REFITS = 300
"""Deletions, at most, for which the model is fitted to the remaining rows."""
FEW_DELETIONS = 300
"""Up to this many deletions the search starts from other variances too wherever one ended at zero."""
OTHER_STARTS = (1.0, 0.05, 30.0)
"""Ratios to the residual variance of those other starts; with few rows or groups they are always tried."""


@dataclass(frozen=True)
class Deletions:
    """D deletions; NaN stands for what the remaining rows cannot give.

    Attributes
    ----------
    fit : Fit
        Of all rows.
    level : str
    labels : tuple of str, length D
        The group left out, outer labels first.
    reasons : tuple of str, length D
        Why a deletion could not be fitted, or which columns were lost with the group; empty otherwise.
    coefficients, std_errors : arrays, shape (D, p)
        Of the columns that the whole fit kept, in the unit of the outcome.
    solution : array, shape (D, p)
        The same with a number for columns that only functions of several can be estimated of.
    variances : array, shape (D, K)
        Of every grouping, the residual last.
    at : Evaluation
        Of all deletions, in the orthonormal basis of the whole fit.
    covariance, uncertainty : arrays, shapes (D, p, p), (D, K, K)
        Of coefficients and variances, as in ``inference.py``, in that basis.
    refits : dict of int to Fit
        Deletions that were fitted to the remaining rows.
    """

    fit: Fit
    level: str
    labels: tuple[str, ...]
    reasons: tuple[str, ...]
    coefficients: Array
    std_errors: Array
    solution: Array
    variances: Array
    at: Evaluation
    covariance: Array
    uncertainty: Array
    refits: Mapping[int, Fit]

    def linear(self, functions: ArrayLike) -> tuple[Array, Array, Array]:
        """Return estimate, standard error and degrees of freedom of linear functions of all coefficients.

        Parameters
        ----------
        functions : array, shape (k, all columns)

        Returns
        -------
        three arrays, shape (D, k)
            NaN where the remaining rows cannot estimate the function.
        """
        fit = self.fit
        functions = np.atleast_2d(np.asarray(functions, float))
        inside, possible = fit.basis.restrict(functions)
        turned = inside @ fit.transform
        estimate = self.solution @ inside.T
        with np.errstate(invalid="ignore", divide="ignore"):
            error = np.sqrt(((turned @ self.covariance) * turned).sum(axis=-1)) * fit.scale
            across = turned @ self.at.covariance
            variance = (across * turned).sum(axis=-1)
            slopes = ((across[:, None] @ self.at.first) * across[:, None]).sum(axis=-1) / variance[:, None]
            degrees = 2.0 / np.einsum("dik,dij,djk->dk", slopes, self.uncertainty, slopes, optimize=True)
        for table in (estimate, error, degrees):
            table[:, ~possible] = np.nan
        for which, refit in self.refits.items():
            for k, own in enumerate(refit.linear(functions)):
                estimate[which, k], error[which, k], degrees[which, k] = own.estimate, own.std_error, own.df
        return estimate, error, degrees

    def distances(self) -> Array:
        """Return Cook's distance of every deletion, shape (D,).

        ``(b - b_d)' C^-1 (b - b_d) / p`` with the covariance C of the whole fit's coefficients (Cook, Technometrics
        1977;19:15-18, with a cluster in place of a row); NaN where a coefficient was lost with the group.
        """
        fit = self.fit
        moved = (self.solution - fit.coefficients) @ fit.basis.r.T / fit.scale
        return (moved * np.linalg.solve(fit.inference.covariance, moved.T).T).sum(axis=1) / moved.shape[1]

    def changes(self) -> Array:
        """Return the change of every coefficient in standard errors of the whole fit, shape (D, p)."""
        fit = self.fit
        variance = np.einsum("ka,ab,kb->k", fit.transform, fit.inference.covariance, fit.transform)
        return (self.coefficients - fit.coefficients) / (np.sqrt(variance) * fit.scale)


def delete_groups(fit: Fit, level: str) -> Deletions:
    """Leave out every group of a nested level in turn.

    Where the groups cannot be set apart, because a factor crosses them, and are few, every deletion is a refit.

    Parameters
    ----------
    fit : Fit
    level : str
        A nested level of the fit's grouping.

    Raises
    ------
    ModelError
        When the fit has no such level, or its groups are many and cannot be set apart.
    """
    grouping = fit.grouping
    nested = grouping.names[: grouping.nested]
    if level not in nested:
        raise ModelError(f"the model has no level '{level}'; its levels are {', '.join(nested)}")
    position = nested.index(level)
    columns, raw = projected_columns(fit)
    try:
        at, settled = _taken_off(fit, Removals.of(columns, grouping, position), position)
    except ModelError:
        count = len(grouping.parents[position])
        if count > MOST_REFITS:
            raise
        at, settled = blank(fit.optimum.at, count), np.zeros(count, bool)
    covariance, uncertainty = inference(at, fit.df)
    settled &= np.isfinite(covariance).all(axis=(1, 2)) & np.isfinite(uncertainty).all(axis=(1, 2))
    settled[settled] = np.linalg.eigvalsh(covariance[settled])[:, 0] > 0
    refits, reasons = _refits(fit, position, np.flatnonzero(~settled))
    solution = (raw + fit.scale * at.estimate) @ fit.transform.T
    variances = np.roll(at.variances, -1, axis=1) * fit.scale**2
    for lost in map(int, np.flatnonzero(~settled)):
        solution[lost] = variances[lost] = covariance[lost] = np.nan
        if lost in refits:
            variances[lost] = [refits[lost].variances[name] for name in (*grouping.names, RESIDUAL)]
    found = Deletions(
        fit, level, grouping.labels[position], tuple(reasons.get(k, "") for k in range(len(settled))), solution,
        solution, solution, variances, at, covariance, uncertainty, refits,
    )  # fmt: skip
    estimate, error, _ = found.linear(np.eye(len(fit.design.names))[fit.basis.kept])
    solution = np.where(settled[:, None], solution, estimate)
    return replace(found, coefficients=estimate, std_errors=error, solution=solution)


def _taken_off(fit: Fit, removals: Removals, position: int) -> tuple[Evaluation, Flags]:
    """Minimise the criterion of every deletion that leaves enough; tell which ended at a minimum."""
    problem = _Problem(Sweeps(fit.statistics), removals, fit.method == "reml")
    return _minimise(problem, fit, np.flatnonzero(~_too_little_left(fit, removals, position)))


def projected_columns(fit: Fit) -> tuple[Array, Array]:
    """Return W, (n, p + 1), of which the fit's statistics are made, and the outcome's coefficients on the basis."""
    q = fit.basis.q
    raw = q.T @ fit.outcome
    rest = fit.outcome - q @ raw
    again = q.T @ rest
    return np.column_stack([q, (rest - q @ again) / fit.scale]), raw + again


@dataclass(frozen=True)
class _Problem:
    """The criterion of every deletion."""

    sweeps: Sweeps
    removals: Removals
    restricted: bool

    def at(self, which: Ints, ratios: Array) -> Evaluation:
        """Evaluate some deletions at ratios, shape (S, R), and the residual variance that is best there."""
        removals = self.removals.of_these(which)
        whole, part = self.sweeps.at(ratios), removals.at(ratios)
        swept = Swept(whole.cross - part.cross, whole.log_determinant - part.log_determinant)
        rows = (self.sweeps.statistics.rows - removals.rows).astype(float)
        with np.errstate(all="ignore"):
            residual = best_residual(swept, rows, self.restricted)
            variances = residual[:, None] * np.column_stack([np.ones(len(ratios)), ratios])
            return derive(swept, rows, variances, self.restricted)


def _too_little_left(fit: Fit, removals: Removals, position: int) -> Flags:
    """Tell where the remaining rows may not support the model, or hold too few digits of some column."""
    grouping = fit.grouping
    p = fit.basis.q.shape[1]
    left = np.eye(p) - removals.squares()[:, :p, :p]
    doubtful = np.linalg.eigvalsh(left)[:, 0] < LEAST_LEFT
    rows = grouping.rows - removals.rows
    for own, parent in enumerate(grouping.parents):
        if own < position:
            children = np.bincount(_ancestor(grouping, position, own))
            lost = (children == 1)[_ancestor(grouping, position, own)].astype(int)
        else:
            lost = np.bincount(_ancestor(grouping, own, position), minlength=len(rows))
        groups = len(parent) - lost
        doubtful |= (groups < 2) | (groups == rows)
    return doubtful | (rows <= p + 1)


def _minimise(problem: _Problem, fit: Fit, which: Ints) -> tuple[Evaluation, Flags]:
    """Minimise every deletion's criterion from the whole fit's variances, and from elsewhere where that may matter."""
    total = len(problem.removals.rows)
    whole = fit.optimum.at
    everything, settled = blank(whole, total), np.zeros(total, bool)
    if not len(which):
        return everything, settled
    at, own = descend(problem.at, which, whole.variances[1:] / whole.variances[0])
    own &= _told_apart(at)
    if total <= FEW_DELETIONS:
        few = several_minima(problem.sweeps.statistics)
        again = np.flatnonzero((at.variances == 0).any(axis=1) | few | ~own)
        for start in OTHER_STARTS if len(again) else ():
            other, fine = descend(problem.at, which[again], np.full(len(whole.variances) - 1, start))
            slack = 1e-9 * (1 + np.abs(at.criterion[again]))
            better = fine & own[again] & (other.criterion < at.criterion[again] - slack)
            put(at, again[better], other, better)
    put(everything, which, at, slice(None))
    settled[which] = own
    return everything, settled


def _told_apart(at: Evaluation) -> Flags:
    """Tell where the information separates all variances from each other."""
    size = np.sqrt(np.maximum(np.diagonal(at.expected, axis1=1, axis2=2), 0.0))
    with np.errstate(divide="ignore", invalid="ignore"):
        scaled = at.expected / (size[:, :, None] * size[:, None, :])
    fine = np.isfinite(scaled).all(axis=(1, 2))
    fine[fine] = np.linalg.eigvalsh(scaled[fine])[:, 0] > 1e-7
    return fine


def _refits(fit: Fit, position: int, which: Ints) -> tuple[dict[int, Fit], dict[int, str]]:
    """Fit the model to the rows that some deletions leave; where that cannot be done, keep the reason."""
    refits: dict[int, Fit] = {}
    reasons: dict[int, str] = {}
    for place, lost in enumerate(map(int, which)):
        if place >= MOST_REFITS:
            reasons[lost] = f"more than {MOST_REFITS} groups carry nearly all that is known of some column"
            continue
        try:
            refit = _refit(fit, fit.grouping.codes[position] != lost)
        except ModelError as error:
            reasons[lost] = str(error)
            continue
        if not refit.optimum.converged:
            reasons[lost] = "the search for the variances did not converge"
            continue
        refits[lost] = refit
        gone = [name for name in refit.dropped_terms if name not in fit.dropped_terms]
        if gone:
            reasons[lost] = f"the remaining rows cannot estimate {', '.join(gone)}"
    return refits, reasons


def _refit(fit: Fit, keep: Flags) -> Fit:
    """Fit the same model to some of the rows."""
    from hoofcohort.models.fit import fit_mixed_model

    grouping = fit.grouping
    codes = {name: code[keep] for name, code in zip(grouping.names, grouping.codes, strict=True)}
    crossed = grouping.names[len(grouping.names) - grouping.crossed :]
    nested = grouping.names[: grouping.nested]
    also = [name for name in grouping.names if name not in nested and name not in crossed]
    parts = ({name: codes[name] for name in names} for names in (nested, also, crossed))
    remaining = Grouping.from_labels(*parts)
    design = replace(fit.design, matrix=fit.design.matrix[keep])
    return fit_mixed_model(fit.outcome[keep], design, remaining, method=fit.method, df=fit.df)

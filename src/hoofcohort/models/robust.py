"""Cluster-robust standard errors of the coefficients (CR2), the clusters being the outermost groups.

They lean on the fitted variances only to weigh the rows and to correct for few clusters, not for their size: an account
of the uncertainty that stays right where the variance structure is wrong, if there are clusters enough. The correction
makes them exactly unbiased where the fitted structure is right (Bell & McCaffrey, Surv Methodol 2002;28:169-181), and
the degrees of freedom match the first two moments of the estimated variance under it (Pustejovsky & Tipton, J Bus Econ
Stat 2018;36:672-683). Their adjustment matrix is not unique; here it is the symmetric root in the whitened rows.

With ``G_g = X_g'V_g^-1 X_g``, ``s_g = X_g'V_g^-1 (y_g - X_g b)`` and ``M = (sum G_g)^-1``, a cluster's adjusted score
is ``(I - G_g M)^(-1/2) s_g``.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from hoofcohort.models.contributions import Blocks, outermost_contributions
from hoofcohort.models.deletions import projected_columns
from hoofcohort.models.solution import Estimate, t_estimates

if TYPE_CHECKING:
    from hoofcohort.models.fit import Fit

Array = NDArray[np.floating]
NOTHING_LEFT = 1e-9
"""A direction of which a cluster holds all but this share has no adjusted residual; it is left out, as is usual."""


@dataclass(frozen=True)
class Robust:
    """Cluster-robust inference, in the orthonormal basis of the fit.

    Attributes
    ----------
    fit : Fit
    grams : array, shape (G, p, p)
        ``X_g'V_g^-1 X_g`` with V in units of the residual variance.
    adjusted : array, shape (G, p, p)
        ``M (I - G_g M)^(-1/2)``, which turns a score into the cluster's part of the estimate's error.
    model : array, shape (p, p)
        M.
    covariance : array, shape (p, p)
    """

    fit: Fit
    grams: Array
    adjusted: Array
    model: Array
    covariance: Array

    @property
    def clusters(self) -> int:
        """Number of clusters."""
        return len(self.grams)

    def linear(self, functions: ArrayLike) -> list[Estimate]:
        """Estimate linear functions of all coefficients, shape (k, all columns), as :meth:`Fit.linear` does."""
        fit = self.fit
        inside, possible = fit.basis.restrict(np.atleast_2d(np.asarray(functions, float)))
        turned = inside @ fit.transform
        estimate = inside @ fit.coefficients
        error = np.sqrt(np.einsum("ka,ab,kb->k", turned, self.covariance, turned)) * fit.scale
        with np.errstate(divide="ignore", invalid="ignore"):
            degrees = self.degrees(turned)
        return t_estimates(estimate, error, degrees, fit.confidence, possible)

    def degrees(self, functions: Array) -> Array:
        """Return degrees of freedom of single functions in the basis, rows of shape (k, p).

        The estimated variance is a sum of squares over clusters whose covariance under the model is
        ``P = diag(d) - B M B'``; they are ``(tr P)^2 / tr P^2``.
        """
        weights = np.einsum("kp,gpq->kgq", functions, self.adjusted)
        carried = np.einsum("kgp,gpq->kgq", weights, self.grams)
        own = (carried * weights).sum(axis=2)
        taken = np.einsum("kgp,pq,kgq->kg", carried, self.model, carried, optimize=True)
        gram = self.model @ np.einsum("kgp,kgq->kpq", carried, carried, optimize=True)
        square = (own**2 - 2.0 * own * taken).sum(axis=1) + np.einsum("kpq,kqp->k", gram, gram)
        return (own - taken).sum(axis=1) ** 2 / square


def cluster_robust(fit: Fit) -> Robust:
    """Make the covariance at a fit's variances, with its outermost groups for clusters.

    Raises
    ------
    ModelError
        When a factor crosses the outermost groups, so that they are not independent.
    """
    columns, _ = projected_columns(fit)
    variances = fit.optimum.at.variances
    parts = outermost_contributions(Blocks.of(columns, fit.grouping, 0), variances[1:] / variances[0])
    grams = parts[:, :-1, :-1]
    scores = parts[:, :-1, -1] - grams @ fit.optimum.at.estimate
    model = np.linalg.inv(grams.sum(axis=0))
    values, vectors = np.linalg.eigh((model + model.T) / 2)
    root = (vectors * np.sqrt(values)) @ vectors.T
    share, axes = np.linalg.eigh(root @ grams @ root)
    left = 1.0 - share
    power = np.where(left > NOTHING_LEFT, np.maximum(left, NOTHING_LEFT) ** -0.5, 0.0)
    adjusted = root @ (axes * power[:, None, :]) @ axes.swapaxes(1, 2) @ root
    moved = (adjusted @ scores[..., None])[..., 0]
    return Robust(fit, grams, adjusted, model, moved.T @ moved)

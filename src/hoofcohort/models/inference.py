"""Small-sample inference on linear functions of the coefficients: Kenward-Roger and Satterthwaite.

Kenward MG, Roger JH. Small sample inference for fixed effects from restricted maximum likelihood.
Biometrics 1997;53:983-997. The limiting cases follow Halekoh U, Hojsgaard S, J Stat Softw 2014;59(9).
Satterthwaite's degrees of freedom use the observed Hessian of the criterion; variances at zero are held there.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from hoofcohort.errors import ModelError
from hoofcohort.models.criterion import Evaluation
from hoofcohort.models.optimise import Optimum

Array = NDArray[np.floating]

NO_INFORMATION = (
    "at their estimates the data cannot tell the variances apart, so that no standard error can be given; "
    "use fewer terms or levels, or more rows"
)


class Inference(Protocol):
    """A covariance of the coefficients and degrees of freedom for functions of them."""

    @property
    def covariance(self) -> Array:
        """Covariance of the coefficients, shape (p, p)."""

    def degrees(self, functions: Array) -> Array:
        """Return degrees of freedom of single functions, rows of shape (k, p)."""

    def joint(self, functions: Array, estimate: Array) -> tuple[float, float, float]:
        """Return numerator df, denominator df and F of ``functions @ coefficients = 0``."""


@dataclass(frozen=True)
class KenwardRoger:
    """Kenward-Roger inference at a restricted-likelihood optimum.

    Attributes
    ----------
    at : Evaluation
    covariance : array, shape (p, p)
        Adjusted covariance Phi_A of the coefficients.
    uncertainty : array, shape (K, K)
        Inverse expected information of the variances.
    """

    at: Evaluation
    covariance: Array
    uncertainty: Array

    @classmethod
    def of(cls, optimum: Optimum) -> KenwardRoger:
        """Adjust the covariance; every variance counts, those at zero included."""
        at = optimum.at
        uncertainty = 2.0 * _scaled_inverse(at.expected)
        phi = at.covariance
        turned = at.first @ phi
        inner = np.einsum("ij,ijab->ab", uncertainty, at.second) / 2
        inner -= np.einsum("ij,iab,jbc->ac", uncertainty, turned, at.first)
        adjusted = phi + 2.0 * phi @ inner @ phi
        return cls(at, (adjusted + adjusted.T) / 2, uncertainty)

    def degrees(self, functions: Array) -> Array:
        """Return ``2 / A2`` per row of functions, shape (k, p)."""
        slopes = _relative_slopes(self.at, functions)
        return 2.0 / np.einsum("ki,ij,kj->k", slopes, self.uncertainty, slopes)

    def joint(self, functions: Array, estimate: Array) -> tuple[float, float, float]:
        """Return numerator df, denominator df and the scaled F."""
        q = len(functions)
        effect = functions @ estimate
        wald = float(effect @ np.linalg.solve(functions @ self.covariance @ functions.T, effect)) / q
        if q == 1:
            return 1, float(self.degrees(functions)[0]), wald
        first, second = self._moments(functions)
        df, scale = _f_approximation(q, first, second)
        return q, df, scale * wald

    def _moments(self, functions: Array) -> tuple[float, float]:
        """Return A1 and A2."""
        phi = self.at.covariance
        across = functions @ phi
        middle = functions.T @ np.linalg.solve(across @ functions.T, across)
        turned = middle @ self.at.first @ phi
        trace = np.trace(turned, axis1=1, axis2=2)
        first = trace @ self.uncertainty @ trace
        second = np.einsum("ij,iab,jba->", self.uncertainty, turned, turned)
        return float(first), float(second)


@dataclass(frozen=True)
class Satterthwaite:
    """Satterthwaite inference; the covariance is the model's own.

    Attributes
    ----------
    at : Evaluation
    covariance : array, shape (p, p)
    uncertainty : array, shape (K, K)
        Twice the inverse observed Hessian of the variances above zero, zeros elsewhere.
    """

    at: Evaluation
    covariance: Array
    uncertainty: Array

    @classmethod
    def of(cls, optimum: Optimum) -> Satterthwaite:
        """Take the observed Hessian of the variances above zero."""
        at = optimum.at
        free = np.flatnonzero(at.variances > 0)
        uncertainty = np.zeros_like(at.hessian)
        uncertainty[np.ix_(free, free)] = 2.0 * _scaled_inverse(at.hessian[np.ix_(free, free)])
        return cls(at, at.covariance, uncertainty)

    def degrees(self, functions: Array) -> Array:
        """Return the degrees of freedom per row of functions, shape (k, p)."""
        slopes = _relative_slopes(self.at, functions)
        return 2.0 / np.einsum("ki,ij,kj->k", slopes, self.uncertainty, slopes)

    def joint(self, functions: Array, estimate: Array) -> tuple[float, float, float]:
        """Return numerator df, denominator df and F, by splitting the hypothesis into independent parts."""
        q = len(functions)
        values, vectors = np.linalg.eigh(functions @ self.covariance @ functions.T)
        parts = vectors.T @ functions
        f = float(((parts @ estimate) ** 2 / values).mean())
        nu = self.degrees(parts)
        if np.ptp(nu) < 1e-8 * nu.mean():
            return q, float(nu.mean()), f
        if (nu <= 2).any():
            return q, 2.0, f
        total = float((nu / (nu - 2)).sum())
        return q, 2 * total / (total - q), f


def _relative_slopes(at: Evaluation, functions: Array) -> Array:
    """Return ``d log(c'Phi c) / ds_i`` per function, shape (k, K), sign reversed (which cancels everywhere)."""
    across = functions @ at.covariance
    variance = (across * functions).sum(axis=1)
    return np.einsum("ka,iab,kb->ki", across, at.first, across) / variance[:, None]


def _scaled_inverse(matrix: Array) -> Array:
    """Invert the information about the variances, whose rows may differ much in size."""
    size = np.sqrt(np.maximum(np.diag(matrix), 0.0))
    scaled = matrix / np.where(np.outer(size, size) > 0, np.outer(size, size), np.nan)
    if not np.isfinite(scaled).all() or (len(scaled) and np.linalg.eigvalsh(scaled)[0] <= 0):
        raise ModelError(NO_INFORMATION)
    return np.linalg.inv(scaled) / np.outer(size, size)


def _f_approximation(q: int, first: float, second: float) -> tuple[float, float]:
    """Return denominator df and scale of F for q >= 2 from A1 and A2, with the 0/0 cases of balanced designs.

    NaN, twice, where the approximation breaks down: with very few groups it can ask for negative degrees of freedom.
    """
    if second == 0:
        return np.inf, 1.0
    if second >= q:  # the expected F, 1 / (1 - A2 / q), would be infinite or negative
        return np.nan, np.nan
    b = (first + 6 * second) / (2 * q)
    g = ((q + 1) * first - (q + 4) * second) / ((q + 2) * second)
    base = 3 * q + 2 * (1 - g)
    v0 = 1 + g / base * b
    v1 = 1 - (q - g) / base * b
    v2 = 1 - (q + 2 - g) / base * b
    mean = 1 - second / q
    ratio = 1.0 if abs(mean) < 1e-10 and abs(v1) < 1e-10 else mean / v1
    df = 4 + (q + 2) / (q * (ratio**2 * v0 / v2 / q) - 1)
    scale = 1.0 if abs(df - 2) < 1e-2 else df * mean / (df - 2)
    return (float(df), float(scale)) if df > 0 and scale > 0 else (np.nan, np.nan)

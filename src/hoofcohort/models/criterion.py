"""The criterion, -2 log [restricted] likelihood, and its derivatives in the variances.

Variances are ordered residual first: ``s = (s_0, s_1 .. s_R)``. V is homogeneous of degree one in s, so the
derivatives that involve the residual follow from those in the other variances by Euler's theorem.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hoofcohort.models import expansion
from hoofcohort.models.statistics import Statistics
from hoofcohort.models.sweep import sweep

Array = NDArray[np.floating]


@dataclass(frozen=True)
class Evaluation:
    """The model at given variances; p fixed-effect columns, K = R + 1 variances.

    Attributes
    ----------
    variances : array, shape (K,)
    criterion : float
        -2 log likelihood in the orthonormal basis.
    gradient, hessian : arrays, shapes (K,), (K, K)
        Derivatives of the criterion.
    expected : array, shape (K, K)
        Expected Hessian of the criterion: twice the information.
    estimate : array, shape (p,)
        Generalised least squares coefficients.
    covariance : array, shape (p, p)
        Phi = (X'V^-1 X)^-1.
    quadratic : float
        y'Py, which is N - p (restricted) or N at the best scale of the variances.
    first : array, shape (K, p, p)
        P_i = d X'V^-1 X / ds_i.
    second : array, shape (K, K, p, p)
        R_ij = d2 X'V^-1 X / ds_i ds_j.
    """

    variances: Array
    criterion: float
    gradient: Array
    hessian: Array
    expected: Array
    estimate: Array
    covariance: Array
    quadratic: float
    first: Array
    second: Array


def evaluate(statistics: Statistics, variances: Array, restricted: bool) -> Evaluation:
    """Evaluate criterion, coefficients and derivatives at variances (residual > 0, others >= 0)."""
    cross, first, second, log_det, log_first, log_second = _in_variances(statistics, variances)
    p = statistics.columns - 1
    fixed = cross[:p, :p]
    covariance = np.linalg.inv(fixed)
    covariance = (covariance + covariance.T) / 2
    estimate = covariance @ cross[:p, p]
    contrast = np.append(-estimate, 1.0)
    quadratic = float(contrast @ cross @ contrast)
    degrees = statistics.rows - p if restricted else statistics.rows
    value = degrees * np.log(2 * np.pi) + log_det + quadratic
    slopes = first @ contrast
    gradient = log_first + slopes @ contrast
    curvature = np.einsum("ijab,a,b->ij", second, contrast, contrast)
    bent = slopes[:, :p] @ covariance @ slopes[:, :p].T
    hessian = log_second + curvature - 2.0 * bent
    turned = covariance @ first[:, :p, :p]
    expected = -log_second
    if restricted:
        value += np.linalg.slogdet(fixed)[1]
        gradient = gradient + np.trace(turned, axis1=1, axis2=2)
        once = np.einsum("ab,ijba->ij", covariance, second[:, :, :p, :p])
        twice = np.einsum("iab,jba->ij", turned, turned)
        hessian = hessian + once - twice
        expected = expected - once + twice
    return Evaluation(
        variances, float(value), gradient, hessian, expected, estimate, covariance, quadratic,
        first[:, :p, :p], second[:, :, :p, :p],
    )  # fmt: skip


def _in_variances(statistics: Statistics, variances: Array) -> tuple[Array, Array, Array, float, Array, Array]:
    """Turn the sweep's expansions in ratios into derivatives of ``W'V^-1 W`` and ``log|V|`` in the variances."""
    residual, others = variances[0], variances[1:]
    count = statistics.components
    swept = sweep(statistics, others / residual)
    shape = swept.cross.shape[1:]
    cross = swept.cross[0] / residual
    first = np.empty((1 + count, *shape))
    second = np.empty((1 + count, 1 + count, *shape))
    log_first, log_second = np.empty(1 + count), np.empty((1 + count, 1 + count))
    first[1:] = swept.cross[1 : 1 + count] / residual**2
    log_first[1:] = swept.log_determinant[1 : 1 + count] / residual
    for place, (k, m) in enumerate(expansion.pairs(count), start=1 + count):
        second[1 + k, 1 + m] = second[1 + m, 1 + k] = swept.cross[place] / residual**3
        log_second[1 + k, 1 + m] = log_second[1 + m, 1 + k] = swept.log_determinant[place] / residual**2
    first[0] = (-cross - np.tensordot(others, first[1:], 1)) / residual
    log_first[0] = (statistics.rows - others @ log_first[1:]) / residual
    for k in range(1, 1 + count):
        mixed = (-2.0 * first[k] - np.tensordot(others, second[k, 1:], 1)) / residual
        second[0, k] = second[k, 0] = mixed
        log_second[0, k] = log_second[k, 0] = (-log_first[k] - others @ log_second[k, 1:]) / residual
    second[0, 0] = (-2.0 * first[0] - np.tensordot(others, second[0, 1:], 1)) / residual
    log_second[0, 0] = (-log_first[0] - others @ log_second[0, 1:]) / residual
    log_det = statistics.rows * np.log(residual) + swept.log_determinant[0]
    return cross, first, second, float(log_det), log_first, log_second

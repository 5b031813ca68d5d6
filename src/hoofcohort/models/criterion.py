"""The criterion, -2 log [restricted] likelihood, and its derivatives in the variances.

Variances are ordered residual first: ``s = (s_0, s_1 .. s_R)``. V is homogeneous of degree one in s, so the
derivatives that involve the residual follow from those in the other variances by Euler's theorem.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from hoofcohort.models import expansion
from hoofcohort.models.statistics import Statistics
from hoofcohort.models.sweep import Swept, sweep

Array = NDArray[np.floating]


@dataclass(frozen=True)
class Evaluation:
    """The model at given variances; p fixed-effect columns, K = R + 1 variances.

    Of many sets of variances at once, every attribute has their axes in front.

    Attributes
    ----------
    variances : array, shape (K,)
    criterion : float (array)
        -2 log likelihood in the orthonormal basis.
    gradient, hessian : arrays, shapes (K,), (K, K)
        Derivatives of the criterion.
    expected : array, shape (K, K)
        Expected Hessian of the criterion: twice the information.
    estimate : array, shape (p,)
        Generalised least squares coefficients.
    covariance : array, shape (p, p)
        Phi = (X'V^-1 X)^-1.
    quadratic : float (array)
        y'Py, which is N - p (restricted) or N at the best scale of the variances.
    first : array, shape (K, p, p)
        P_i = d X'V^-1 X / ds_i.
    second : array, shape (K, K, p, p)
        R_ij = d2 X'V^-1 X / ds_i ds_j.
    """

    variances: Array
    criterion: Any
    gradient: Array
    hessian: Array
    expected: Array
    estimate: Array
    covariance: Array
    quadratic: Any
    first: Array
    second: Array


def evaluate(statistics: Statistics, variances: Array, restricted: bool) -> Evaluation:
    """Evaluate criterion, coefficients and derivatives at variances (residual > 0, others >= 0)."""
    return derive(sweep(statistics, variances[1:] / variances[0]), statistics.rows, variances, restricted)


def best_residual(swept: Swept, rows: int | Array, restricted: bool) -> Array:
    """Return the residual variance that is best at the variance ratios of the sweep, known in closed form."""
    cross = swept.cross[..., 0, :, :]
    p = cross.shape[-1] - 1
    across = cross[..., :p, p]
    estimate = np.linalg.solve(cross[..., :p, :p], across[..., None])[..., 0]
    quadratic = cross[..., p, p] - (across * estimate).sum(axis=-1)
    return quadratic / (rows - p if restricted else rows)


def derive(swept: Swept, rows: int | Array, variances: Array, restricted: bool) -> Evaluation:
    """Turn what was swept at ``variances[1:] / variances[0]`` into the criterion and its derivatives.

    Parameters
    ----------
    swept : Swept
        ``cross``, shape (..., J, q, q), and ``log_determinant``, shape (..., J).
    rows : int or array, shape (...)
    variances : array, shape (..., K)
        Residual > 0 first, then the others >= 0.
    restricted : bool
    """
    p = swept.cross.shape[-1] - 1
    count = variances.shape[-1]
    packed, log_det, log_first, log_second = _in_variances(swept, rows, variances)
    covariance = np.linalg.inv(packed[..., 0, :p, :p])
    covariance = (covariance + np.swapaxes(covariance, -1, -2)) / 2
    estimate = (covariance @ packed[..., 0, :p, p:])[..., 0]
    contrast = np.concatenate([-estimate, np.ones((*estimate.shape[:-1], 1))], axis=-1)
    turned = (packed @ contrast[..., None, :, None])[..., 0]
    bent = (turned @ contrast[..., None])[..., 0]
    quadratic, gradient = bent[..., 0], log_first + bent[..., 1 : 1 + count]
    places = _unpacked(count)
    hessian = log_second + bent[..., 1 + count :][..., places]
    slopes = turned[..., 1 : 1 + count, :p]
    hessian = hessian - 2.0 * slopes @ covariance @ np.swapaxes(slopes, -1, -2)
    fixed = np.ascontiguousarray(packed[..., 1:, :p, :p])
    first, second = fixed[..., :count, :, :], fixed[..., count:, :, :]
    degrees = rows - p if restricted else rows
    value = degrees * np.log(2 * np.pi) + log_det + quadratic
    expected = -log_second
    if restricted:
        value = value - np.linalg.slogdet(covariance)[1]
        flat = covariance.reshape(*covariance.shape[:-2], -1, 1)
        traces = (fixed.reshape(*fixed.shape[:-2], -1) @ flat)[..., 0]
        product = first @ covariance[..., None, :, :]
        left = product.reshape(*product.shape[:-2], -1)
        right = np.swapaxes(product, -1, -2).reshape(left.shape)
        bend = traces[..., count:][..., places] - left @ np.swapaxes(right, -1, -2)
        gradient = gradient + traces[..., :count]
        hessian, expected = hessian + bend, expected - bend
    return Evaluation(
        variances, value, gradient, hessian, expected, estimate, covariance, quadratic,
        first, second[..., places, :, :],
    )  # fmt: skip


@cache
def _unpacked(count: int) -> NDArray[np.intp]:
    """Return where the second derivative of variances i and j stands among those of ``expansion.pairs``."""
    places = np.empty((count, count), np.intp)
    for place, (k, m) in enumerate(expansion.pairs(count)):
        places[k, m] = places[m, k] = place
    return places


def _in_variances(swept: Swept, rows: int | Array, variances: Array) -> tuple[Array, Array, Array, Array]:
    """Turn expansions in the ratios into those in the variances.

    Returns the expansion of ``W'V^-1 W``, shape (..., 1 + K + K(K+1)/2, q, q), and ``log|V|`` with its first and second
    derivatives. All are linear in the expansions in the ratios.
    """
    residual, ratios = variances[..., :1], variances[..., 1:] / variances[..., :1]
    count = variances.shape[-1]
    terms = np.concatenate([np.ones_like(residual), ratios, _pair_products(ratios)], axis=-1)
    power = np.repeat([1.0, 2.0, 3.0], [1, count, count * (count + 1) // 2])
    scale = residual**power
    weights = _combine(count, 2.0, 4.0, terms) / scale[..., None]
    weights[..., 0, 0], weights[..., 1, 0] = 1.0 / scale[..., 0], -1.0 / scale[..., 1]
    weights[..., 1 + count, 0] = 2.0 / scale[..., -1]
    shape = swept.cross.shape
    packed = (weights @ swept.cross.reshape(*shape[:-2], -1)).reshape(*shape[:-3], -1, *shape[-2:])
    logs = (_combine(count, 1.0, 2.0, terms) @ swept.log_determinant[..., None])[..., 0]
    logs[..., 1] += rows
    logs[..., 1 + count] -= rows
    logs /= residual ** (power - 1.0)
    log_det = swept.log_determinant[..., 0] + rows * np.log(residual[..., 0])
    return packed, log_det, logs[..., 1 : 1 + count], logs[..., 1 + count :][..., _unpacked(count)]


def _combine(count: int, mixed: float, square: float, terms: Array) -> Array:
    """Return how derivatives in the variances combine those in the ratios, shape (..., 1 + K + K(K+1)/2, J).

    ``terms`` are one, the ratios and their products, in the order of an expansion. ``mixed`` and ``square`` are how
    often a first derivative counts in the second derivative in the residual and another variance, and in the residual
    twice.
    """
    table = _table(count, mixed, square)
    return (terms @ table.reshape(len(table), -1)).reshape(*terms.shape[:-1], *table.shape[1:])


def _pair_products(ratios: Array) -> Array:
    """Return the products of all pairs of ratios, in the order of :func:`expansion.pairs`."""
    first, second = np.array(expansion.pairs(ratios.shape[-1])).T
    return ratios[..., first] * ratios[..., second]


@cache
def _table(count: int, mixed: float, square: float) -> Array:
    """Return the constants of :func:`_combine`, shape (terms, 1 + K + K(K+1)/2, J)."""
    others = count - 1
    size = expansion.length(others)
    table = np.zeros((size, expansion.length(count), size))
    own, place = _unpacked(others) + count, _unpacked(count) + 1 + count
    for k in range(others):
        table[0, 2 + k, 1 + k] = 1.0
        table[1 + k, 1, 1 + k] = -1.0
        table[0, place[0, 1 + k], 1 + k] = -mixed
        table[1 + k, place[0, 0], 1 + k] = square
        for m in range(others):
            table[0, place[1 + k, 1 + m], own[k, m]] = 1.0
            table[1 + m, place[0, 1 + k], own[k, m]] = -1.0
            table[own[k, m], place[0, 0], own[k, m]] += 1.0
    return table

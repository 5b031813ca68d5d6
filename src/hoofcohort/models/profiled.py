"""The criterion as a function of the variance ratios alone, of many outcomes at once.

The residual variance is the best at each set of ratios. With ``C = W'V^-1 W``, V in units of the residual variance,
y'Py the generalised residual sum of squares and d its degrees of freedom, the criterion is
``log|V| [+ log|Cxx|] + d log(y'Py / d)`` and a constant.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hoofcohort.models import expansion
from hoofcohort.models.sweep import Swept

Array = NDArray[np.floating]


@dataclass(frozen=True)
class Profiled:
    """The criterion of S outcomes at R ratios each.

    Attributes
    ----------
    ratios : array, shape (S, R)
    criterion : array, shape (S,)
        -2 log [restricted] likelihood in the orthonormal basis.
    gradient, hessian, expected : arrays, shapes (S, R), (S, R, R), (S, R, R)
        Derivatives of the criterion; ``expected`` is the Hessian that the model expects.
    residual : array, shape (S,)
        Residual variance, best at the ratios.
    estimate : array, shape (S, p)
        Generalised least squares coefficients.
    """

    ratios: Array
    criterion: Array
    gradient: Array
    hessian: Array
    expected: Array
    residual: Array
    estimate: Array

    def take(self, which: NDArray[np.intp]) -> Profiled:
        """Return some of the outcomes."""
        return Profiled(**{name: value[which] for name, value in vars(self).items()})

    def put(self, which: NDArray[np.intp], others: Profiled) -> None:
        """Overwrite some of the outcomes."""
        for name, value in vars(self).items():
            value[which] = getattr(others, name)


def profiled(swept: Swept, ratios: Array, rows: int, restricted: bool) -> Profiled:
    """Evaluate the criterion from what was swept at the ratios, shape (S, R)."""
    cross, logs, count = swept.cross, swept.log_determinant, ratios.shape[1]
    p = cross.shape[-1] - 1
    degrees = rows - p if restricted else rows
    covariance = np.linalg.inv(cross[:, 0, :p, :p])
    estimate = (covariance @ cross[:, 0, :p, p:])[..., 0]
    contrast = np.concatenate([-estimate, np.ones((len(estimate), 1))], axis=1)
    turned = (cross.reshape(len(cross), -1, p + 1) @ contrast[..., None]).reshape(cross.shape[:-1])
    bent = (turned @ contrast[..., None])[..., 0]
    slopes = turned[:, 1 : 1 + count, :p]
    slope = bent[:, 1 : 1 + count] / bent[:, :1]
    places = _square(count)
    bend = bent[:, 1 + count :][:, places] - 2.0 * slopes @ covariance @ slopes.swapaxes(1, 2)
    value = logs[:, 0]
    first, second = logs[:, 1 : 1 + count], logs[:, 1 + count :][:, places]
    if restricted:
        fixed = cross[:, 1:, :p, :p].reshape(len(cross), -1, p * p)
        traces = (fixed @ covariance.reshape(-1, p * p, 1))[..., 0]
        product = (cross[:, 1 : 1 + count, :p, :p] @ covariance[:, None]).reshape(len(cross), count, p, p)
        left, right = product.reshape(len(cross), count, -1), product.swapaxes(2, 3).reshape(len(cross), count, -1)
        value = value - np.linalg.slogdet(covariance)[1]
        first = first + traces[:, :count]
        second = second + traces[:, count:][:, places] - left @ right.swapaxes(1, 2)
    quadratic = bent[:, 0]
    with np.errstate(invalid="ignore", divide="ignore"):
        value = value + degrees * (np.log(2 * np.pi * quadratic / degrees) + 1.0)
    return Profiled(
        ratios=ratios,
        criterion=value,
        gradient=first + degrees * slope,
        hessian=second + degrees * (bend / quadratic[:, None, None] - slope[:, :, None] * slope[:, None]),
        expected=-second - first[:, :, None] * first[:, None] / degrees,
        residual=quadratic / degrees,
        estimate=estimate,
    )


def _square(count: int) -> NDArray[np.intp]:
    """Return where the second derivative in two ratios stands among those of ``expansion.pairs``."""
    places = np.empty((count, count), np.intp)
    for place, (k, m) in enumerate(expansion.pairs(count)):
        places[k, m] = places[m, k] = place
    return places

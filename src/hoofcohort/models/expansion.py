"""Second-order Taylor expansions in the variance ratios, carried through arithmetic.

An expansion of a quantity f in R parameters is an array whose first axis has length ``1 + R + R(R+1)/2``: the value,
the R first derivatives, and the second derivatives of every pair ``k <= l`` in the order of :func:`pairs`.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.floating]


@cache
def pairs(parameters: int) -> tuple[tuple[int, int], ...]:
    """Return the pairs ``(k, l)``, ``k <= l``, in the order in which expansions store second derivatives."""
    return tuple((k, m) for k in range(parameters) for m in range(k, parameters))


def length(parameters: int) -> int:
    """Return the number of coefficients of a second-order expansion."""
    return 1 + parameters + parameters * (parameters + 1) // 2


def product(f: Array, g: Array, parameters: int) -> Array:
    """Return the expansion of ``f * g`` (elementwise, trailing axes broadcast)."""
    head = 1 + parameters
    out = f * g[0] + f[0] * g
    out[0] = f[0] * g[0]
    for place, (k, m) in enumerate(pairs(parameters)):
        out[head + place] += f[1 + k] * g[1 + m] + f[1 + m] * g[1 + k]
    return out


def times_parameter(f: Array, value: float | Array, position: int, parameters: int) -> Array:
    """Return the expansion of ``parameter * f`` for the parameter at ``position``, whose value is given."""
    head = 1 + parameters
    out = value * f
    out[1 + position] += f[0]
    for place, (k, m) in enumerate(pairs(parameters)):
        if k == position:
            out[head + place] += f[1 + m]
        if m == position:
            out[head + place] += f[1 + k]
    return out


def reciprocal(f: Array, parameters: int) -> Array:
    """Return the expansion of ``1 / f``."""
    head = 1 + parameters
    inverse = 1.0 / f[0]
    out = -f * inverse**2
    out[0] = inverse
    for place, (k, m) in enumerate(pairs(parameters)):
        out[head + place] += 2.0 * f[1 + k] * f[1 + m] * inverse**3
    return out


def logarithm(f: Array, parameters: int) -> Array:
    """Return the expansion of ``log f``."""
    head = 1 + parameters
    out = f / f[0]
    out[0] = np.log(f[0])
    for place, (k, m) in enumerate(pairs(parameters)):
        out[head + place] -= f[1 + k] * f[1 + m] / f[0] ** 2
    return out


def gram(f: Array, g: Array, parameters: int) -> Array:
    """Return the expansion of ``sum over groups of f_g g_g'``.

    Parameters
    ----------
    f, g : array, shape (J, S, groups, q)
        Expansions of two vectors per group, at S sets of parameters.
    parameters : int
        Number of parameters R.

    Returns
    -------
    array, shape (J, S, q, q)
    """
    head = 1 + parameters
    out = _outer_sums(f, g[:1]) + _outer_sums(f[:1], g)
    out[0] /= 2.0
    firsts = _outer_sums(f[1:head], g[1:head]).reshape(parameters, parameters, *out.shape[1:])
    for place, (k, m) in enumerate(pairs(parameters)):
        out[head + place] += firsts[k, m] + firsts[m, k]
    return out


def _outer_sums(f: Array, g: Array) -> Array:
    """Return ``sum over groups of f_g g_g'`` for every pair of terms of f and of g, shape (terms, S, q, q)."""
    (first, sets, groups, columns), second = f.shape, len(g)
    left = f.transpose(1, 0, 3, 2).reshape(sets, first * columns, groups)
    right = g.transpose(1, 2, 0, 3).reshape(sets, groups, second * columns)
    every = (left @ right).reshape(sets, first, columns, second, columns)
    return every.transpose(1, 3, 0, 2, 4).reshape(first * second, sets, columns, columns)


def matrix_product(f: Array, g: Array, parameters: int) -> Array:
    """Return the expansion of the matrix product of f, shape (..., J, a, b), and g, shape (..., J, b, c)."""
    head = 1 + parameters
    out = f @ g[..., :1, :, :]
    out[..., 1:, :, :] += f[..., :1, :, :] @ g[..., 1:, :, :]
    for place, (k, m) in enumerate(pairs(parameters)):
        out[..., head + place, :, :] += f[..., 1 + k, :, :] @ g[..., 1 + m, :, :]
        out[..., head + place, :, :] += f[..., 1 + m, :, :] @ g[..., 1 + k, :, :]
    return out


def matrix_inverse(f: Array, parameters: int) -> tuple[Array, Array]:
    """Return the expansions of the inverse of f, shape (..., J, a, a), and of the log of its positive determinant."""
    head = 1 + parameters
    inverse = np.linalg.inv(f[..., 0, :, :])
    relative = inverse[..., None, :, :] @ f[..., 1:, :, :]
    bent = relative.copy()
    for place, (k, m) in enumerate(pairs(parameters), start=parameters):
        both = relative[..., k, :, :] @ relative[..., m, :, :]
        bent[..., place, :, :] -= both + relative[..., m, :, :] @ relative[..., k, :, :]
    out = np.empty_like(f)
    out[..., 0, :, :] = inverse
    out[..., 1:, :, :] = -bent @ inverse[..., None, :, :]
    logs = np.empty(f.shape[:-2])
    logs[..., 0] = np.linalg.slogdet(f[..., 0, :, :])[1]
    logs[..., 1:] = np.trace(relative, axis1=-2, axis2=-1)
    for place, (k, m) in enumerate(pairs(parameters)):
        square = relative[..., k, :, :] * np.swapaxes(relative[..., m, :, :], -1, -2)
        logs[..., head + place] -= square.sum(axis=(-2, -1))
    return out, logs

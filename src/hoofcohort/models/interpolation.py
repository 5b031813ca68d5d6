"""The sweep of all rows at thousands of sets of variance ratios that lie close together.

Few sets are swept one by one. Many are served by one polynomial in the ratios, fitted to the values and the first and
second derivatives of true sweeps at points spread over the box that the sets span; its own derivatives are the
derivatives. It is used once it reproduces further sweeps; sets outside the box are swept one by one.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import comb

import numpy as np
from numpy.typing import NDArray

from hoofcohort.models import expansion
from hoofcohort.models.statistics import Statistics
from hoofcohort.models.sweep import Swept, sweep

Array = NDArray[np.floating]
FEW = 60
"""Sets of ratios, at most, that are swept one by one."""
FARTHEST = 10
"""How many sets far from the rest the box need not hold."""
TESTED = 6
"""How many sets the polynomial is tested at, those nearest the corners of the box."""
AGREEMENT = 1e-11
"""Largest difference from a true sweep, relative to the largest number of the same derivative."""
DEGREES = range(5, 13)
NARROWEST = 1e-2
"""Half the width of the box in any ratio, at least, in units of the change in it that matters."""
SPARE = 1.5
"""Equations for every unknown of the polynomial."""
NUMBERS_AT_ONCE = 2**22


class Sweeps:
    """Sweeps of one set of statistics, at any number of sets of ratios."""

    def __init__(self, statistics: Statistics) -> None:
        self.statistics = statistics
        self._polynomial: _Polynomial | None = None
        self._tried = False

    def at(self, ratios: Array) -> Swept:
        """Sweep at sets of variance ratios, shape (S, R); the answer, within :data:`AGREEMENT`, has S in front."""
        distinct, place = np.unique(ratios, axis=0, return_inverse=True)
        place = place.reshape(-1)
        if len(distinct) > FEW and not self._tried:
            self._polynomial, self._tried = _fitted(self.statistics, distinct), True
        inside = np.zeros(len(distinct), bool)
        if self._polynomial is not None:
            inside = self._polynomial.holds(distinct)
        parts = [] if inside.all() else [(~inside, _swept(self.statistics, distinct[~inside]))]
        if inside.any() and self._polynomial is not None:
            parts.append((inside, self._polynomial.at(distinct[inside])))
        cross = np.empty((len(distinct), *parts[0][1].cross.shape[1:]))
        log_determinant = np.empty((len(distinct), parts[0][1].log_determinant.shape[1]))
        for where, part in parts:
            cross[where], log_determinant[where] = part.cross, part.log_determinant
        if len(distinct) == len(place) and (np.diff(place) == 1).all():
            return Swept(cross, log_determinant)
        return Swept(cross[place], log_determinant[place])


def _swept(statistics: Statistics, ratios: Array) -> Swept:
    """Sweep in portions that fit in memory."""
    members = len(statistics.member_sums) * statistics.columns * expansion.length(statistics.components)
    size = max(4 * statistics.patterns.size, members if statistics.upper else 0, 1)
    portion = max(1, NUMBERS_AT_ONCE // size)
    parts = [sweep(statistics, ratios[k : k + portion]) for k in range(0, len(ratios), portion)]
    return Swept(
        np.concatenate([part.cross for part in parts]), np.concatenate([part.log_determinant for part in parts])
    )


@dataclass(frozen=True)
class _Polynomial:
    """A polynomial in ratios scaled to -1 .. 1 on a box.

    Attributes
    ----------
    middle, half : arrays, shape (R,)
    degree : int
    coefficients : array, shape (terms, functions)
        Of the numbers of the upper triangle of ``W'V^-1 W``, then of ``log|V|``.
    """

    middle: Array
    half: Array
    degree: int
    coefficients: Array

    def holds(self, ratios: Array) -> NDArray[np.bool_]:
        return (np.abs(ratios - self.middle) <= self.half).all(axis=1)

    def at(self, ratios: Array) -> Swept:
        """Return value and derivatives at sets of ratios inside the box."""
        points = (ratios - self.middle) / self.half
        parameters, size = points.shape[1], expansion.length(points.shape[1])
        columns = int(np.sqrt(2 * self.coefficients.shape[1]))  # q (q + 1) / 2 + 1 numbers
        upper, lower = np.triu_indices(columns)
        cross = np.empty((len(points), size, columns, columns))
        log_determinant = np.empty((len(points), size))
        scale = _derivative_scale(self.half)
        portion = max(1, NUMBERS_AT_ONCE // (size * len(self.coefficients)))
        for k in range(0, len(points), portion):
            terms = _terms(points[k : k + portion], self.degree, parameters) * scale[:, None]
            found = (terms.reshape(-1, terms.shape[-1]) @ self.coefficients).reshape(*terms.shape[:2], -1)
            cross[k : k + portion, :, upper, lower] = cross[k : k + portion, :, lower, upper] = found[..., :-1]
            log_determinant[k : k + portion] = found[..., -1]
        return Swept(cross, log_determinant)


def _fitted(statistics: Statistics, ratios: Array) -> _Polynomial | None:
    """Fit polynomials of rising degree until one agrees with true sweeps; None when the sweeps would cost more."""
    start = np.median(ratios, axis=0)
    centre = _swept(statistics, start[None])
    matters = 1.0 / _sizes(centre.cross)[1 : 1 + len(start)] * _sizes(centre.cross)[0]
    spread = np.maximum(np.ptp(ratios, axis=0), NARROWEST * matters)
    order = np.argsort(-(np.abs(ratios - start) / spread).max(axis=1), kind="stable")
    near = ratios[order[FARTHEST:]]
    low, high = near.min(axis=0), near.max(axis=0)
    pad = np.maximum(0.02 * (high - low), NARROWEST * matters - (high - low) / 2)
    low, high = np.maximum(low - pad, 0.0), high + pad
    middle, half = (high + low) / 2, (high - low) / 2
    inside = (near - middle) / half
    tested = near[np.argsort(-np.abs(inside).sum(axis=1), kind="stable")[:TESTED]]
    truth = _swept(statistics, tested)
    parameters = len(middle)
    points, data = np.empty((0, parameters)), np.empty((0, 0, 0))
    for degree in DEGREES:
        count = int(np.ceil(SPARE * comb(degree + parameters, parameters) / expansion.length(parameters)))
        if count > len(ratios) // 2:
            return None
        further = np.cos(np.pi * _halton(count, parameters))[len(points) :]
        if len(further):
            more = _numbers(_swept(statistics, middle + half * further))
            points, data = np.concatenate([points, further]), np.concatenate([data, more]) if len(points) else more
        found = _Polynomial(middle, half, degree, _solved(points, data, half, degree))
        if _agree(found.at(tested), truth):
            return found
    return None


def _solved(points: Array, data: Array, half: Array, degree: int) -> Array:
    """Return least-squares coefficients; each derivative counts relative to its largest number."""
    terms = _terms(points, degree, points.shape[1]) * _derivative_scale(half)[:, None]
    size = np.maximum(np.abs(data[..., :-1]).max(axis=(0, 2)), 1e-300)
    left = (terms / size[:, None]).reshape(-1, terms.shape[-1])
    right = (data / size[:, None]).reshape(-1, data.shape[-1])
    norm = np.linalg.norm(left, axis=0)
    return np.linalg.lstsq(left / norm, right, rcond=1e-15)[0] / norm[:, None]


def _numbers(swept: Swept) -> Array:
    """Return upper triangle and log determinant side by side, shape (S, J, functions)."""
    upper, lower = np.triu_indices(swept.cross.shape[-1])
    return np.concatenate([swept.cross[..., upper, lower], swept.log_determinant[..., None]], axis=-1)


def _sizes(cross: Array) -> Array:
    """Return the largest number of every derivative, shape (J,)."""
    return np.maximum(np.abs(cross).max(axis=(0, 2, 3)), 1e-300)


def _agree(found: Swept, truth: Swept) -> bool:
    cross = np.abs(found.cross - truth.cross).max(axis=(0, 2, 3)) / _sizes(truth.cross)
    size = np.maximum(np.abs(truth.log_determinant).max(axis=0), 1e-300)
    log_determinant = np.abs(found.log_determinant - truth.log_determinant).max(axis=0) / size
    return bool(max(cross.max(), log_determinant.max()) < AGREEMENT)


def _derivative_scale(half: Array) -> Array:
    """Return what turns derivatives in the scaled ratios into derivatives in the ratios, in an expansion's order."""
    inverse = 1.0 / half
    return np.array([1.0, *inverse, *(inverse[k] * inverse[m] for k, m in expansion.pairs(len(half)))])


def _terms(points: Array, degree: int, parameters: int) -> Array:
    """Return expansions of all products of Chebyshev polynomials up to a total degree, shape (S, J, terms)."""
    unit = np.eye(degree + 1)
    chebyshev = np.polynomial.chebyshev
    orders = [unit, *(np.array([np.pad(chebyshev.chebder(row, m), (0, m)) for row in unit]) for m in (1, 2))]
    value = chebyshev.chebvander(points, degree)
    single = [value @ order[:, : degree + 1].T for order in orders]
    powers = _powers(degree, parameters)
    wanted = [()] + [(k,) for k in range(parameters)] + list(expansion.pairs(parameters))
    out = np.ones((len(points), len(wanted), len(powers)))
    for place, axes in enumerate(wanted):
        for axis in range(parameters):
            out[:, place] *= single[axes.count(axis)][:, axis, powers[:, axis]]
    return out


def _powers(degree: int, parameters: int) -> NDArray[np.intp]:
    """Return the degrees in every ratio of all terms up to a total degree, shape (terms, R)."""
    found = np.indices((degree + 1,) * parameters).reshape(parameters, -1).T
    return found[found.sum(axis=1) <= degree]


def _halton(count: int, dimensions: int) -> Array:
    """Return evenly spread points of the unit cube (Halton's sequence without its first point)."""
    out = np.zeros((count, dimensions))
    for axis, base in zip(range(dimensions), (2, 3, 5, 7, 11, 13, 17, 19), strict=False):
        index, share = np.arange(1, count + 1), 1.0 / base
        while index.any():
            out[:, axis] += share * (index % base)
            index, share = index // base, share / base
    return out

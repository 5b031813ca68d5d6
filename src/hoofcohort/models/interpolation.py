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
FARTHEST = (5, 20, 60, 150, 400)
"""How many sets far from the rest the box may leave out."""
SEARCHED = 2
"""How often a set outside the box is likely to be swept."""
TESTED = 6
"""How many sets the polynomial is tested at, those nearest the corners of the box."""
AGREEMENT = 1e-10
"""Largest difference from a true sweep, relative to the largest number of the same derivative."""
NARROWEST = 1e-2
"""Half the width of the box in the logarithm of any ratio, at least."""
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
    """A polynomial in logarithms of the ratios, scaled to -1 .. 1 on a box.

    As functions of ``log(ratio + shift)``, with a shift below one over the rows of any group, the sweep's numbers have
    their poles as far as pi from the real line, so that degrees of 5 to 10 suffice.

    Attributes
    ----------
    shift, middle, half : arrays, shape (R,)
    degree : int
    coefficients : array, shape (terms, functions)
        Of the numbers of the upper triangle of ``W'V^-1 W``, then of ``log|V|``.
    """

    shift: Array
    middle: Array
    half: Array
    degree: int
    coefficients: Array

    def holds(self, ratios: Array) -> NDArray[np.bool_]:
        """Tell which sets lie in the box."""
        inside = np.abs(np.log(ratios + self.shift) - self.middle) <= self.half
        return np.asarray(inside.all(axis=1))

    def at(self, ratios: Array) -> Swept:
        """Return value and derivatives at sets of ratios inside the box."""
        points = (np.log(ratios + self.shift) - self.middle) / self.half
        parameters, size = points.shape[1], expansion.length(points.shape[1])
        columns = int(np.sqrt(2 * self.coefficients.shape[1]))  # q (q + 1) / 2 + 1 numbers
        upper, lower = np.triu_indices(columns)
        cross = np.empty((len(points), size, columns, columns))
        log_determinant = np.empty((len(points), size))
        portion = max(1, NUMBERS_AT_ONCE // (size * len(self.coefficients)))
        for k in range(0, len(points), portion):
            terms = _terms(points[k : k + portion], self.degree, parameters)
            logs = (terms.reshape(-1, terms.shape[-1]) @ self.coefficients).reshape(*terms.shape[:2], -1)
            found = _in_ratios(logs, ratios[k : k + portion] + self.shift, self.half)
            cross[k : k + portion, :, upper, lower] = found[..., :-1]
            cross[k : k + portion, :, lower, upper] = found[..., :-1]
            log_determinant[k : k + portion] = found[..., -1]
        return Swept(cross, log_determinant)


def _fitted(statistics: Statistics, ratios: Array) -> _Polynomial | None:
    """Fit polynomials of rising degree until one agrees with true sweeps; None when the sweeps would cost more."""
    shift = 1.0 / _largest_groups(statistics)
    place = np.log(ratios + shift)
    near, degrees = _chosen(place)
    low, high = near.min(axis=0), near.max(axis=0)
    pad = np.maximum(0.02 * (high - low), NARROWEST - (high - low) / 2)
    low, high = np.maximum(low - pad, np.log(shift)), high + pad
    middle, half = (high + low) / 2, (high - low) / 2
    inside = (near - middle) / half
    tested = np.exp(near[np.argsort(-np.abs(inside).sum(axis=1), kind="stable")[:TESTED]]) - shift
    truth = _swept(statistics, np.maximum(tested, 0.0))
    points: Array = np.empty((0, len(middle)))
    data: Array = np.empty((0, expansion.length(len(middle)), 0))
    for degree in degrees:
        count = _points_needed(degree, len(middle))
        if count > len(ratios) // 2:
            return None
        further = np.cos(np.pi * _halton(count, len(middle)))[len(points) :]
        if len(further):
            sets = np.maximum(np.exp(middle + half * further) - shift, 0.0)
            more = _in_logarithms(_numbers(_swept(statistics, sets)), sets + shift, half)
            points, data = np.concatenate([points, further]), np.concatenate([data, more]) if len(data) else more
        found = _Polynomial(shift, middle, half, degree, _solved(points, data, degree))
        if _agree(found.at(np.maximum(tested, 0.0)), truth):
            return found
    return None


def _largest_groups(statistics: Statistics) -> Array:
    """Return the rows in the largest group of every grouping, shape (R,)."""
    largest = np.ones(statistics.components)
    for component, places in statistics.slots:
        largest[component] = np.diagonal(statistics.patterns, axis1=1, axis2=2)[:, places].max()
    rows = statistics.patterns[statistics.member_pattern, 0, 0] * statistics.member_count
    for level in statistics.upper:
        rows = np.bincount(level.parents, weights=rows)
        largest[level.component] = rows.max()
    return largest


def _chosen(place: Array) -> tuple[Array, range]:
    """Choose how many far sets to leave outside the box: return those inside and the degrees to try."""
    middle = np.median(place, axis=0)
    spread = np.maximum(np.ptp(place, axis=0), NARROWEST)
    order = np.argsort(-(np.abs(place - middle) / spread).max(axis=1), kind="stable")
    costs = []
    for far in (far for far in FARTHEST if 2 * far < len(place)):
        half = np.maximum(np.ptp(place[order[far:]], axis=0) / 2, NARROWEST)
        degree = int(np.ceil(1 + np.log(AGREEMENT) / np.log(min(half.sum() / 4, 0.5))))
        costs.append((SEARCHED * far + _points_needed(degree, place.shape[1]), far, degree))
    _, far, degree = min(costs)
    return place[order[far:]], range(max(degree - 2, 4), degree + 4)


def _points_needed(degree: int, parameters: int) -> int:
    return int(np.ceil(SPARE * comb(degree + parameters, parameters) / expansion.length(parameters)))


def _in_logarithms(numbers: Array, shifted: Array, half: Array) -> Array:
    """Turn derivatives in the ratios, shape (S, J, functions), into those in the scaled logarithms."""
    factor = (shifted * half)[:, :, None]
    out, count = numbers.copy(), shifted.shape[1]
    out[:, 1 : 1 + count] *= factor
    for spot, (k, m) in enumerate(expansion.pairs(count), start=1 + count):
        out[:, spot] *= factor[:, k] * factor[:, m]
        if k == m:
            out[:, spot] += half[k] * out[:, 1 + k]
    return out


def _in_ratios(numbers: Array, shifted: Array, half: Array) -> Array:
    """Turn derivatives in the scaled logarithms into those in the ratios, in place."""
    factor = 1.0 / (shifted * half)[:, :, None]
    count = shifted.shape[1]
    for spot, (k, m) in enumerate(expansion.pairs(count), start=1 + count):
        if k == m:
            numbers[:, spot] -= half[k] * numbers[:, 1 + k]
        numbers[:, spot] *= factor[:, k] * factor[:, m]
    numbers[:, 1 : 1 + count] *= factor
    return numbers


def _solved(points: Array, data: Array, degree: int) -> Array:
    """Return least-squares coefficients; each derivative counts relative to its largest number."""
    terms = _terms(points, degree, points.shape[1])
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

"""Profile-likelihood intervals of standard deviations, shares of variance and coefficients.

A value lies inside when holding the quantity at it raises -2 log likelihood, at its least over everything else, by no
more than the quantile of chi-squared with one degree of freedom. A variance whose profile stays below that down to
zero has an interval that begins at zero. Quantities follow their own criterion: variances and shares that of the fit
(restricted or not), coefficients the likelihood, which alone compares models that differ in the fixed part.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hoofcohort.errors import ModelError
from hoofcohort.models.constrained import SMALLEST_RESIDUAL, Hold
from hoofcohort.models.grouping import RESIDUAL
from hoofcohort.models.profile_search import Search
from hoofcohort.models.solution import Solution

Array = NDArray[np.floating]
UNBOUNDED = 1e6
"""An upper end beyond this many times the total variance, or errors of a coefficient, is reported as infinite."""
LOWER_MINIMUM = (
    "A profile found a lower criterion than the fit did: the estimates and their intervals must not be used."
)


@dataclass(frozen=True)
class Interval:
    """An estimate with the ends of its interval; ``high`` is infinite where the profile never crosses."""

    estimate: float
    low: float
    high: float

    def squared(self) -> Interval:
        """Return the interval of the square of a quantity that is not negative."""
        return Interval(self.estimate**2, self.low**2, self.high**2)


@dataclass(frozen=True)
class ProfileIntervals:
    """Intervals from the profile likelihood.

    Attributes
    ----------
    confidence : float
    sds, variances : dict of Interval
        Of every grouping, the residual last; the unit of the outcome, and its square.
    icc : dict of Interval
        Share of every grouping, the residual last, in the total variance, 0 to 1.
    coefficients : dict of Interval
        Of the kept columns; empty with restricted maximum likelihood.
    messages : tuple of str
    """

    confidence: float
    sds: dict[str, Interval]
    variances: dict[str, Interval]
    icc: dict[str, Interval]
    coefficients: dict[str, Interval]
    messages: tuple[str, ...]


def profile_intervals(fit: Solution, confidence: float | None = None) -> ProfileIntervals:
    """Compute the intervals of a fit.

    Parameters
    ----------
    fit : Solution
    confidence : float, optional
        Between 0 and 1; that of the fit by default.

    Raises
    ------
    ModelError
        When the fit did not converge, or confidence lies outside 0 to 1.
    """
    confidence = fit.confidence if confidence is None else confidence
    if not 0 < confidence < 1:
        raise ModelError(f"confidence must lie between 0 and 1, found {confidence}")
    if not fit.optimum.converged:
        raise ModelError("the fit did not converge, so its likelihood has no profile; see its messages")
    profiler = _Profiler.of(fit, confidence)
    names = dict(enumerate([RESIDUAL, *fit.grouping.names]))
    order = [*range(1, len(names)), 0]
    sds = {names[k]: profiler.standard_deviation(k) for k in order}
    icc = {names[k]: profiler.share(k) for k in order}
    terms = [fit.design.names[column] for column in fit.basis.kept] if fit.method == "ml" else []
    coefficients = {term: profiler.coefficient(place) for place, term in enumerate(terms)}
    unbounded = [name for name, interval in sds.items() if np.isinf(interval.high)]
    messages = [f"The data set no upper limit to the variance of level '{name}'." for name in unbounded]
    if sds[RESIDUAL].low == 0:
        messages.append("The data set no lower limit above zero to the residual variance.")
    if profiler.search.lowest < fit.optimum.at.criterion - 1e-6:
        messages.append(LOWER_MINIMUM)
    variances = {name: interval.squared() for name, interval in sds.items()}
    return ProfileIntervals(confidence, sds, variances, icc, coefficients, tuple(messages))


@dataclass(frozen=True)
class _Profiler:
    """Follows the profiles of one fit, in the units of its statistics.

    Attributes
    ----------
    fit : Solution
    search : Search
    total : float
        Sum of the estimated variances.
    spread : array, shape (K,)
        Standard errors of the variances from their expected information: where the search begins.
    """

    fit: Solution
    search: Search
    total: float
    spread: Array

    @classmethod
    def of(cls, fit: Solution, confidence: float) -> _Profiler:
        from scipy.special import chdtri

        at = fit.optimum.at
        size = np.sqrt(np.diag(at.expected))
        spread = np.sqrt(2 * np.diag(np.linalg.inv(at.expected / np.outer(size, size)))) / size
        search = Search(fit.statistics, at, fit.method == "reml", float(chdtri(1, 1 - confidence)), at.criterion)
        return cls(fit, search, float(at.variances.sum()), spread)

    def standard_deviation(self, k: int) -> Interval:
        """Return the interval of the standard deviation in position k, in the unit of the outcome.

        The search runs over ``log(1 + variance / size)``: a line near zero, the logarithm far from it.
        """
        variance = float(self.fit.optimum.at.variances[k])
        size = max(variance, 0.01 * self.total)

        def hold(x: float) -> Hold:
            return Hold(k, amount=size * float(np.expm1(x)), amount_slope=size * float(np.exp(x)))

        here = float(np.log1p(variance / size))
        step = float(np.sqrt(self.search.quantile) * self.spread[k] / (size + variance))
        far = self.search.end(hold, here, here + min(step, 2.0), np.log1p(UNBOUNDED * self.total / size))
        near, floor = 0.0, float(np.log1p(SMALLEST_RESIDUAL * self.total / size)) if k == 0 else 0.0
        if here > floor and (k == 0 or self.search.rise_at_zero(k) > self.search.quantile):
            near = self.search.end(hold, here, max(here - step, 0.4 * here), floor, k > 0)
        ends = (variance, 0.0 if np.isinf(near) else size * np.expm1(near), size * np.expm1(far))
        return Interval(*(float(np.sqrt(value)) * self.fit.scale for value in ends))

    def share(self, k: int) -> Interval:
        """Return the interval of the share of the variance in position k in the total.

        The search runs over ``-log(1 - share)``; for the residual over ``-log share``: zero where the levels have none.
        """
        estimate = float(self.fit.optimum.at.variances[k]) / self.total

        def value(x: float) -> float:
            return float(-np.expm1(-x) if k else np.exp(-x))

        def hold(x: float) -> Hold:
            grown = float(np.expm1(x))
            if k:
                return Hold(k, odds=grown, odds_slope=1 + grown)
            return Hold(k, odds=1 / grown, odds_slope=-(1 + grown) / grown**2)

        here = float(-np.log1p(-estimate) if k else -np.log(estimate))
        step = max(
            0.05, float(np.sqrt(self.search.quantile) * (self.spread[k] if k else self.spread.max())) / self.total
        )
        limit = float(np.log(UNBOUNDED) if k else -np.log(SMALLEST_RESIDUAL))
        far = np.inf if here >= limit else self.search.end(hold, here, here + min(step, 1.0), limit)
        near = 0.0
        if here > 0 and (self.search.rise_at_zero(k) if k else self.search.rise_alone()) > self.search.quantile:
            near = self.search.end(hold, here, max(here - step, 0.4 * here), 0.0, True)
        return Interval(estimate, *sorted((value(near), value(far))))

    def coefficient(self, place: int) -> Interval:
        """Return the interval of the coefficient of a kept column."""
        fit, at = self.fit, self.fit.optimum.at
        turned = np.linalg.qr(np.delete(fit.basis.r, place, axis=1), mode="complete")[0]
        others, own = turned[:, :-1], turned[:, -1]
        own = own * np.sign(own @ fit.basis.r[:, place])
        p = len(own)

        columns, columns_slope = np.zeros((p + 1, p)), np.zeros((p + 1, p))
        columns[:p, :-1], columns[p, -1] = others, 1.0
        columns_slope[:p, -1] = -own
        centre = float(own @ at.estimate)

        def hold(shift: float) -> Hold:
            return Hold(columns=columns + (centre + shift) * columns_slope, columns_slope=columns_slope)

        error = float(np.sqrt(own @ at.covariance @ own))
        step = np.sqrt(self.search.quantile) * error
        ends = [self.search.end(hold, 0.0, sign * step, sign * UNBOUNDED * error) for sign in (-1, 1)]
        unit = fit.scale / float(own @ fit.basis.r[:, place])
        estimate = float(fit.coefficients[place])
        return Interval(estimate, estimate + unit * ends[0], estimate + unit * ends[1])

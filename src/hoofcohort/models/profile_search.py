"""Where the profile of one quantity has risen by the quantile."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from hoofcohort.models.constrained import Hold, Least, around, least
from hoofcohort.models.criterion import Evaluation, evaluate
from hoofcohort.models.optimise import several_minima
from hoofcohort.models.statistics import Statistics

Array = NDArray[np.floating]
MOST_VALUES = 80
FIRST_PROMISE, LAST_PROMISE = 0.1, 1e-8
"""How closely the least is found at the first and at the last value of a search (see :func:`least`)."""

Profile = Callable[[float, float], Least]


@dataclass
class Search:
    """Follows profiles of one fit, in the units of its statistics.

    Attributes
    ----------
    statistics : Statistics
    at : Evaluation
        The fit.
    restricted : bool
    quantile : float
        Rise of the criterion at an end.
    lowest : float
        Lowest criterion met.
    at_zero : dict
        Least criterion with the variance of a position held at zero.
    """

    statistics: Statistics
    at: Evaluation
    restricted: bool
    quantile: float
    lowest: float
    at_zero: dict[int, float] = field(default_factory=dict)

    @property
    def wary(self) -> bool:
        """Whether a profile may have several minima, as in the fit's search: few rows or groups, or a zero variance."""
        return several_minima(self.statistics) or bool((self.at.variances == 0).any())

    @property
    def apart(self) -> float:
        """A value for every free variance of a second start."""
        return float(self.at.variances.mean())

    def end(
        self, hold: Callable[[float], Hold], inside: float, guess: float, beyond: float, crosses: bool = False
    ) -> float:
        """Return where a profile crosses between ``inside``, its value in the fit, and ``beyond``; infinite if nowhere.

        ``crosses`` says that it is known to. Where there may be several minima, the end is compared with the least that
        a second start finds there; where that is lower, both starts follow.
        """
        near = self._first(hold, inside, guess)
        end = self._crossing(self._follow(hold, [near], inside), inside, guess, beyond, crosses)
        if self.wary and np.isfinite(end):
            apart = Least(np.inf, 0.0, np.full(len(near.free), self.apart), np.zeros(len(near.free)))
            again = self._least(hold(end), apart.free).criterion
            if again < self.at.criterion + self.quantile - 1e-5:
                profile = self._follow(hold, [near, apart], inside)
                end = self._crossing(profile, inside, end, beyond, crosses)
        return end

    def _first(self, hold: Callable[[float], Hold], inside: float, guess: float) -> Least:
        """Return the fit as the least at ``inside``; equal variances where it has none of the free ones."""
        position = hold(guess).position
        free = self.at.variances if position is None else np.delete(self.at.variances, position)
        if position is None:
            return Least(0.0, 0.0, free, np.zeros(len(free)))
        if free.sum() < 1e-6 * self.at.variances.sum():
            return Least(0.0, 0.0, np.full(len(free), self.apart), np.zeros(len(free)))
        return around(hold(inside), self.at)

    def _follow(self, hold: Callable[[float], Hold], states: list[Least], at: float) -> Profile:
        """Return a profile as a function; each start goes on from where it was, along its response."""
        where = [at]

        def profile(value: float, promise: float) -> Least:
            for place, state in enumerate(states):
                start = np.maximum(state.free + state.response * (value - where[0]), 0.0)
                start = start if start[0] > 0.2 * state.free[0] else state.free
                states[place] = self._least(hold(value), start, promise)
            where[0] = value
            return min(states, key=lambda state: state.criterion)

        return profile

    def _crossing(self, profile: Profile, inside: float, value: float, beyond: float, crosses: bool) -> float:
        """Find by Newton's method, on the square root of the rise and kept within bounds, where it is the quantile.

        The least is found the more closely the nearer the end: ``promise`` follows the distance.
        """
        base, aim, start = self.at.criterion, np.sqrt(self.quantile), inside
        promise = FIRST_PROMISE
        for _ in range(MOST_VALUES):
            found = profile(value, promise)
            height = np.sqrt(max(found.criterion - base, 0.0))
            if height >= aim:
                beyond, crosses = value, True
            else:
                inside = value
            following = value - (height - aim) * 2 * height / found.slope if found.slope else np.inf
            if not min(inside, beyond) < following < max(inside, beyond):
                if not crosses and abs(beyond - start) < 8 * abs(value - start):
                    if profile(beyond, LAST_PROMISE).criterion - base < self.quantile:
                        return np.inf
                    crosses = True
                following = (inside + beyond) / 2 if crosses else start + 4 * (value - start)
            moved = abs(following - value) / abs(value - start)
            if promise == LAST_PROMISE and moved < 1e-6:
                return float(following)
            promise = max(LAST_PROMISE, min(promise, moved**3))
            value = following
        return float(value)

    def _least(self, hold: Hold, start: Array, promise: float = LAST_PROMISE) -> Least:
        found = least(self.statistics, self.restricted, hold, start, promise)
        self.lowest = min(self.lowest, found.criterion)
        return found

    def rise_at_zero(self, k: int) -> float:
        """Return how far the criterion rises with the variance in position k at zero."""
        if k not in self.at_zero:
            variances = np.delete(self.at.variances, k)
            starts = [variances, np.full(len(variances), self.apart)][: 2 if self.wary else 1]
            self.at_zero[k] = min(self._least(Hold(k), start).criterion for start in starts)
        return self.at_zero[k] - self.at.criterion

    def rise_alone(self) -> float:
        """Return how far the criterion rises with every variance but the residual at zero."""
        alone = np.zeros(len(self.at.variances))
        alone[0] = self.at.variances.sum()
        found = evaluate(self.statistics, alone, self.restricted)
        degrees = self.statistics.rows - (len(found.estimate) if self.restricted else 0)
        best = found.criterion + degrees * (np.log(found.quadratic / degrees) + 1) - found.quadratic
        return float(best) - self.at.criterion

"""Where the profile of one quantity has risen by the quantile."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from hoofcohort.models.constrained import Hold, Least, least
from hoofcohort.models.criterion import Evaluation, evaluate
from hoofcohort.models.statistics import Statistics

Array = NDArray[np.floating]
MOST_VALUES = 80


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

    def end(
        self,
        hold: Callable[[float], Hold],
        slope: Callable[[float, Least], float],
        k: int | None,
        inside: float,
        guess: float,
        beyond: float,
        crosses: bool = False,
    ) -> float:
        """Return where the profile crosses between ``inside`` and ``beyond``, infinite when it does not.

        ``crosses`` says that it is known to. The end is compared with the least that a second start finds there; where
        that is lower, both starts follow.
        """
        variances = self.at.variances
        total = float(variances.sum())
        near = variances if k is None else np.delete(variances, k)
        apart = np.full(len(near), total / (len(near) + 1))
        near = near if near.sum() > 1e-6 * total else apart

        def follow(starts: list[Array]) -> Callable[[float], tuple[float, float]]:
            def profile(value: float) -> tuple[float, float]:
                found = [self._least(hold(value), start) for start in starts]
                best = min(found, key=lambda one: one.criterion)
                starts[0] = best.free
                return best.criterion, slope(value, best)

            return profile

        end = self._crossing(follow([near]), inside, guess, beyond, crosses)
        if np.isfinite(end):
            again = self._least(hold(end), apart).criterion
            if again < self.at.criterion + self.quantile - 1e-5:
                end = self._crossing(follow([near, apart]), inside, end, beyond, crosses)
        return end

    def _crossing(
        self,
        profile: Callable[[float], tuple[float, float]],
        inside: float,
        value: float,
        beyond: float,
        crosses: bool,
    ) -> float:
        """Find by Newton's method, on the square root of the rise and kept within bounds, where it is the quantile."""
        base, aim, start = self.at.criterion, np.sqrt(self.quantile), inside
        for _ in range(MOST_VALUES):
            criterion, slope = profile(value)
            height = np.sqrt(max(criterion - base, 0.0))
            if height >= aim:
                beyond, crosses = value, True
            else:
                inside = value
            following = value - (height - aim) * 2 * height / slope if slope else np.inf
            if not min(inside, beyond) < following < max(inside, beyond):
                if not crosses and abs(beyond - start) < 8 * abs(value - start):
                    if profile(beyond)[0] - base < self.quantile:
                        return np.inf
                    crosses = True
                following = (inside + beyond) / 2 if crosses else start + 4 * (value - start)
            if abs(following - value) <= 1e-7 * abs(value - start):
                return float(following)
            value = following
        return float(value)

    def _least(self, hold: Hold, start: Array) -> Least:
        found = least(self.statistics, self.restricted, hold, start)
        self.lowest = min(self.lowest, found.criterion)
        return found

    def rise_at_zero(self, k: int) -> float:
        """Return how far the criterion rises with the variance in position k at zero."""
        if k not in self.at_zero:
            variances = np.delete(self.at.variances, k)
            starts = (variances, np.full(len(variances), self.at.variances.mean()))
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

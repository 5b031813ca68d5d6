"""Bases for a covariate whose relation to the outcome need not be a straight line.

Every basis has the covariate itself as its first column, so that the test of the other columns is the test of
non-linearity. All columns are in the covariate's unit.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from hoofcohort.errors import ModelError
from hoofcohort.models.basis import ALIAS_TOLERANCE

Array = NDArray[np.floating]
QUANTILES: Mapping[int, tuple[float, ...]] = {
    3: (0.10, 0.50, 0.90),
    4: (0.05, 0.35, 0.65, 0.95),
    5: (0.05, 0.275, 0.50, 0.725, 0.95),
}
"""Where the knots stand, by their number: quantiles of the covariate (Harrell FE, Regression Modeling Strategies, 2nd
ed, Springer 2015, section 2.4.6; from memory)."""
POWERS = {2: "squared", 3: "cubed"}


@dataclass(frozen=True)
class Spline:
    """A restricted cubic spline: cubic between the knots, straight beyond the outer ones.

    The truncated-power form, divided by the square of the outer knots' distance (Harrell FE, Regression Modeling
    Strategies, 2nd ed, Springer 2015, section 2.4.5; Stone CJ, Koo CY, Proc Stat Comput Sect Am Stat Assoc 1985:45-48;
    both from memory).

    Attributes
    ----------
    knots : tuple of float
        At least three, strictly increasing, in the covariate's unit.

    Raises
    ------
    ModelError
        For knots that are too few, not finite or not strictly increasing.
    """

    knots: tuple[float, ...]

    def __post_init__(self) -> None:
        places = np.asarray(self.knots, float)
        if len(places) < 3:
            raise ModelError(f"a spline needs at least 3 knots, found {len(places)}; give more, or use a straight line")
        if not np.isfinite(places).all() or not (np.diff(places) > 0).all():
            listed = ", ".join(f"{knot:g}" for knot in self.knots)
            raise ModelError(f"knots at {listed}: they must be finite and each above the one before")

    @property
    def labels(self) -> tuple[str, ...]:
        """What the columns are called behind the covariate's name."""
        return ("linear", *(f"spline {place}" for place in range(1, len(self.knots) - 1)))

    def columns(self, values: ArrayLike) -> Array:
        """Return the basis, shape (n, knots - 1), at values, shape (n,); missing in, missing out."""
        x = np.asarray(values, float)
        places = np.asarray(self.knots, float)
        first, before, last = places[0], places[-2], places[-1]
        cubes = np.maximum(x[:, None] - places, 0.0) ** 3
        inner = places[:-2]
        curved = (
            cubes[:, :-2]
            - cubes[:, [-2]] * (last - inner) / (last - before)
            + cubes[:, [-1]] * (before - inner) / (last - before)
        )
        return np.column_stack([x, curved / (last - first) ** 2])


@dataclass(frozen=True)
class Polynomial:
    """Powers of a covariate about a centre, divided by powers of a scale so that they keep its unit.

    Attributes
    ----------
    degree : int
        2 or 3.
    centre, scale : float
        In the covariate's unit; ``scale`` is positive. They change the coefficients and not what the model can fit.

    Raises
    ------
    ModelError
        For another degree, or a centre or scale that is not finite.
    """

    degree: int
    centre: float
    scale: float

    def __post_init__(self) -> None:
        if self.degree not in POWERS:
            raise ModelError(f"a polynomial's degree is 2 or 3, found {self.degree}")
        if not (np.isfinite(self.centre) and np.isfinite(self.scale) and self.scale > 0):
            raise ModelError("a polynomial needs a finite centre and a positive scale")

    @property
    def labels(self) -> tuple[str, ...]:
        """What the columns are called behind the covariate's name."""
        return ("linear", *(POWERS[power] for power in range(2, self.degree + 1)))

    def columns(self, values: ArrayLike) -> Array:
        """Return the basis, shape (n, degree), at values, shape (n,); missing in, missing out."""
        x = np.asarray(values, float)
        about = (x - self.centre) / self.scale
        return np.column_stack([x, *(self.scale * about**power for power in range(2, self.degree + 1))])


Shape = Spline | Polynomial


def quantile_knots(values: ArrayLike, count: int) -> tuple[float, ...]:
    """Return so many knots at quantiles of a covariate, or fewer where it has too few distinct values for them.

    Parameters
    ----------
    values : array, shape (n,)
        Finite.
    count : int
        3, 4 or 5.

    Returns
    -------
    tuple of float
        Strictly increasing; empty when not even three of them differ, or the covariate would not carry the basis.

    Raises
    ------
    ModelError
        For another count.
    """
    if count not in QUANTILES:
        raise ModelError(f"the number of knots is one of {', '.join(map(str, QUANTILES))}; found {count}")
    x = np.asarray(values, float)
    for fewer in range(count, 2, -1):
        knots = np.quantile(x, QUANTILES[fewer])
        if (np.diff(knots) > 0).all() and carries(x, Spline(tuple(knots.tolist()))):
            return tuple(knots.tolist())
    return ()


def polynomial(values: ArrayLike, degree: int) -> Polynomial:
    """Return a polynomial about the mean of a covariate, scaled by half its range.

    Raises
    ------
    ModelError
        For a degree that is not 2 or 3, or a covariate that does not vary.
    """
    x = np.asarray(values, float)
    return Polynomial(degree, float(x.mean()), float(np.ptp(x)) / 2)


def carries(values: ArrayLike, shape: Shape) -> bool:
    """Tell whether a covariate's values can tell all columns of a basis, and the intercept, apart.

    They cannot where the covariate varies so little about its mean that a model would drop it beside an intercept.
    """
    distinct = np.unique(np.asarray(values, float))
    columns = shape.columns(distinct)
    if len(distinct) <= columns.shape[1]:
        return False
    centred = columns - columns.mean(axis=0)
    norms = np.linalg.norm(centred, axis=0)
    if not (norms > ALIAS_TOLERANCE * np.linalg.norm(columns, axis=0)).all():
        return False
    return int(np.linalg.matrix_rank(centred / norms, tol=ALIAS_TOLERANCE)) == columns.shape[1]

"""What a fit says: all that needs the statistics, and none of the rows."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any, Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from hoofcohort.errors import ModelError
from hoofcohort.models.basis import Basis
from hoofcohort.models.design import Design
from hoofcohort.models.grouping import RESIDUAL
from hoofcohort.models.hypotheses import type_three
from hoofcohort.models.inference import Inference, KenwardRoger, Satterthwaite
from hoofcohort.models.multiplicity import holm
from hoofcohort.models.optimise import Optimum, minimise
from hoofcohort.models.statistics import Statistics

Array = NDArray[np.floating]
METHODS = {"reml": "restricted maximum likelihood", "ml": "maximum likelihood"}
DEGREES = {"kenward-roger": "Kenward-Roger", "satterthwaite": "Satterthwaite"}


class Groups(Protocol):
    """The names of the groupings and how many groups each has, whether or not their rows are at hand."""

    @property
    def names(self) -> tuple[str, ...]:
        """All groupings, in the order of their variances."""

    @property
    def rows(self) -> int:
        """Number of rows."""

    def sizes(self) -> dict[str, int]:
        """Return the number of groups of every grouping."""


@dataclass(frozen=True)
class Estimate:
    """A linear function of the coefficients; NaN throughout when the data cannot estimate it.

    Attributes
    ----------
    estimate, std_error, df, t, p, low, high : float
        ``std_error`` is adjusted under Kenward-Roger; ``low`` and ``high`` bound the confidence interval.
    """

    estimate: float
    std_error: float
    df: float
    t: float
    p: float
    low: float
    high: float


def t_estimates(
    estimate: Array, error: Array, degrees: Array, confidence: float, possible: NDArray[np.bool_]
) -> list[Estimate]:
    """Return estimates with their t tests and intervals; NaN throughout where it is not possible to estimate."""
    from scipy.special import stdtr, stdtrit  # scipy.stats gives the same, and takes long to import

    with np.errstate(divide="ignore", invalid="ignore"):
        statistic = estimate / error
    half = stdtrit(degrees, 0.5 + confidence / 2) * error
    p = 2 * stdtr(degrees, -np.abs(statistic))
    table = np.column_stack([estimate, error, degrees, statistic, p, estimate - half, estimate + half])
    table[~possible] = np.nan
    return [Estimate(*map(float, row)) for row in table]


@dataclass(frozen=True)
class Test:
    """An F test of several linear functions at once."""

    num_df: float
    den_df: float
    f: float
    p: float


@dataclass(frozen=True)
class Solution:
    """A fitted model, as far as it goes without its rows.

    Attributes
    ----------
    design : Design
        Of the rows; for a fit from statistics alone, of one row at which every variable has its mean.
    grouping : Groups
    method, df : str
        Keys of :data:`METHODS` and :data:`DEGREES`.
    confidence : float
    basis, statistics, optimum, inference
        What the estimates rest on: statistics and optimum are those of the outcome, less its projection on the basis
        and divided by ``scale``, in the basis.
    scale : float
    coefficients : array, shape (p,)
        Of the kept columns.
    transform : array, shape (p, p)
        Turns coefficients of the basis into those of the kept columns.
    criterion : float
        -2 log [restricted] likelihood, on the scale of the data.
    fixed_variance : float
        Variance of the fixed part's fitted values over the rows (divisor n - 1).
    means : tuple of str
        Factors whose marginal means were asked for.
    rows_dropped : int
        Rows that the caller left out for missing values.
    messages : tuple of str
    """

    design: Design
    grouping: Groups
    method: str
    df: str
    confidence: float
    basis: Basis
    statistics: Statistics
    optimum: Optimum
    inference: Inference
    scale: float
    coefficients: Array
    transform: Array
    criterion: float
    fixed_variance: float
    means: tuple[str, ...] = ()
    rows_dropped: int = 0
    messages: tuple[str, ...] = field(default=())

    @property
    def variances(self) -> dict[str, float]:
        """Variance of every grouping, the residual last."""
        values = self.optimum.at.variances * self.scale**2
        return dict(zip([*self.grouping.names, RESIDUAL], [*map(float, values[1:]), float(values[0])], strict=True))

    @property
    def boundary(self) -> list[str]:
        """Groupings whose variance is exactly zero."""
        return [self.grouping.names[k - 1] for k in self.optimum.boundary]

    @property
    def dropped_terms(self) -> list[str]:
        """Columns that combinations of earlier columns already express."""
        return [self.design.names[column] for column in self.basis.dropped]

    def means_matrix(self, name: str) -> tuple[Array, tuple[str, ...]]:
        """Return the functions whose values are the marginal means of a factor (see :class:`Design`)."""
        return self.design.means_matrix(name)

    def linear(self, functions: ArrayLike) -> list[Estimate]:
        """Estimate linear functions, shape (k, all columns), of the coefficients."""
        inside, possible = self.basis.restrict(np.atleast_2d(np.asarray(functions, float)))
        turned = inside @ self.transform
        estimate = inside @ self.coefficients
        variance = np.einsum("ka,ab,kb->k", turned, self.inference.covariance, turned)
        error = np.sqrt(variance) * self.scale
        with np.errstate(divide="ignore", invalid="ignore"):
            degrees = self.inference.degrees(turned)
        return t_estimates(estimate, error, degrees, self.confidence, possible)

    def joint_test(self, functions: ArrayLike) -> Test:
        """Test that linear functions, shape (k, all columns), are all zero.

        Raises
        ------
        ModelError
            When the data can estimate none of them.
        """
        inside, possible = self.basis.restrict(np.atleast_2d(np.asarray(functions, float)))
        return self._joint(inside[possible])

    def _joint(self, inside: Array) -> Test:
        """Test functions of the kept coefficients."""
        from scipy.special import chdtrc, fdtrc

        turned = _independent(inside @ self.transform)
        if not len(turned):
            raise ModelError("the data cannot estimate the tested functions")
        num, den, f = self.inference.joint(turned, self.basis.r @ self.coefficients / self.scale)
        return Test(float(num), den, f, float(chdtrc(num, num * f) if den == np.inf else fdtrc(num, den, f)))

    def icc(self) -> dict[str, float]:
        """Share of every grouping's variance in their total with the residual."""
        total = sum(self.variances.values())
        return {name: value / total for name, value in self.variances.items() if name != RESIDUAL}

    def r_squared(self) -> dict[str, float]:
        """Marginal and conditional R2 (Nakagawa & Schielzeth, Methods Ecol Evol 2013;4:133-142; n - 1 variance)."""
        total = self.fixed_variance + sum(self.variances.values())
        return {"marginal": self.fixed_variance / total, "conditional": (total - self.variances[RESIDUAL]) / total}

    def tests(self) -> dict[str, Test]:
        """Type III F test of every term."""
        return {term: self._joint(rows) for term, rows in type_three(self.design, self.basis).items()}

    def contrasts(self, name: str) -> list[dict[str, Any]]:
        """Pairwise differences between marginal means, first minus second, with Holm's adjustment."""
        functions, values = self.means_matrix(name)
        chosen = [(i, j) for i in range(len(values)) for j in range(i + 1, len(values))]
        if not chosen:
            return []
        found = self.linear(np.array([functions[i] - functions[j] for i, j in chosen]))
        adjusted = holm([estimate.p for estimate in found])
        return [
            {"factor": name, "first": values[i], "second": values[j], **vars(estimate), "p_holm": p}
            for (i, j), estimate, p in zip(chosen, found, adjusted, strict=True)
        ]

    def to_dict(self) -> dict[str, Any]:
        """Return everything as plain numbers and words (the content of fit.json); None where nothing is estimable."""
        from hoofcohort.models.record import as_record

        return as_record(self)


@dataclass(frozen=True)
class Choices:
    """How to fit.

    Attributes
    ----------
    method : {"reml", "ml"}
    df : {"kenward-roger", "satterthwaite"}, optional
        Kenward-Roger by default with REML, for which alone it is defined; Satterthwaite with ML.
    means : tuple of str
        Categorical variables whose marginal means and differences the record shall hold.
    confidence : float
        Level of the intervals, between 0 and 1.
    rows_dropped : int
        Rows left out by the caller, for the record.
    """

    method: str = "reml"
    df: str | None = None
    means: tuple[str, ...] = ()
    confidence: float = 0.95
    rows_dropped: int = 0

    @property
    def degrees(self) -> str:
        """The way to the degrees of freedom, chosen or by default."""
        return self.df or ("kenward-roger" if self.method == "reml" else "satterthwaite")

    def check(self) -> None:
        """Refuse what is not offered.

        Raises
        ------
        ModelError
        """
        if self.method not in METHODS or self.degrees not in DEGREES:
            raise ModelError(f"method is one of {', '.join(METHODS)}; df is one of {', '.join(DEGREES)}")
        if self.method == "ml" and self.df == "kenward-roger":
            raise ModelError(
                "Kenward-Roger degrees of freedom are defined for restricted maximum likelihood only; "
                "use --method reml, or --df satterthwaite"
            )
        if not 0 < self.confidence < 1:
            raise ModelError(f"confidence must lie between 0 and 1, found {self.confidence}")


def scale_of(rest: float, rows: int, columns: int, largest: float) -> float:
    """Return the residual standard deviation around the fixed part alone.

    Parameters
    ----------
    rest : float
        Length of the outcome less its projection on the basis.
    rows, columns : int
        N and p.
    largest : float
        Size of the outcome, against which that length would be nothing but rounding.

    Raises
    ------
    ModelError
        When there is nothing left.
    """
    scale = rest / float(np.sqrt(rows - columns))
    if scale <= 1e-13 * largest:
        raise ModelError("the fixed terms reproduce the outcome exactly; there is no variation left to model")
    return scale


def solve(
    statistics: Statistics, design: Design, grouping: Groups, basis: Basis, raw: Array, scale: float, choices: Choices
) -> Solution:
    """Fit from statistics in the basis.

    Parameters
    ----------
    statistics : Statistics
        Of ``[Q, (y - Q raw) / scale]``.
    design, grouping : Design, Groups
    basis : Basis
    raw : array, shape (p,)
        ``Q'y``.
    scale : float
    choices : Choices

    Raises
    ------
    ModelError
        With the reason, when the model cannot be fitted.
    """
    restricted = choices.method == "reml"
    optimum = minimise(statistics, restricted, grouping.names)
    degrees = statistics.rows - (len(raw) if restricted else 0)
    criterion = optimum.at.criterion + 2 * degrees * np.log(scale)
    criterion += 2 * basis.log_determinant if restricted else 0.0
    kind: type[KenwardRoger] | type[Satterthwaite] = (
        KenwardRoger if choices.degrees == "kenward-roger" else Satterthwaite
    )
    solution = Solution(
        design, grouping, choices.method, choices.degrees, choices.confidence, basis, statistics, optimum,
        kind.of(optimum), scale, np.linalg.solve(basis.r, raw + scale * optimum.at.estimate), np.linalg.inv(basis.r),
        float(criterion), np.nan, tuple(choices.means), choices.rows_dropped,
    )  # fmt: skip
    return replace(solution, messages=tuple(_messages(solution)))


def _independent(functions: Array) -> Array:
    """Return independent rows that span the same hypotheses."""
    if len(functions) < 2:
        return functions
    scaled = functions / np.maximum(np.linalg.norm(functions, axis=1, keepdims=True), 1e-300)
    _, values, right = np.linalg.svd(scaled, full_matrices=False)
    rank = int((values > 1e-9 * values[0]).sum())
    return functions if rank == len(functions) else right[:rank]


def _messages(fit: Solution) -> list[str]:
    """Say in words what a reader must know of how the fit went."""
    found = []
    if not fit.optimum.converged:
        found.append(
            f"The search for the variances did not converge after {fit.optimum.iterations} steps "
            f"(largest scaled gradient {fit.optimum.gradient:.2g}); the estimates must not be used."
        )
    for name in fit.boundary:
        found.append(f"The variance of level '{name}' was estimated at its boundary, zero.")
    for name in fit.dropped_terms:
        found.append(f"Column '{name}' is a combination of earlier columns and was left out.")
    for name, count in fit.grouping.sizes().items():
        if count < 6:
            found.append(f"Level '{name}' has only {count} groups: its variance is poorly determined.")
    return found

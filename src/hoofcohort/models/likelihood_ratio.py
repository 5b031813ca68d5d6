"""Likelihood-ratio tests whose reference distribution is simulated under the null model.

Halekoh U, Hojsgaard S. J Stat Softw 2014;59(9), section 5: the parametric bootstrap. Unlike the chi-square
distribution, it holds with few groups; and a variance, whose null value is the end of its range, has no chi-square
distribution at all (Self SG, Liang KY. J Am Stat Assoc 1987;82:605-610: a mixture, with many groups).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from hoofcohort.errors import ModelError, nearest
from hoofcohort.models.basis import orthonormal_basis
from hoofcohort.models.bootstrap import check_converged, check_request, projected, simulated
from hoofcohort.models.fit import Fit
from hoofcohort.models.narrowed import refit_without
from hoofcohort.models.refits import LAST_PROMISE, ROUGH_PROMISE, Refits, refit
from hoofcohort.models.replicates import Replicates

Array = NDArray[np.floating]
TIE = 1e-7
"""Likelihood ratios closer than this are equal: most of a variance's are zero but for rounding."""


@dataclass(frozen=True)
class LikelihoodRatioTest:
    """A likelihood-ratio test.

    Attributes
    ----------
    tested : str
        The level, or the terms joined by `` + ``.
    method : str
        ``reml`` for a variance, ``ml`` for terms.
    statistic : float
        -2 log likelihood of the null model minus that of the full one, 0 or more.
    df : int
        Parameters that the null model lacks.
    p_chi_square : float
        From the chi-square distribution with ``df``; for a variance from its 50:50 mixture with zero.
    p : float
        ``(1 + replicates that reach the statistic) / (1 + replicates)``.
    monte_carlo_error : float
        Standard error of ``p`` for having drawn so few.
    replicates, failed : int
        Refits used, and refits left out because they did not converge.
    share_at_zero : float
        Share of the replicates whose statistic is zero.
    seed : int
    """

    tested: str
    method: str
    statistic: float
    df: int
    p_chi_square: float
    p: float
    monte_carlo_error: float
    replicates: int
    failed: int
    share_at_zero: float
    seed: int

    def to_dict(self) -> dict[str, Any]:
        """Return everything as plain numbers and words."""
        return asdict(self)


def likelihood_ratio_test(
    fit: Fit,
    without_level: str | None = None,
    without_terms: Sequence[str] = (),
    replicates: int = 1000,
    seed: int = 1,
) -> LikelihoodRatioTest:
    """Test that the variance of a level is zero, or that terms go with nothing, by parametric bootstrap.

    Parameters
    ----------
    fit : Fit
        The full model.
    without_level, without_terms : str, sequence of str
        What the null model lacks: give one of the two.
    replicates : int
        20 or more.
    seed : int
        Zero or more; the same seed gives the same numbers.

    Raises
    ------
    ModelError
        When the null model is not the full one without something, or most refits fail.
    """
    check_request(replicates, seed)
    if (without_level is None) == (not without_terms):
        raise ModelError("a likelihood-ratio test leaves out either one level or some terms: give one of the two")
    if without_level is not None:
        return _variance_test(fit, without_level, replicates, seed)
    return _terms_test(fit, list(without_terms), replicates, seed)


def _variance_test(fit: Fit, level: str, replicates: int, seed: int) -> LikelihoodRatioTest:
    names = fit.grouping.names
    if level not in names:
        raise ModelError(f"no level '{level}' in the model{nearest(level, list(names))}")
    position, q = names.index(level), fit.basis.q

    def compared(outcomes: Array, near: Array, promise: float) -> _Compared:
        _, scaled, _ = projected(q, outcomes)
        batch = Replicates.of(q, scaled, fit.grouping)
        null = refit_without(batch, q, scaled, fit.grouping, position, near, promise)
        full = refit(batch, True, near, narrower=null, promise=promise)
        return _Compared(null, null.at.criterion - full.at.criterion, null.converged & full.converged)

    return _test(fit, level, "reml", 1, compared, replicates, seed)


def _terms_test(fit: Fit, terms: list[str], replicates: int, seed: int) -> LikelihoodRatioTest:
    title = " + ".join(terms)
    small = orthonormal_basis(fit.design.matrix[:, _columns_without(fit, terms)]).q
    df = fit.basis.q.shape[1] - small.shape[1]
    if not df:
        raise ModelError(f"the data cannot estimate {title}: the other terms already express all its columns")

    def one(q: Array, outcomes: Array, near: Array, promise: float) -> tuple[Refits, Array]:
        _, scaled, scale = projected(q, outcomes)
        found = refit(Replicates.of(q, scaled, fit.grouping), False, near, promise=promise)
        return found, found.at.criterion + 2 * len(outcomes) * np.log(scale)

    def compared(outcomes: Array, near: Array, promise: float) -> _Compared:
        null, below = one(small, outcomes, near, promise)
        full, above = one(fit.basis.q, outcomes, near, promise)
        return _Compared(null, below - above, null.converged & full.converged)

    return _test(fit, title, "ml", df, compared, replicates, seed)


@dataclass(frozen=True)
class _Compared:
    """Null models of S outcomes, their likelihood ratios against the full ones, and whether both converged."""

    null: Refits
    ratios: Array
    converged: NDArray[np.bool_]


def _test(
    fit: Fit,
    tested: str,
    method: str,
    df: int,
    compared: Callable[[Array, Array, float], _Compared],
    replicates: int,
    seed: int,
) -> LikelihoodRatioTest:
    """Compare the fit's own outcome, then outcomes simulated under its null model."""
    from scipy.special import chdtrc

    near = fit.optimum.at.variances[1:] / fit.optimum.at.variances[0]
    own = compared(fit.outcome[:, None] / fit.scale, near, LAST_PROMISE)
    if not own.converged[0]:
        raise ModelError(f"the model without {tested} could not be fitted: its search did not converge")
    statistic = max(float(own.ratios[0]), 0.0)
    drawn = [
        compared(errors, own.null.at.ratios[0], ROUGH_PROMISE)
        for errors in simulated(fit, own.null.variances[0], replicates, seed)
    ]
    good = np.concatenate([batch.converged for batch in drawn])
    check_converged(good)
    ratios = np.concatenate([batch.ratios for batch in drawn])[good]
    p = (1 + int((ratios >= statistic - TIE).sum())) / (1 + len(ratios))
    tail = float(chdtrc(df, statistic))
    if method == "reml":
        tail = tail / 2 if statistic > TIE else 1.0
    return LikelihoodRatioTest(
        tested=tested,
        method=method,
        statistic=statistic,
        df=df,
        p_chi_square=tail,
        p=p,
        monte_carlo_error=float(np.sqrt(p * (1 - p) / (1 + len(ratios)))),
        replicates=len(ratios),
        failed=int((~good).sum()),
        share_at_zero=float((ratios <= TIE).mean()),
        seed=seed,
    )


def _columns_without(fit: Fit, terms: list[str]) -> NDArray[np.bool_]:
    """Return which of the design's columns do not belong to terms.

    Raises
    ------
    ModelError
        When one is not in the model, or lies inside an interaction that stays.
    """
    design = fit.design
    for term in terms:
        if term not in design.terms:
            raise ModelError(f"no term '{term}' in the model{nearest(term, list(design.terms))}")
        for other in design.terms:
            if other not in terms and set(term.split(":")) < set(other.split(":")):
                raise ModelError(f"the term '{term}' is part of '{other}': leave that out as well")
    return ~np.isin(design.term_of, [design.terms.index(term) for term in terms])

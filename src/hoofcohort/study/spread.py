"""Whether residuals and predicted effects spread alike everywhere: described, not tested."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import compress
from typing import Any

import numpy as np
from numpy.typing import NDArray

from hoofcohort.models import Covariate, Factor, Fit, RandomEffects
from hoofcohort.privacy.joint import few
from hoofcohort.study.terms import Terms
from hoofcohort.tables.variables import title_of

Array = NDArray[np.floating]
FEWEST = 8
"""Fewest groups, of those compared, for a standard deviation; the project's own limit, no source."""


@dataclass(frozen=True)
class Owned:
    """Whose the readings are, and what of them cannot be published.

    Attributes
    ----------
    owners : sequence, shape (N,)
        Of each row used.
    fewest : int
        Owners that a published number must rest on.
    withheld : mapping of str to sequence of str
        As from ``few_owners.withheld_words``.
    """

    owners: Sequence[object]
    fewest: int = 1
    withheld: Mapping[str, Sequence[str]] = field(default_factory=dict)

    def few(self, rows: NDArray[np.bool_]) -> bool:
        """Tell whether rows belong to too few owners."""
        return few(list(compress(self.owners, rows)), self.fewest)


SHOWN = Owned(())
"""Nothing is withheld."""


def spreads(fit: Fit, effects: Mapping[str, RandomEffects], terms: Terms, owned: Owned = SHOWN) -> list[dict[str, Any]]:
    """Compare the spread of each level's groups between words of a variable, and along the fitted values.

    Residuals are taken as they are. Predicted effects are divided by the standard deviation that the model expects of
    the prediction, ``sqrt(variance - std_error^2)``: those of groups with few readings are shrunk more.

    Parameters
    ----------
    fit : Fit
    effects : mapping of str to RandomEffects
        With standard errors.
    terms : Terms
    owned : Owned

    Returns
    -------
    list of dict
        Per level, the residual first: ``level``, ``n``; ``fitted`` with the SD in the lowest and the highest third of
        the fitted values (means over the group), their ``ratio``, and the rank correlation of size with fitted value;
        and in ``variables``, per variable of words (for the residual all, for the others exposures), ``title``, whether
        it is an ``exposure``, the ``words`` with ``n`` and ``sd``, and the ``ratio``
        of the largest SD to the smallest. A group counts for a word that it has on more than half of its days or
        readings. None where fewer than eight groups could be compared, they belong to few owners, or the level does not
        vary; a word that is withheld is not compared.
    """
    return [_level(name, values, code, fit, terms, owned) for name, values, code in _values(fit, effects)]


def _values(fit: Fit, effects: Mapping[str, RandomEffects]) -> Iterator[tuple[str, Array, NDArray[np.int64]]]:
    yield "residual", fit.residuals, np.arange(len(fit.outcome))
    for name, own in effects.items():
        expected = fit.variances[name] - own.std_errors**2
        with np.errstate(divide="ignore", invalid="ignore"):
            scaled = own.values / np.sqrt(expected)
        yield name, np.where(expected > 1e-6 * fit.variances[name], scaled, np.nan), own.codes


def _level(level: str, values: Array, code: NDArray[np.int64], fit: Fit, terms: Terms, owned: Owned) -> dict[str, Any]:
    known = np.isfinite(values)
    record: dict[str, Any] = {"level": level, "n": int(known.sum()), "fitted": None, "variables": []}
    if known.sum() < FEWEST or np.ptp(values[known]) <= 1e-12 * np.abs(values[known]).max():
        return record
    record["fitted"] = _along(values[known], _group_means(fit.fixed_fitted, code)[known])
    if any(owned.few(rows) for rows in _thirds(_group_means(fit.fixed_fitted, code), known, code)):
        record["fitted"] = None
    for name, variable in terms.variables.items():
        exposure = name in terms.exposures
        if isinstance(variable, Covariate) or not (exposure or level == "residual"):
            continue
        if isinstance(variable, Factor):
            weights = np.eye(len(variable.values))[np.asarray(variable.codes)]
        else:
            weights = np.asarray(variable.matrix, float)
        shares = np.column_stack([_group_means(weights[:, k], code) for k in range(weights.shape[1])])[known]
        shown = [k for k, word in enumerate(variable.values) if word not in owned.withheld.get(name, ())]
        found = _between(values[known], shares[:, shown], [variable.values[k] for k in shown])
        if found is not None:
            record["variables"].append({"variable": name, "title": title_of(name), "exposure": exposure, **found})
    return record


def _group_means(values: Array, code: NDArray[np.int64]) -> Array:
    return np.bincount(code, weights=values) / np.bincount(code)


def _along(values: Array, fitted: Array) -> dict[str, float] | None:
    """Compare the outer thirds of the fitted values."""
    from scipy.stats import spearmanr

    low_end, high_end = _ends(fitted)
    if len(low_end) < FEWEST or np.ptp(fitted) <= 1e-9 * np.abs(fitted).max():
        return None
    low, high = _sd(values[low_end]), _sd(values[high_end])
    if min(low, high) <= 0:
        return None
    return {
        "sd_low": low, "sd_high": high, "ratio": high / low,
        "rank_correlation": float(spearmanr(np.abs(values), fitted).statistic),
    }  # fmt: skip


def _ends(fitted: Array) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return the places of the lowest and the highest third."""
    order = np.argsort(fitted, kind="stable")
    third = len(order) // 3
    return order[:third], order[len(order) - third :]


def _thirds(fitted: Array, known: NDArray[np.bool_], code: NDArray[np.int64]) -> Iterator[NDArray[np.bool_]]:
    """Yield the rows of the outer thirds' groups."""
    for end in _ends(fitted[known]):
        yield np.isin(code, np.flatnonzero(known)[end])


def _between(values: Array, shares: Array, words: Sequence[str]) -> dict[str, Any] | None:
    """Compare the words that hold for more than half."""
    rows: list[dict[str, Any]] = []
    for word, share in zip(words, shares.T, strict=True):
        own = values[share > 0.5]
        if len(own) >= FEWEST:
            rows.append({"word": word, "n": len(own), "sd": _sd(own)})
    sizes = [row["sd"] for row in rows]
    if len(rows) < 2 or min(sizes) <= 0:
        return None
    return {"words": rows, "ratio": max(sizes) / min(sizes)}


def _sd(values: Array) -> float:
    """Return the root of the mean square: the model's mean of these values is zero."""
    return float(np.sqrt((values**2).mean()))

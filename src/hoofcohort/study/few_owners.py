"""Words of an outcome's variables of which few owners' horses would be told: decided once, for every text and table."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import compress

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from hoofcohort.models import Covariate, Factor, Shares
from hoofcohort.privacy.joint import Mask, withhold
from hoofcohort.study.terms import Terms

GROUPS: tuple[tuple[str, ...], ...] = (
    ("yard_id",),
    ("horse_id",),
    ("horse_id", "foot"),
    ("horse_id", "visit_date"),
)
"""Groups of readings whose predicted effects are compared between words."""


def withheld_words(frame: pd.DataFrame, terms: Terms, fewest: int) -> dict[str, tuple[str, ...]]:
    """Return, per variable of words, those of which no number of horses or readings can be published.

    Parameters
    ----------
    frame : DataFrame
        The analysis table: the rows used, with ``owner_id``.
    terms : Terms
    fewest : int
        Owners that a published number must rest on.

    Returns
    -------
    dict of str to tuple of str
        In the variable's order of words. A word goes that is withheld in any way of counting: its readings; for
        exposures the yards, horses, feet and visits that have it on more than half of their days, the horses that have
        it most, and those that have it at all. Each way looks at all variables together.
    """
    shares = {name: _shares(own) for name, own in terms.variables.items() if not isinstance(own, Covariate)}
    owners = frame["owner_id"].tolist()
    gone = {name: np.zeros(own.shape[1], dtype=bool) for name, own in shares.items()}
    for masks, overlap in _ways(frame, shares, terms):
        for name, out in withhold(masks, owners, fewest, overlap=overlap).items():
            gone[name] |= np.array(out, dtype=bool)
    return {
        name: tuple(compress(own.values, gone[name]))
        for name, own in terms.variables.items()
        if not isinstance(own, Covariate)
    }


def _shares(variable: Factor | Shares) -> NDArray[np.floating]:
    """Return the share of each word in each row's days, shape (N, words); of a word that holds or not, one or none."""
    if isinstance(variable, Factor):
        return np.eye(len(variable.values))[np.asarray(variable.codes)]
    return np.asarray(variable.matrix, float)


def _ways(
    frame: pd.DataFrame, shares: dict[str, NDArray[np.floating]], terms: Terms
) -> Iterator[tuple[dict[str, list[Mask]], bool]]:
    """Yield each way of counting: the rows behind every word of every variable, and whether words may share rows."""
    yield {name: list((own > 0.5).T) for name, own in shares.items()}, False
    exposures = {name: own for name, own in shares.items() if name in terms.exposures}
    for keys in GROUPS:
        code = frame.groupby(list(keys), sort=False).ngroup().to_numpy()
        means = {name: pd.DataFrame(own).groupby(code).transform("mean").to_numpy() for name, own in exposures.items()}
        yield {name: list((own > 0.5).T) for name, own in means.items()}, False
        if keys == ("horse_id",):
            most = {name: own.argmax(axis=1) for name, own in means.items()}
            yield {name: [most[name] == place for place in range(own.shape[1])] for name, own in means.items()}, False
            yield {name: list((own > 0).T) for name, own in means.items()}, True

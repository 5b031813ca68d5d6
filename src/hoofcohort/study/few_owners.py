"""Words of an outcome's variables of which few owners' horses would be told: decided once, for every text and table."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import compress

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from hoofcohort.models import Covariate, Factor
from hoofcohort.privacy.joint import Mask, withhold
from hoofcohort.study.spread import FEWEST
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
        exposures the yards, horses, feet and visits that have it on more than half of their days, where they are
        enough to be compared, and the horses that have it most. Each way looks at all variables together.
    """
    shares = _shares(terms)
    gone = {name: np.zeros(own.shape[1], dtype=bool) for name, own in shares.items()}
    for masks in _ways(frame, shares, terms):
        for name, out in withhold(masks, frame["owner_id"].tolist(), fewest).items():
            gone[name] |= np.array(out, dtype=bool)
    return _chosen(terms, gone)


def withheld_any_day(frame: pd.DataFrame, terms: Terms, fewest: int) -> dict[str, tuple[str, ...]]:
    """Return, per exposure of words, those of which the number of horses with any day on it cannot be published.

    Such horses stand under several words: with the whole, their numbers tell how many have two.
    """
    shares = {name: own for name, own in _shares(terms).items() if name in terms.exposures}
    horse = frame["horse_id"].to_numpy()
    sets = {
        name: list((pd.DataFrame(own).groupby(horse).transform("max").to_numpy() > 0).T) for name, own in shares.items()
    }
    found = withhold(sets, frame["owner_id"].tolist(), fewest, overlap=True)
    return _chosen(terms, {name: np.array(out, dtype=bool) for name, out in found.items()})


def _chosen(terms: Terms, gone: Mapping[str, Mask]) -> dict[str, tuple[str, ...]]:
    return {
        name: tuple(compress(own.values, gone[name]))
        for name, own in terms.variables.items()
        if name in gone and not isinstance(own, Covariate)
    }


def _shares(terms: Terms) -> dict[str, NDArray[np.floating]]:
    """Return the share of each word in each row's days, shape (N, words); of a word that holds or not, one or none."""
    found: dict[str, NDArray[np.floating]] = {}
    for name, own in terms.variables.items():
        if isinstance(own, Factor):
            found[name] = np.eye(len(own.values))[np.asarray(own.codes)]
        elif not isinstance(own, Covariate):
            found[name] = np.asarray(own.matrix, float)
    return found


def _ways(
    frame: pd.DataFrame, shares: dict[str, NDArray[np.floating]], terms: Terms
) -> Iterator[dict[str, list[Mask]]]:
    """Yield each way of counting: the rows behind every word of every variable."""
    yield {name: list((own > 0.5).T) for name, own in shares.items()}
    exposures = {name: own for name, own in shares.items() if name in terms.exposures}
    for keys in GROUPS:
        code = frame.groupby(list(keys), sort=False).ngroup().to_numpy()
        means = {name: pd.DataFrame(own).groupby(code).transform("mean").to_numpy() for name, own in exposures.items()}
        yield {
            name: [mask if len(np.unique(code[mask])) >= FEWEST else np.zeros_like(mask) for mask in (own > 0.5).T]
            for name, own in means.items()
        }
        if keys == ("horse_id",):
            most = {name: own.argmax(axis=1) for name, own in means.items()}
            yield {name: [most[name] == place for place in range(own.shape[1])] for name, own in means.items()}

"""Refits of many outcomes without one of the groupings: the null model of a test of its variance."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from hoofcohort.models.grouping import Codes, Grouping
from hoofcohort.models.profiled import profiled
from hoofcohort.models.refits import LAST_PROMISE, Refits, refit
from hoofcohort.models.replicates import Replicates

Array = NDArray[np.floating]


def refit_without(
    replicates: Replicates,
    columns: Array,
    outcomes: Array,
    grouping: Grouping,
    position: int,
    near: Array,
    promise: float = LAST_PROMISE,
) -> Refits:
    """Refit outcomes by restricted maximum likelihood with the variance of one grouping at zero.

    Parameters
    ----------
    replicates : Replicates
        Of the columns, outcomes and grouping that follow.
    columns, outcomes : arrays, shapes (n, p), (n, S)
    grouping : Grouping
    position : int
        Of the grouping whose variance is zero.
    near : array, shape (R,)
        Ratios near which most minima are expected.
    promise : float
        As for :func:`hoofcohort.models.refits.refit`.

    Returns
    -------
    Refits
        With the derivatives in all ratios, that of the variance at zero among them.
    """
    if len(grouping.names) == 1:
        ratios = np.zeros((len(replicates), 1))
        at = profiled(replicates.sweep(ratios[:1]), ratios, replicates.rows, restricted=True)
        return Refits(at, np.ones(len(ratios), bool), np.zeros(len(ratios), np.int64))
    if position in grouping.hosts[grouping.nested :]:
        held = np.arange(len(near)) == position
        return refit(replicates, True, near, held, promise=promise)
    smaller = Replicates.of(columns, outcomes, without(grouping, position))
    found = refit(smaller, True, np.delete(near, position), promise=promise)
    ratios = np.insert(found.at.ratios, position, 0.0, axis=1)
    return replace(found, at=profiled(replicates.sweep(ratios), ratios, replicates.rows, restricted=True))


def without(grouping: Grouping, position: int) -> Grouping:
    """Return the groupings without one; what lies in its groups then lies in the level around it.

    Not for a level inside which others cross.
    """
    around = grouping.hosts[position]
    kept = [k for k in range(len(grouping.names)) if k != position]
    hosts = [around if grouping.hosts[k] == position else grouping.hosts[k] for k in kept]

    def parents_of(k: int) -> Codes:
        if grouping.hosts[k] != position:
            return grouping.parents[k]
        return grouping.parents[position][grouping.parents[k]]

    return Grouping(
        names=tuple(grouping.names[k] for k in kept),
        codes=tuple(grouping.codes[k] for k in kept),
        parents=tuple(parents_of(k) for k in kept),
        hosts=tuple(host - (host > position) for host in hosts),
        labels=tuple(grouping.labels[k] for k in kept),
        nested=grouping.nested - (position < grouping.nested),
        crossed=grouping.crossed - (position >= len(grouping.names) - grouping.crossed),
    )

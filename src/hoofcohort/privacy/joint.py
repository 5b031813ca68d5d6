"""Numbers over sets that overlap: withhold as many that no combination of the others tells of few owners.

A table by diet and one by terrain part the same horses twice. What is published of a set, a count or a mean with its
count, is a sum over its members; whoever adds and subtracts such sums gets the sum over some combination of members.
Nothing is told of few owners exactly when no combination other than zero rests on members of fewer than that.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from hoofcohort.privacy.owners import folded, owners_of
from hoofcohort.privacy.small_numbers import suppress

Mask = NDArray[np.bool_]
Floats = NDArray[np.floating]
NEARLY = 1e-9
"""Part of a combination that may rest on others and still be rounding."""


def withhold(
    partings: Mapping[str, Sequence[Mask]],
    owners: Sequence[object],
    fewest: int,
    *,
    overlap: bool = False,
    fixed: Sequence[Mask] = (),
) -> dict[str, list[bool]]:
    """Tell which sets to withhold of several partings of the same members, all published with the whole.

    Parameters
    ----------
    partings : mapping of str to sequence of boolean arrays, shape (N,)
        The sets of each parting, members true; those in no set are what is left of the whole.
    owners : sequence, shape (N,)
        Of each member; members without one count together as one owner's.
    fewest : int
        Owners that a published number must rest on.
    overlap : bool
        Whether sets of one parting may overlap, so that they do not add up.
    fixed : sequence of boolean arrays, shape (N,)
        Sets that are published in any case, as the whole is.

    Returns
    -------
    dict of str to list of bool
        Within each parting as ``suppress`` asks; then as many more, the smallest first, that no sum of what is shown
        and the whole, each any number of times, rests on 1 to ``fewest`` - 1 owners. A set without members stays.
    """
    code = _codes(owners)
    out = {name: [False] * len(sets) if overlap else _alone(sets, code, fewest) for name, sets in partings.items()}
    whole, first = np.ones(len(code), dtype=bool), 1 + len(fixed)
    while True:
        shown = [
            (name, place)
            for name, sets in partings.items()
            for place, mask in enumerate(sets)
            if mask.any() and not out[name][place]
        ]
        if not shown:
            return out
        masks = np.array([whole, *fixed, *(partings[name][place] for name, place in shown)])
        told = telling(masks, code, fewest)
        if told is None:
            return out
        # Sets are best spared that are large, and of partings of which all is shown as yet.
        order = sorted(range(len(shown)), key=lambda at: (any(out[shown[at][0]]), -masks[first + at].sum(), at))
        name, place = shown[_needed(masks, told, [first + at for at in order]) - first]
        out[name][place] = True


def _codes(owners: Sequence[object]) -> NDArray[np.int64]:
    """Number the owners, spellings of one alike, none known as one."""
    number: dict[Hashable, int] = {}
    keys = [folded(own) if isinstance(own, str) and own.strip() else None for own in owners]
    return np.array([number.setdefault(key, len(number)) for key in keys], dtype=np.int64)


def _alone(sets: Sequence[Mask], code: NDArray[np.int64], fewest: int) -> list[bool]:
    """Tell what one parting must withhold by itself."""
    rest = ~np.any(list(sets), axis=0) if sets else np.ones(len(code), dtype=bool)
    masks = [*sets, rest]
    owning = [frozenset(code[mask].tolist()) for mask in masks]
    out, whole = suppress([int(mask.sum()) for mask in masks], owning, fewest)
    return [bool(mask.any()) for mask in sets] if whole else out[:-1]


def telling(masks: Mask, code: NDArray[np.int64], fewest: int) -> Floats | None:
    """Return how often each member counts in a combination of sets that tells of few owners; None without one.

    Parameters
    ----------
    masks : array of bool, shape (K, N)
        The sets.
    code : array of int, shape (N,)
        The members' owners.
    fewest : int
    """
    kinds, inverse = np.unique(np.vstack([code, masks]).T, axis=0, return_inverse=True)
    matrix = kinds[:, 1:].T.astype(float)
    size, axes = np.linalg.eigh(matrix @ matrix.T)
    kept = size > 1e-9 * max(size.max(initial=0.0), 1.0)
    spread = (axes[:, kept] / np.sqrt(size[kept])).T @ matrix
    own = kinds[:, 0]
    parts = [spread[:, own == one] @ spread[:, own == one].T for one in np.unique(own)]
    found = next(_few(parts, fewest - 1), None)
    return None if found is None else (found @ spread)[inverse.ravel()]


def _few(parts: Sequence[Floats], most: int) -> Iterator[Floats]:
    """Yield combinations that rest wholly on at most so many owners; each owner's part adds up to one over all."""
    top = np.array([np.linalg.eigvalsh(part)[-1] for part in parts])
    order = np.argsort(-top, kind="stable")

    def search(start: int, held: Floats, left: int) -> Iterator[Floats]:
        for place in range(start, len(order)):
            reach = float(np.linalg.eigvalsh(held)[-1]) + top[order[place : place + left]].sum()
            if reach < 1 - NEARLY:
                return
            together = held + parts[order[place]]
            size, axes = np.linalg.eigh(together)
            if size[-1] >= 1 - NEARLY:
                yield axes[:, -1]
            elif left > 1:
                yield from search(place + 1, together, left - 1)

    if most > 0 and len(parts) and len(parts[0]):
        yield from search(0, np.zeros_like(parts[0]), most)


def _needed(masks: Mask, told: Floats, order: Sequence[int]) -> int:
    """Return the last set of the order without which the others left cannot be combined to what was told."""
    left = list(range(len(masks)))
    for at in order:
        fewer = [other for other in left if other != at]
        if _reached(masks[fewer].astype(float), told):
            left = fewer
    wanted = [at for at in order if at in left]
    return wanted[-1] if wanted else order[-1]


def _reached(rows: Floats, told: Floats) -> bool:
    found = np.linalg.lstsq(rows.T, told, rcond=None)[0]
    return bool(np.abs(found @ rows - told).max() <= 1e-7 * np.abs(told).max())


def few(owners: Sequence[object], fewest: int) -> bool:
    """Tell whether there are members, and their owners are fewer than a published number must rest on."""
    return 0 < len(owners_of(owners)) < fewest

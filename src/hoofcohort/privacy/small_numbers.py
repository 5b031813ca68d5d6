"""Counts that rest on few owners are withheld, and enough others that none can be had back by subtraction."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from collections.abc import Set as AbstractSet

Owners = Sequence[AbstractSet[Hashable]]
Arc = tuple[int, int]

WITHHELD = "withheld"
"""What stands in a table in place of a number."""


def withheld_note(fewest: int) -> str:
    """Return the sentence that stands below a table in which numbers may be withheld."""
    return (
        f"Withheld: a number that rests on fewer than {fewest} owners, or from which such a number could be worked out."
    )


def suppress(counts: Sequence[int], owners: Owners, fewest: int) -> tuple[list[bool], bool]:
    """Tell what to withhold of a row of counts that is published with its sum.

    Parameters
    ----------
    counts : sequence of int
        Cells that part the whole between them: horses, or what is counted of them. Zero or more.
    owners : sequence of sets
        The owners each cell rests on; empty only where the count is zero.
    fewest : int
        Owners that a published number must rest on.

    Returns
    -------
    list of bool
        A cell of 1 to ``fewest`` - 1 owners is withheld. What is withheld rests together on ``fewest`` owners at least,
        and no such cell can be worked out from the others and the sum, even by one who knows that nothing withheld is
        zero. A cell of no owner says nothing and stays.
    bool
        Whether the sum must be withheld too: where it rests on few owners itself, or nothing less is enough.
    """
    *cells, whole = _withhold(
        [*([(0, 1)] * len(counts)), (1, 0)],
        [*counts, sum(counts)],
        [*owners, frozenset().union(*owners)],
        fewest,
    )
    return cells, whole


def _withhold(arcs: Sequence[Arc], counts: Sequence[int], owners: Owners, fewest: int) -> list[bool]:
    """Withhold the small numbers, then the one that costs least, until none of them can be worked out.

    ``arcs`` gives for each number what it is a sum of and what it is part of: whatever goes into a node comes out of
    it. What could be worked out anyway and is not small is shown in the end.
    """
    withheld = [0 < len(own) < fewest for own in owners]
    while True:
        known = [out and is_determined(at, arcs, counts, withheld) for at, out in enumerate(withheld)]
        line = _open_line(arcs, owners, withheld, known, fewest)
        more = [at for at, out in enumerate(withheld) if not out and counts[at]]
        if not line or not more:
            return [
                out and (not told or len(own) < fewest) for out, told, own in zip(withheld, known, owners, strict=True)
            ]
        near = [at for at in more if line & set(arcs[at])]
        withheld[min(near or more, key=lambda at: (counts[at], at))] = True


def _open_line(
    arcs: Sequence[Arc], owners: Owners, withheld: Sequence[bool], known: Sequence[bool], fewest: int
) -> set[int]:
    """Return the nodes at which a small number shows, alone or with others; empty when none does."""
    for arc, own, told in zip(arcs, owners, known, strict=True):
        if told and len(own) < fewest:
            return set(arc)
    rows = [(arc, own) for arc, own, out, told in zip(arcs, owners, withheld, known, strict=True) if out and not told]
    for line in sorted({node for arc, _ in rows for node in arc}):
        here = [(arc, own) for arc, own in rows if line in arc]
        one_way = len({arc.index(line) for arc, _ in here}) == 1
        if one_way and len(frozenset().union(*(own for _, own in here))) < fewest:
            return {line}
    return set()


def is_determined(place: int, arcs: Sequence[Arc], counts: Sequence[int], withheld: Sequence[bool]) -> bool:
    """Tell whether a withheld number can have one value only, whatever is withheld being 1 or more.

    Raising it by one must be made good by a chain of other withheld numbers, each raised or lowered in turn; lowering
    it likewise. Cells and sums form a network, where whole numbers can move whenever any can.
    """
    first, last = arcs[place]
    others = [other for other, out in enumerate(withheld) if out and other != place]
    along, left = [arcs[other] for other in others], [counts[other] for other in others]
    return not (_chain(last, first, along, left) or (counts[place] > 1 and _chain(first, last, along, left)))


def _chain(start: int, goal: int, arcs: Sequence[Arc], counts: Sequence[int]) -> bool:
    """Tell whether one can go from a node to another: along a number, which rises, or against it, which falls."""
    steps: dict[int, list[int]] = {}
    for (tail, head), count in zip(arcs, counts, strict=True):
        steps.setdefault(tail, []).append(head)
        if count > 1:
            steps.setdefault(head, []).append(tail)
    seen, waiting = {start}, [start]
    while waiting:
        found = [following for following in steps.get(waiting.pop(), []) if following not in seen]
        seen.update(found)
        waiting += found
    return goal in seen

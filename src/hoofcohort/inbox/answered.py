"""Which rows that came back, and of which it is not known what they are about, a later file seems to correct.

Such a row has no key that a later one could share. A later row that is new under the file's name is taken for its
correction when nothing that can be read of the key is another, and more than half of the other cells are the same. A
row without one is still asked for: nothing that was sent is lost in silence.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Row:
    """A row's filled cells by our columns, of its key those that can be read."""

    key: dict[str, str]
    others: dict[str, str]


def answered(asked: Sequence[Row], new: Sequence[Row]) -> set[int]:
    """Return the places of the rows asked for that a new row corrects; each new row corrects one, the most alike."""
    taken: set[int] = set()
    found = set()
    for place, row in enumerate(asked):
        scores = {one: _alike(row, other) for one, other in enumerate(new) if one not in taken}
        best = max(scores, key=lambda one: (scores[one], -one), default=None)
        if best is not None and scores[best] > 0.5:
            taken.add(best)
            found.add(place)
    return found


def answered_ragged(asked: Sequence[Sequence[str]], new: Sequence[Collection[str]]) -> set[int]:
    """Return the places of the ragged rows asked for that a new row, ragged or not, shares most cells with.

    Most are three at least, and more than two in three: two visits of one foot share the horse, the observer and more.
    """
    taken: set[int] = set()
    found = set()
    sets = [Counter(_plain(new_row)) for new_row in new]
    for place, cells in enumerate(asked):
        held = Counter(_plain(cells))
        scores = {one: (held & other).total() for one, other in enumerate(sets) if one not in taken}
        best = max(scores, key=lambda one: (scores[one], -one), default=None)
        if best is not None and 3 * scores[best] > 2 * held.total() and scores[best] >= 3:
            taken.add(best)
            found.add(place)
    return found


def _alike(row: Row, other: Row) -> float:
    """Return the share of the cells of a row that another has too, of the key for want of others; 0 when it differs."""
    if any(other.key.get(name, cell) != cell for name, cell in row.key.items()):
        return 0.0
    cells, held = (row.others, other.others) if row.others else (row.key, other.key)
    return sum(held.get(name) == cell for name, cell in cells.items()) / max(len(cells), 1)


def _plain(cells: Iterable[str]) -> list[str]:
    """Return filled cells, numbers however they were written alike: ``50,50`` as ``50.5``."""
    told = []
    for cell in cells:
        text = cell.strip().casefold()
        try:
            told.append(f"{float(text.replace(',', '.')):g}")
        except ValueError:
            told.append(text)
    return [text for text in told if text]

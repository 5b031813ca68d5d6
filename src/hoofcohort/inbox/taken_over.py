"""Which files that could not be used a later one takes the place of."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import PurePath

from hoofcohort.inbox.names import round_order, same_name
from hoofcohort.inbox.part import Part


def take_over(parts: Sequence[Part]) -> None:
    """Ask no more about what could not be used when a later round holds the sheet, or a file of its name, again.

    What holds fewer rows does not count: the others would be lost.
    """
    for part in parts:
        for other in parts if part.refused else ():
            if same_name(other.member) == same_name(part.member) and _follows(other, part):
                part.taken_over = other.round
                part.understood += (f"could not be used: {part.refused}; the file of {other.round} takes its place",)
                break


def _follows(later: Part, part: Part) -> bool:
    """Tell whether a later part is the same sheet again, or of a file that could not be read one that could."""
    rows, asked = (one.rows_read - len(one.aside) for one in (later, part))
    if round_order(later.round) <= round_order(part.round) or (not later.refused and rows < max(asked, 1)):
        return False
    if same_name(later.file) == same_name(part.file):
        return (later.sheet == part.sheet and rows >= asked) or (not later.refused and "" in (later.sheet, part.sheet))
    stems = [same_name(PurePath(one.file).stem) for one in (later, part)]
    return not later.refused and not part.rows_read and stems[0] == stems[1]

"""Cells that rest on few animals: found, refused, or their animals left out.

A cell is what a statistics file sums: the animals with one pattern of groups (so many feet, seen on so many visits), in
one group of the level above where there is one. A sum over one animal would be that animal's own; and so is what sums
over many can be combined into (``models/cell_check.py``).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from hoofcohort.errors import InputError
from hoofcohort.models.cell_check import Isolated, block_labels
from hoofcohort.models.grouping import Grouping
from hoofcohort.models.portable import Key, PortableStatistics, key_of, trimmed
from hoofcohort.models.row_groups import group_rows
from hoofcohort.models.specification import Specification
from hoofcohort.models.statistics import Layout

if TYPE_CHECKING:
    import pandas as pd


def refuse_small_cells(portable: PortableStatistics) -> None:
    """Refuse statistics of which a cell, or a word, rests on fewer animals than their minimum.

    Raises
    ------
    InputError
        With how many cells, of how many animals, and the remedies.
    """
    counted = portable.counted()
    few = counted < portable.minimum
    specification = portable.specification
    animal, least = specification.animal, portable.minimum
    if few.any():
        above = specification.levels[: specification.block_level]
        within = f" within one {above[-1]}" if above else ""
        drop = f"leave the level '{above[-1]}' out; " if above else ""
        what = f"{specification.blocks}s with the same pattern of groups{within}"
        raise InputError(
            f"{int(few.sum())} of {len(few)} cells ({what}) rest on fewer than {least} {animal}s, "
            f"{int(counted[few].sum())} of {portable.animals} in all, and would give away what single {animal}s are "
            f"like; {drop}leave these {animal}s out, which is counted (--leave-out-small-cells); or agree on a lower "
            "--minimum with those who will see the file"
        )
    rare = [f"{name} ({count})" for name, count in portable.words.items() if 0 < count < least]
    if rare:
        raise InputError(
            f"fewer than {least} {animal}s have {', '.join(rare)}; pool words in the table, leave the term or those "
            "rows out, or agree on a lower --minimum with those who will see the file"
        )


def refuse_isolated(isolated: list[Isolated], portable: PortableStatistics) -> None:
    """Refuse statistics from which sums of fewer animals than their minimum could be worked out.

    Raises
    ------
    InputError
        With where, of how many animals, by which columns, and the remedies.
    """
    if not isolated:
        return
    first, animal = isolated[0], portable.specification.animal
    few = f"{len(first.labels)} {animal}{'s' if len(first.labels) > 1 else ''}"
    what = (
        f"the sums of {', '.join(first.columns)} can be combined into those of {few} alone, fewer than "
        f"{portable.minimum}"
        if first.sure
        else f"too many combinations of {', '.join(first.columns)} would have to be looked at to rule out that one of "
        f"them rests on fewer than {portable.minimum} {animal}s"
    )
    raise InputError(
        f"{first.where} ({first.of} of them): {what}"
        f"{f'; and {len(isolated) - 1} cases more' if len(isolated) > 1 else ''}. Pool words of these columns in the "
        f"table or leave the term out; leave such {animal}s out, which is counted (--leave-out-small-cells); or agree "
        "on a lower --minimum with those who will see the file"
    )


def without_small_cells(
    rows: pd.DataFrame, specification: Specification, minimum: int, small: set[Key], alone: set[np.uint64]
) -> tuple[pd.DataFrame, int]:
    """Take out the blocks of small cells, and those whose own sums could be worked out.

    Parameters
    ----------
    rows : DataFrame
        Of whole outermost groups.
    specification : Specification
    minimum : int
    small : set of keys
        The patterns to leave out where no level lies above the blocks.
    alone : set of uint64
        The blocks to leave out, by their labels.

    Returns
    -------
    DataFrame
    int
        Animals left out.
    """
    grouping = group_rows(rows, specification)
    level = specification.block_level
    cut = Layout.of(grouping, level)
    out = np.isin(block_labels(rows, specification, cut), np.array(sorted(alone), np.uint64))
    if level:
        out |= _few_within(grouping, cut, specification, minimum, out)
    else:
        out |= np.array([key in small for key in _keys(cut)], bool)[cut.pattern]
    gone = out[cut.block]
    animals = grouping.codes[specification.levels.index(specification.animal)]
    return rows[~gone], len(np.unique(animals[gone]))


def _few_within(
    grouping: Grouping, cut: Layout, specification: Specification, minimum: int, out: NDArray[np.bool_]
) -> NDArray[np.bool_]:
    """Tell for each block whether fewer animals than the minimum, less those out, share its pattern and group above."""
    level = specification.block_level
    if specification.levels.index(specification.animal) < level:
        return np.full(len(cut.pattern), minimum > 1)
    cell = grouping.parents[level] * len(cut.patterns) + cut.pattern
    _, own = np.unique(cell, return_inverse=True)
    return np.bincount(own, ~out)[own] < minimum


def _keys(cut: Layout) -> list[Key]:
    return [key_of(used, counts) for used, _, counts in trimmed(cut.patterns, cut.slots)]

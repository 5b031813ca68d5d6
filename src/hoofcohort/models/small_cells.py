"""Cells that rest on few animals: found, refused, or their animals left out.

A cell is what a statistics file sums: the animals with one pattern of groups (so many feet, seen on so many visits), in
one group of the level above where there is one. A sum over one animal would be that animal's own.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from hoofcohort.errors import InputError
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


def rare_patterns(groups: Iterable[pd.DataFrame], specification: Specification, minimum: int) -> frozenset[Key]:
    """Return the patterns of fewer blocks than a minimum; none where a level lies above the blocks.

    There the cells are looked at within its groups, each of which comes whole.
    """
    if specification.block_level:
        return frozenset()
    found: Counter[Key] = Counter()
    for rows in groups:
        cut = Layout.of(group_rows(rows, specification), 0)
        for key, blocks in zip(_keys(cut), cut.multiplicity, strict=True):
            found[key] += int(blocks)
    return frozenset(key for key, blocks in found.items() if blocks < minimum)


def without_small_cells(
    rows: pd.DataFrame, specification: Specification, minimum: int, small: frozenset[Key]
) -> tuple[pd.DataFrame, int]:
    """Take out the blocks of small cells.

    Parameters
    ----------
    rows : DataFrame
        Of whole outermost groups.
    specification : Specification
    minimum : int
    small : set of keys
        The patterns to leave out where no level lies above the blocks.

    Returns
    -------
    DataFrame
    int
        Animals left out.
    """
    grouping = group_rows(rows, specification)
    level = specification.block_level
    cut = Layout.of(grouping, level)
    if level:
        out = _few_within(grouping, cut, specification, minimum)
    else:
        out = np.array([key in small for key in _keys(cut)], bool)[cut.pattern]
    gone = out[cut.block]
    animals = grouping.codes[specification.levels.index(specification.animal)]
    return rows[~gone], len(np.unique(animals[gone]))


def _few_within(grouping: Grouping, cut: Layout, specification: Specification, minimum: int) -> NDArray[np.bool_]:
    """Tell for every block whether fewer animals than the minimum share its pattern in the group above it."""
    level = specification.block_level
    if specification.levels.index(specification.animal) < level:
        return np.full(len(cut.pattern), minimum > 1)
    cell = grouping.parents[level] * len(cut.patterns) + cut.pattern
    _, own, count = np.unique(cell, return_inverse=True, return_counts=True)
    return count[own.reshape(-1)] < minimum


def _keys(cut: Layout) -> list[Key]:
    return [key_of(used, counts) for used, _, counts in trimmed(cut.patterns, cut.slots)]

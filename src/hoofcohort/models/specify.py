"""Find out from a table what its statistics would be about."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from hoofcohort.errors import ModelError
from hoofcohort.models.coding import Coding, finite_numbers
from hoofcohort.models.grouping import RESIDUAL
from hoofcohort.models.row_groups import group_rows
from hoofcohort.models.specification import Specification
from hoofcohort.models.statistics import block_level_of

if TYPE_CHECKING:
    import pandas as pd

Array = NDArray[np.floating]


def specify(
    rows: pd.DataFrame,
    outcome: str,
    terms: Sequence[str],
    codings: Sequence[Coding],
    levels: Mapping[str, tuple[str, ...]],
    also: Mapping[str, tuple[str, ...]] | None = None,
    intercept: bool = True,
    animal: str | None = None,
) -> Specification:
    """Return a specification, with the blocks and the centre that suit some rows.

    Parameters
    ----------
    rows : DataFrame
        Some or all rows, none of them with a missing value.
    outcome : str
    terms : sequence of str
    codings : sequence of Coding
    levels, also : dict of str to tuple of str
        Groupings and the columns that tell their groups apart.
    intercept : bool
    animal : str, optional
        The level to count; ``horse`` where there is one, else the outermost. The blocks' level where the animals lie
        inside them, since whole blocks are summed.

    Raises
    ------
    ModelError
        For groupings or an animal that cannot be.
    """
    also = also or {}
    _check_groupings(levels, also)
    animal = animal or ("horse" if "horse" in levels else next(iter(levels)))
    if animal not in levels:
        raise ModelError(f"the animals cannot be counted by '{animal}': it is not among the levels {', '.join(levels)}")
    labels = dict(levels) | {name.split(":", 1)[1]: columns for name, columns in also.items()}
    rough = Specification(
        outcome, tuple(terms), intercept, tuple(codings), tuple(levels), tuple(also), labels, next(iter(levels)),
        animal, (),
    )  # fmt: skip
    level = block_level_of(group_rows(rows, rough))
    design = rough.design(rows)
    columns = np.column_stack([design.matrix, finite_numbers(rows[outcome])])
    centre = centre_of(columns) if intercept else np.zeros(columns.shape[1])
    counted = rough.levels[min(level, rough.levels.index(animal))]
    return replace(rough, blocks=rough.levels[level], animal=counted, centre=tuple(centre.tolist()))


def centre_of(columns: Array) -> Array:
    """Return the mean of every column, rounded to the power of ten below its standard deviation; 0 for a constant."""
    mean, spread = columns.mean(axis=0), columns.std(axis=0)
    varies = spread > 1e-12 * np.abs(mean)
    step = 10.0 ** np.floor(np.log10(spread, out=np.zeros_like(spread), where=varies))
    return np.where(varies, np.rint(mean / step) * step, 0.0)


def _check_groupings(levels: Mapping[str, tuple[str, ...]], also: Mapping[str, tuple[str, ...]]) -> None:
    if not levels:
        raise ModelError("no levels: give at least one grouping, for instance the horse")
    for name in [*levels, *also]:
        if name.split(":")[0] == RESIDUAL:
            raise ModelError(f"a level cannot be named '{RESIDUAL}': that is the name of what the levels leave over")
    for name, columns in also.items():
        host, _, inner = name.partition(":")
        if host not in levels or not inner:
            raise ModelError(
                f"the further grouping '{name}' must be written LEVEL:COLUMN with one of the levels "
                f"({', '.join(levels)}) before the colon"
            )
        if levels.get(inner, columns) != columns:
            raise ModelError(f"'{inner}' stands for other columns as a level than in '{name}'; rename one of them")

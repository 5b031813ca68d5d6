"""Make portable statistics in one pass over chunks of rows, in memory that does not grow with their number."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from hoofcohort.errors import InputError
from hoofcohort.models.cell_check import INSIDE, CellCheck
from hoofcohort.models.coding import finite_numbers
from hoofcohort.models.design import Covariate, Design, Factor, average, overparametrised
from hoofcohort.models.gathering import Gathering
from hoofcohort.models.grouping import Codes
from hoofcohort.models.portable import Key, PortableStatistics, cells_of
from hoofcohort.models.row_groups import group_rows
from hoofcohort.models.small_cells import refuse_isolated, refuse_small_cells, without_small_cells
from hoofcohort.models.specification import Specification
from hoofcohort.models.statistics import sufficient_statistics

if TYPE_CHECKING:
    import pandas as pd

Array = NDArray[np.floating]


def whole_groups(chunks: Iterable[pd.DataFrame], columns: tuple[str, ...]) -> Iterator[pd.DataFrame]:
    """Cut chunks of rows anew, so that no outermost group is in two of them.

    Parameters
    ----------
    chunks : iterable of DataFrame
    columns : tuple of str
        Whose values together tell the outermost groups apart.

    Raises
    ------
    InputError
        When a group comes again after another one, or a column changes its type, so that one could not be told to
        come again.
    """
    import pandas as pd

    rest: pd.DataFrame | None = None
    seen = np.zeros(0, np.uint64)
    for chunk in chunks:
        if chunk.empty:
            continue
        if rest is not None:
            _same_types(rest, chunk, columns)
        rows = chunk if rest is None else pd.concat([rest, chunk], ignore_index=True)
        label = _hashed(rows, columns)
        starts = np.flatnonzero(np.append(True, label[1:] != label[:-1]))
        seen = _new(label[starts[:-1]], seen, rows, starts, columns)
        rest = rows.iloc[starts[-1] :]
        if starts[-1]:
            yield rows.iloc[: starts[-1]]
    if rest is not None and len(rest):
        _new(_hashed(rest.iloc[:1], columns), seen, rest, np.zeros(2, np.int64), columns)
        yield rest


def of_part(groups: Iterable[pd.DataFrame], columns: tuple[str, ...], part: tuple[int, int]) -> Iterator[pd.DataFrame]:
    """Yield of whole outermost groups every n-th, from the k-th: ``part`` is ``(k, n)``."""
    number = 0
    for rows in groups:
        label = _hashed(rows, columns)
        own = number + np.cumsum(np.append(False, label[1:] != label[:-1]))
        number = int(own[-1]) + 1
        chosen = rows[own % part[1] == part[0] - 1]
        if len(chosen):
            yield chosen


def _same_types(before: pd.DataFrame, rows: pd.DataFrame, columns: tuple[str, ...]) -> None:
    for column in columns:
        if rows[column].dtype != before[column].dtype:
            raise InputError(
                f"column '{column}' comes as {before[column].dtype} at first and as {rows[column].dtype} later; store "
                "it in one type"
            )


def _hashed(rows: pd.DataFrame, columns: tuple[str, ...]) -> NDArray[np.uint64]:
    import pandas as pd

    hashed = pd.util.hash_pandas_object(rows[list(columns)], index=False)
    return hashed.to_numpy(np.uint64).view(np.uint64)


def _new(
    labels: NDArray[np.uint64], seen: NDArray[np.uint64], rows: pd.DataFrame, starts: Codes, columns: tuple[str, ...]
) -> NDArray[np.uint64]:
    """Add the labels of finished groups, hashed to 8 bytes each, to those seen before."""
    merged = np.sort(np.concatenate([seen, labels]))
    twice = merged[1:][merged[1:] == merged[:-1]]
    if len(twice):
        place = starts[np.flatnonzero(labels == twice[0])[-1]]
        name = ":".join(str(rows[column].iloc[place]) for column in columns)
        raise InputError(
            f"the rows of '{name}' (column {', '.join(columns)}) do not all stand together; sort the rows by that "
            "column first"
        )
    return merged


def summarise(
    chunks: Callable[[], Iterable[pd.DataFrame]],
    specification: Specification,
    minimum: int = 1,
    leave_out: bool = False,
    part: tuple[int, int] = (1, 1),
) -> PortableStatistics:
    """Summarise rows.

    Parameters
    ----------
    chunks : callable
        Returns the rows, in chunks, from the start: with the specification's columns, no missing value in them, and
        the rows of an outermost group together.
    specification : Specification
    minimum : int
        Animals on which every cell must rest, every word that occurs, and every combination of the sums; with 1,
        nothing is looked at.
    leave_out : bool
        Leave out animals in a cell of fewer, and count them, instead of refusing.
    part : tuple of (int, int)
        ``(k, n)`` for the k-th of n parts, cut between outermost groups.

    Raises
    ------
    InputError
        When there is no row, a value is not as agreed, or a cell, a word or a combination of sums rests on too few
        animals.
    """
    outermost = specification.labels[specification.levels[0]]
    small: set[Key] = set()
    alone: set[np.uint64] = set()
    while True:
        groups = of_part(whole_groups(chunks(), outermost), outermost, part)
        found, check = _gone_through(groups, specification, minimum, (small, alone) if leave_out else None)
        isolated = check.isolated() if minimum > 1 else []
        few = {key for key, blocks in check.blocks.items() if blocks < minimum and not specification.block_level}
        if not leave_out or not (few or isolated) or any(not own.sure and own.key == INSIDE for own in isolated):
            break
        small |= few | {own.key for own in isolated if not own.sure}
        alone |= {label for own in isolated for label in own.labels}
    refuse_small_cells(found)
    refuse_isolated(isolated, found)
    return found


def _gone_through(
    groups: Iterable[pd.DataFrame],
    specification: Specification,
    minimum: int,
    out: tuple[set[Key], set[np.uint64]] | None,
) -> tuple[PortableStatistics, CellCheck]:
    """Go through the rows once: what they sum to, and what that would give away."""
    gathered = Gathering(specification)
    check = CellCheck(specification, minimum)
    for rows in groups:
        kept, left_out = (rows, 0) if out is None else without_small_cells(rows, specification, minimum, *out)
        gathered.left_out += left_out
        if len(kept):
            gathered.add(chunk_statistics(kept, specification, check if minimum > 1 else None))
    if gathered.left_out and not gathered.rows:
        raise InputError(
            f"no cell rests on {minimum} {specification.animal}s, so that leaving the smaller ones out leaves nothing"
        )
    return replace(gathered.result(), minimum=minimum), check


def chunk_statistics(
    rows: pd.DataFrame, specification: Specification, check: CellCheck | None = None
) -> PortableStatistics:
    """Summarise the rows of some whole outermost groups, all at once, and show them to a check."""
    design = specification.design(rows)
    outcome = finite_numbers(rows[specification.outcome])
    columns = np.column_stack([design.matrix, outcome]) - np.array(specification.centre)
    grouping = group_rows(rows, specification)
    if check:
        check.add(columns, (*design.names, specification.outcome), grouping, rows)
    statistics = sufficient_statistics(columns, grouping, specification.block_level, factored=True)
    assert statistics.within_factor is not None
    cells, members = cells_of(statistics)
    animal = grouping.codes[specification.levels.index(specification.animal)]
    return PortableStatistics(
        specification,
        rows=len(rows),
        rows_dropped=0,
        animals=int(animal.max()) + 1,
        left_out=0,
        minimum=1,
        words=animals_per_word(design, animal),
        within=statistics.within_factor,
        column_sums=columns.sum(axis=0),
        variable_sums=variable_sums(design),
        cells=cells,
        members=members,
    )


def animals_per_word(design: Design, animal: Codes) -> dict[str, int]:
    """Count the animals with every word, and with every combination of words in a term."""
    numbers = {name for name, variable in design.variables.items() if isinstance(variable, Covariate)}
    terms = [term for term in design.terms if not numbers & set(term.split(":"))]
    if not terms:
        return {}
    own = Design(design.matrix, (), tuple(terms), np.zeros(0, np.intp), design.variables, False)
    columns, names = overparametrised(own)
    return {
        name: int((np.bincount(animal[column != 0]) > 0).sum()) for name, column in zip(names, columns.T, strict=True)
    }


def variable_sums(design: Design) -> dict[str, Array]:
    """Return the sums of every variable that is a number or shares."""
    rows = len(design.matrix)
    return {
        name: average(variable) * rows
        for name, variable in design.variables.items()
        if not isinstance(variable, Factor)
    }

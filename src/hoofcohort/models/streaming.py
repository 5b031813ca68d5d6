"""Make portable statistics in one pass over chunks of rows, in memory that does not grow with their number."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from hoofcohort.errors import InputError
from hoofcohort.models.design import Design, Factor, average
from hoofcohort.models.grouping import Codes, Grouping
from hoofcohort.models.portable import Gathering, PortableStatistics, cells_of, triangular
from hoofcohort.models.specification import Specification, finite_numbers
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
        When a group comes again after another one.
    """
    import pandas as pd

    rest: pd.DataFrame | None = None
    seen = np.zeros(0, np.uint64)
    for chunk in chunks:
        rows = chunk if rest is None else pd.concat([rest, chunk], ignore_index=True)
        if rows.empty:
            continue
        label = _hashed(rows, columns)
        starts = np.flatnonzero(np.append(True, label[1:] != label[:-1]))
        seen = _new(label[starts[:-1]], seen, rows, starts, columns)
        rest = rows.iloc[starts[-1] :]
        if starts[-1]:
            yield rows.iloc[: starts[-1]]
    if rest is not None and len(rest):
        _new(_hashed(rest.iloc[:1], columns), seen, rest, np.zeros(2, np.int64), columns)
        yield rest


def _hashed(rows: pd.DataFrame, columns: tuple[str, ...]) -> NDArray[np.uint64]:
    import pandas as pd

    hashed = pd.util.hash_pandas_object(rows[list(columns)].astype(str), index=False)
    return hashed.to_numpy(np.uint64).view(np.uint64)


def _new(
    labels: NDArray[np.uint64], seen: NDArray[np.uint64], rows: pd.DataFrame, starts: Codes, columns: tuple[str, ...]
) -> NDArray[np.uint64]:
    """Add the labels of finished groups, hashed to 8 bytes each, to those seen before."""
    merged = np.sort(np.concatenate([seen, labels]))
    twice = merged[1:][merged[1:] == merged[:-1]]
    if len(twice):
        row = rows.iloc[starts[np.flatnonzero(labels == twice[0])[-1]]]
        name = ":".join(str(row[column]) for column in columns)
        raise InputError(
            f"the rows of '{name}' (column {', '.join(columns)}) do not all stand together; sort the rows by that "
            "column first"
        )
    return merged


def summarise(chunks: Iterable[pd.DataFrame], specification: Specification) -> PortableStatistics:
    """Summarise rows.

    Parameters
    ----------
    chunks : iterable of DataFrame
        With the specification's columns and no missing value in them; the rows of an outermost group stand together.
    specification : Specification

    Raises
    ------
    InputError
        When there is no row, or a value is not as agreed.
    """
    gathered = Gathering(specification)
    for rows in whole_groups(chunks, specification.labels[specification.levels[0]]):
        gathered.add(chunk_statistics(rows, specification))
    return gathered.result()


def chunk_statistics(rows: pd.DataFrame, specification: Specification) -> PortableStatistics:
    """Summarise the rows of some whole outermost groups, all at once."""
    design = specification.design(rows)
    outcome = finite_numbers(rows[specification.outcome])
    columns = np.column_stack([design.matrix, outcome]) - np.array(specification.centre)
    grouping = group_rows(rows, specification)
    statistics = sufficient_statistics(columns, grouping, specification.levels.index(specification.blocks))
    cells, members = cells_of(statistics)
    return PortableStatistics(
        specification,
        rows=len(rows),
        rows_dropped=0,
        animals=grouping.sizes()[specification.animal],
        left_out=0,
        minimum=1,
        root=triangular(columns),
        column_sums=columns.sum(axis=0),
        variable_sums=variable_sums(design),
        cells=cells,
        members=members,
    )


def variable_sums(design: Design) -> dict[str, Array]:
    """Return the sums of every variable that is a number or shares."""
    rows = len(design.matrix)
    return {
        name: average(variable) * rows
        for name, variable in design.variables.items()
        if not isinstance(variable, Factor)
    }


def group_rows(rows: pd.DataFrame, specification: Specification) -> Grouping:
    """Return the groups of rows, without labels, which would cost more than all the rest."""
    codes: list[Codes] = []
    parents: list[Codes] = []
    hosts = [position - 1 for position in range(len(specification.levels))]
    hosts += [specification.levels.index(name.split(":")[0]) for name in specification.also]
    for name, host in zip(specification.groupings, hosts, strict=True):
        own = _codes(rows, specification.labels[name.split(":")[-1]])
        if host >= 0:
            key, own = np.unique(codes[host] * (int(own.max()) + 1) + own, return_inverse=True)
            parents.append(codes[host][_first_rows(own, len(key))])
        else:
            parents.append(np.zeros(int(own.max()) + 1, np.int64))
        codes.append(own.reshape(-1).astype(np.int64))
    return Grouping(
        specification.groupings, tuple(codes), tuple(parents), tuple(hosts), ((),) * len(codes),
        len(specification.levels),
    )  # fmt: skip


def _codes(rows: pd.DataFrame, columns: tuple[str, ...]) -> Codes:
    """Number the distinct values of columns in the order in which they come."""
    import pandas as pd

    found = np.zeros(len(rows), np.int64)
    for column in columns:
        code, values = pd.factorize(rows[column])
        found = pd.factorize(found * len(values) + code)[0].astype(np.int64)
    return found


def _first_rows(codes: Codes, groups: int) -> Codes:
    first = np.empty(groups, np.int64)
    first[codes[::-1]] = np.arange(len(codes))[::-1]
    return first

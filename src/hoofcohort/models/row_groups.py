"""The groups of the rows of a table, as a specification names them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from hoofcohort.models.grouping import Codes, Grouping
from hoofcohort.models.specification import Specification

if TYPE_CHECKING:
    import pandas as pd


def group_rows(rows: pd.DataFrame, specification: Specification) -> Grouping:
    """Return the groups of rows, without labels, which would cost more than all the rest."""
    codes: list[Codes] = []
    parents: list[Codes] = []
    hosts = [position - 1 for position in range(len(specification.levels))]
    hosts += [specification.levels.index(name.split(":")[0]) for name in specification.also]
    for name, host in zip(specification.groupings, hosts, strict=True):
        own = _numbered(rows, specification.labels[name.split(":")[-1]])
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


def _numbered(rows: pd.DataFrame, columns: tuple[str, ...]) -> Codes:
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

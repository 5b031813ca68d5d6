"""Fit a mixed model from portable statistics, without a row."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from hoofcohort.errors import UnidentifiableLevelError
from hoofcohort.models.basis import Basis, orthonormal_basis
from hoofcohort.models.portable import Cell, PortableStatistics
from hoofcohort.models.solution import Choices, Solution, scale_of, solve

Array = NDArray[np.floating]


@dataclass(frozen=True)
class GroupCounts:
    """How many groups every grouping has.

    Attributes
    ----------
    names : tuple of str
    counts : dict of str to int
    rows : int
    """

    names: tuple[str, ...]
    counts: Mapping[str, int]
    rows: int

    def sizes(self) -> dict[str, int]:
        """Return the number of groups of every grouping."""
        return dict(self.counts)


def fit_statistics(portable: PortableStatistics, choices: Choices | None = None) -> Solution:
    """Fit the model whose statistics these are, with the answer that all the rows together would give.

    Parameters
    ----------
    portable : PortableStatistics
    choices : Choices, optional

    Raises
    ------
    ModelError
        With the reason, when the model cannot be fitted.
    """
    choices = choices or Choices()
    choices.check()
    check_groups(portable)
    specification = portable.specification
    means = {name: sums / portable.rows for name, sums in portable.variable_sums.items()}
    design = specification.mean_design(means)
    for name in choices.means:
        design.means_matrix(name)
    centred, factor = _centred_basis(portable)
    columns = len(specification.centre) - 1
    outcome = factor[:, columns]
    raw, rest = _project(centred.q, outcome)
    length = float(np.linalg.norm(rest))
    largest = (float(np.linalg.norm(outcome)) + abs(specification.centre[-1])) / np.sqrt(portable.rows)
    scale = scale_of(length, portable.rows, len(raw), largest)
    transform = np.zeros((columns + 1, len(raw) + 1))
    transform[centred.kept, :-1] = np.linalg.inv(centred.r)
    transform[centred.kept, -1] = -np.linalg.solve(centred.r, raw) / scale
    transform[-1, -1] = 1.0 / scale
    total = np.diag(np.append(np.ones(len(raw)), (length / scale) ** 2))
    statistics = portable.statistics(transform, total)
    basis, shifted = _uncentred(portable, centred, raw)
    groups = GroupCounts(specification.groupings, portable.sizes(), portable.rows)
    choices = replace(choices, rows_dropped=portable.rows_dropped)
    solution = solve(statistics, design, groups, basis, shifted, scale, choices)
    turned = raw + scale * solution.optimum.at.estimate
    mean = portable.column_sums[centred.kept] @ np.linalg.solve(centred.r, turned) / portable.rows
    variance = max(float(turned @ turned - portable.rows * mean**2), 0.0) / (portable.rows - 1)
    return replace(solution, fixed_variance=variance)


def _centred_basis(portable: PortableStatistics) -> tuple[Basis, Array]:
    """Return a basis of X, centred, in the coordinates of the factor of W, and that factor.

    A column counts as aliased by the length that it has as it came, as it does where there are rows.
    """
    centre = np.array(portable.specification.centre)
    factor = portable.root
    plain = factor + np.outer(factor[:, 0], centre) if portable.specification.intercept else factor
    sizes = np.linalg.norm(plain[:, :-1], axis=0)
    return orthonormal_basis(factor[:, :-1], sizes, portable.rows), factor


def _uncentred(portable: PortableStatistics, centred: Basis, raw: Array) -> tuple[Basis, Array]:
    """Return the basis' coordinates of X, and of y, as they came: the intercept is the basis' first column."""
    if not portable.specification.intercept:
        return centred, raw
    centre = np.array(portable.specification.centre)
    first = centred.r[:, 0]
    r = centred.r + np.outer(first, centre[centred.kept])
    dropped = centred.r @ centred.alias + np.outer(first, centre[centred.dropped])
    alias = np.linalg.solve(r, dropped)
    return replace(centred, r=r, alias=alias), raw + centre[-1] * first


def _project(q: Array, y: Array) -> tuple[Array, Array]:
    """Split y into coefficients on the basis and the rest, twice over."""
    first = q.T @ y
    rest = y - q @ first
    second = q.T @ rest
    return first + second, rest - q @ second


def check_groups(portable: PortableStatistics) -> None:
    """Refuse groupings whose variance no data of this shape could tell apart, as where there are rows.

    Raises
    ------
    UnidentifiableLevelError
        When a grouping has one group only, one row in each group, or the same groups as another grouping.
    """
    sizes = portable.sizes()
    names = list(sizes)
    for position, (name, groups) in enumerate(sizes.items()):
        if groups == portable.rows:
            raise UnidentifiableLevelError(
                name,
                f"level '{name}' has one row in each of its {groups} groups, so its variance cannot be told from "
                "the residual; make the statistics without it, or with repeated rows per group",
            )
        if groups == 1:
            raise UnidentifiableLevelError(
                name,
                f"level '{name}' has a single group, so its variance cannot be told from the intercept; "
                "make the statistics without it",
            )
        for other in range(position):
            if sizes[names[other]] == groups and _common(portable, other, position) == groups:
                raise UnidentifiableLevelError(
                    name,
                    f"levels '{names[other]}' and '{name}' group the rows in the same way, so their variances cannot "
                    f"be told apart; make the statistics without '{name}'",
                )


def _common(portable: PortableStatistics, first: int, second: int) -> int:
    """Return the number of different pairs of groups of two groupings that rows lie in."""
    inside = portable.inside
    if first < inside[0]:
        return list(portable.sizes().values())[second]
    return sum(cell.blocks * _pairs(cell, inside.index(first), inside.index(second)) for cell in portable.cells)


def _pairs(cell: Cell, first: int, second: int) -> int:
    ends = np.cumsum(cell.used)
    rows, columns = (slice(ends[place] - cell.used[place], ends[place]) for place in (first, second))
    return int((cell.counts[rows, columns] > 0).sum())

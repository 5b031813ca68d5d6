"""The random groupings of a model: nested levels, groupings that cross inside one of them, and crossed factors."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from hoofcohort.errors import ModelError, UnidentifiableLevelError

Codes = NDArray[np.int64]
RESIDUAL = "residual"
MOST_CROSSED = 300
"""Groups of all crossed factors together, at most: each is a column of a dense matrix."""


@dataclass(frozen=True)
class Grouping:
    """Codes of every grouping of a model.

    Attributes
    ----------
    names : tuple of str
        Nested levels, outermost first, then the further groupings, then the crossed factors, as the user named them.
    codes : tuple of int arrays, each shape (n,)
        Group of each row, 0 .. groups - 1. Groups are numbered so that those of one parent are consecutive.
    parents : tuple of int arrays, each shape (groups,)
        For every group, its group in the parent grouping (zeros for the outermost level and crossed factors).
    hosts : tuple of int
        For every grouping, the position of the level it lies in (-1 for the outermost level and crossed factors).
    labels : tuple of tuples of str
        For every grouping, the label of each group, outer labels first, joined by ``:``.
    nested : int
        How many of the groupings are nested levels.
    crossed : int
        How many of the groupings, the last ones, are factors whose groups span the outermost level.
    """

    names: tuple[str, ...]
    codes: tuple[Codes, ...]
    parents: tuple[Codes, ...]
    hosts: tuple[int, ...]
    labels: tuple[tuple[str, ...], ...]
    nested: int
    crossed: int = 0

    @classmethod
    def from_labels(
        cls,
        nested: Mapping[str, ArrayLike],
        also: Mapping[str, ArrayLike] | None = None,
        crossed: Mapping[str, ArrayLike] | None = None,
    ) -> Grouping:
        """Number the groups of levels (outermost first), of further groupings ``host:label``, and of crossed factors.

        Labels count within the group they lie in: foot LF of horse 1 is another group than LF of horse 2. Those of a
        crossed factor, such as the farrier, mean the same everywhere.

        Raises
        ------
        ModelError
            When no level is given, a further grouping does not name one of the levels before its colon, a name is
            used twice, or a label is missing.
        """
        if not nested:
            raise ModelError("no levels: give at least one grouping, for instance the horse")
        crossed = crossed or {}
        if RESIDUAL in nested or RESIDUAL in crossed:
            raise ModelError(f"a level cannot be named '{RESIDUAL}': that is the name of what the levels leave over")
        for name in crossed:
            if name in nested or name in (also or {}):
                raise ModelError(f"'{name}' is named both as a level and as a crossed factor; name it once")
        names = list(nested)
        codes: list[Codes] = []
        parents: list[Codes] = []
        labels: list[tuple[str, ...]] = []
        hosts = [position - 1 for position in range(len(names))]
        sources = list(nested.values())
        for name, values in (also or {}).items():
            level = name.split(":")[0]
            if level not in nested or ":" not in name:
                raise ModelError(
                    f"the further grouping '{name}' must be written LEVEL:COLUMN with one of the levels "
                    f"({', '.join(nested)}) before the colon"
                )
            names.append(name)
            hosts.append(list(nested).index(level))
            sources.append(values)
        names += crossed
        hosts += [-1] * len(crossed)
        sources += crossed.values()
        for values, host in zip(sources, hosts, strict=True):
            outer = codes[host] if host >= 0 else None
            code, parent, inner = _number(values, outer)
            codes.append(code)
            parents.append(parent)
            prefix = [labels[host][group] + ":" for group in parent] if host >= 0 else [""] * len(inner)
            labels.append(tuple(before + label for before, label in zip(prefix, inner, strict=True)))
        return cls(tuple(names), tuple(codes), tuple(parents), tuple(hosts), tuple(labels), len(nested), len(crossed))

    @property
    def rows(self) -> int:
        """Number of rows."""
        return len(self.codes[0])

    def sizes(self) -> dict[str, int]:
        """Return the number of groups of every grouping."""
        return {name: len(parent) for name, parent in zip(self.names, self.parents, strict=True)}

    def check(self) -> None:
        """Refuse groupings whose variance no data of this shape could tell apart.

        Raises
        ------
        UnidentifiableLevelError
            When a grouping has one group only, one row in each group, or the same groups as another grouping.
        ModelError
            When the crossed factors have more than :data:`MOST_CROSSED` groups together.
        """
        for position, name in enumerate(self.names):
            groups = len(self.parents[position])
            if groups == self.rows:
                raise UnidentifiableLevelError(
                    name,
                    f"level '{name}' has one row in each of its {groups} groups, so its variance cannot be told from "
                    "the residual; leave the level out, or use data with repeated rows per group",
                )
            if groups == 1:
                raise UnidentifiableLevelError(
                    name,
                    f"level '{name}' has a single group, so its variance cannot be told from the intercept; "
                    "leave the level out",
                )
            for other in range(position):
                if len(self.parents[other]) == groups and _same_partition(self.codes[other], self.codes[position]):
                    raise UnidentifiableLevelError(
                        name,
                        f"levels '{self.names[other]}' and '{name}' group the rows in the same way, so their "
                        f"variances cannot be told apart; leave '{name}' out",
                    )
        crossed = dict(list(self.sizes().items())[len(self.names) - self.crossed :])
        if sum(crossed.values()) > MOST_CROSSED:
            found = ", ".join(f"{name} {groups}" for name, groups in crossed.items())
            raise ModelError(
                f"the crossed factors have {sum(crossed.values())} groups ({found}); at most {MOST_CROSSED} together "
                "can be handled exactly; pool rare groups, or give a factor that lies inside a level as a level"
            )


def _number(values: ArrayLike, outer: Codes | None) -> tuple[Codes, Codes, list[str]]:
    """Number the labels within their outer group: code per row, parent per group, own label per group."""
    import pandas as pd

    code, found = pd.factorize(np.asarray(values), sort=True)
    if (code < 0).any():
        raise ModelError("a grouping has a missing label; drop those rows first")
    if outer is None:
        return code.astype(np.int64), np.zeros(len(found), np.int64), [str(label) for label in found]
    key, numbered = np.unique(outer * len(found) + code, return_inverse=True)
    parent, own = np.divmod(key, len(found))
    return numbered.astype(np.int64), parent, [str(found[label]) for label in own]


def _same_partition(first: Codes, second: Codes) -> bool:
    """Tell whether two codings with equally many groups put the same rows together."""
    image = np.full(first.max() + 1, -1)
    image[first] = second
    return bool((image[first] == second).all())

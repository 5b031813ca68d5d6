"""What a statistics file is about: the outcome, the terms, how every variable is coded, and the groupings.

Two files can be merged when their specifications are the same.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, fields
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from hoofcohort.errors import InputError, ModelError
from hoofcohort.models.coding import Coding, shape_of, shown
from hoofcohort.models.design import Design, build_design

if TYPE_CHECKING:
    import pandas as pd

Array = NDArray[np.floating]


@dataclass(frozen=True)
class Specification:
    """What the statistics are of.

    Attributes
    ----------
    outcome : str
        Its column.
    terms : tuple of str
    intercept : bool
    codings : tuple of Coding
        Of all variables in the terms.
    levels, also : tuple of str
        Nested groupings, outermost first; groupings inside a level, as ``level:name``.
    labels : dict of str to tuple of str
        For every level, and every name behind a colon in ``also``, the columns that tell its groups apart.
    blocks : str
        The level whose groups are independent but for the levels above it.
    animal : str
        The level whose groups are counted where a cell must rest on several: the blocks' or one above.
    centre : tuple of float
        Taken off the design's columns and the outcome before anything is summed, shape (p + 1,); zeros where there is
        no intercept to make up for it.
    """

    outcome: str
    terms: tuple[str, ...]
    intercept: bool
    codings: tuple[Coding, ...]
    levels: tuple[str, ...]
    also: tuple[str, ...]
    labels: Mapping[str, tuple[str, ...]]
    blocks: str
    animal: str
    centre: tuple[float, ...]

    @property
    def columns(self) -> list[str]:
        """All columns of a table that are read, each once."""
        used = [self.outcome, *(column for coding in self.codings for column in coding.columns)]
        used += [column for columns in self.labels.values() for column in columns]
        return list(dict.fromkeys(used))

    @property
    def groupings(self) -> tuple[str, ...]:
        """Names of all groupings, in the order of their variances."""
        return (*self.levels, *self.also)

    @property
    def block_level(self) -> int:
        """Position of the blocks' level."""
        return self.levels.index(self.blocks)

    def design(self, frame: pd.DataFrame) -> Design:
        """Return the design of the rows of a table."""
        variables = [coding.variable(frame) for coding in self.codings]
        return build_design(variables, self.terms, self.intercept, len(frame))

    def mean_design(self, means: Mapping[str, Array]) -> Design:
        """Return the design of one row at which every number and share has its mean."""
        variables = [coding.stand_in(np.asarray(means.get(coding.name, ()))) for coding in self.codings]
        return build_design(variables, self.terms, self.intercept, 1)

    def differences(self, other: Specification) -> list[str]:
        """Say what differs from another specification, one sentence part each."""
        found = []
        for field in fields(self):
            mine, theirs = getattr(self, field.name), getattr(other, field.name)
            if mine == theirs:
                continue
            if field.name == "codings":
                found += _coding_differences(mine, theirs)
            else:
                found.append(f"{field.name}: {_listed(mine)} and {_listed(theirs)}")
        return found

    def to_dict(self) -> dict[str, Any]:
        """Return plain values for a JSON file."""
        return asdict(self)

    @classmethod
    def from_dict(cls, value: Any) -> Specification:
        """Read back what :meth:`to_dict` gave.

        Raises
        ------
        InputError
            When a part is missing, unknown or of the wrong kind.
        """
        try:
            parts = dict(value)
            codings = tuple(
                Coding(
                    str(own["name"]),
                    str(own["kind"]),
                    _words(own["columns"]),
                    _words(own["values"]),
                    shape_of(own["shape"]),
                )
                for own in parts.pop("codings")
            )
            found = cls(
                outcome=_word(parts.pop("outcome")),
                terms=_words(parts.pop("terms")),
                intercept=_truth(parts.pop("intercept")),
                codings=codings,
                levels=_words(parts.pop("levels")),
                also=_words(parts.pop("also")),
                labels={_word(name): _words(columns) for name, columns in parts.pop("labels").items()},
                blocks=_word(parts.pop("blocks")),
                animal=_word(parts.pop("animal")),
                centre=tuple(float(number) for number in parts.pop("centre")),
            )
        except (AttributeError, KeyError, ModelError, TypeError, ValueError) as error:
            raise InputError(f"its specification cannot be read ({type(error).__name__}: {error})") from error
        if parts:
            raise InputError(f"its specification has unknown parts: {', '.join(sorted(map(str, parts)))}")
        found._check()
        return found

    def _check(self) -> None:
        """Refuse a specification that does not fit together."""
        broken = [coding.name for coding in self.codings if not coding.fits_together]
        if broken:
            raise InputError(f"its specification does not fit together: the coding of {', '.join(broken)}")
        try:
            design = self.mean_design({own.name: np.zeros(len(own.columns)) for own in self.codings})
        except ModelError as error:
            raise InputError(f"its specification does not fit together: {error}") from error
        labels = {*self.levels, *(name.split(":", 1)[-1] for name in self.also)}
        if (
            not self.levels
            or {self.blocks, self.animal} - set(self.levels)
            or self.levels.index(self.animal) > self.block_level
            or labels != set(self.labels)
            or not all(self.labels.values())
            or {name.split(":")[0] for name in self.also} - set(self.levels)
            or len(self.centre) != len(design.names) + 1
            or not np.isfinite(self.centre).all()
        ):
            raise InputError("its specification does not fit together: levels, codings or centre")


def _coding_differences(mine: Sequence[Coding], theirs: Sequence[Coding]) -> list[str]:
    first, second = ({own.name: own for own in codings} for codings in (mine, theirs))
    return [
        f"coding of '{name}': {shown(first.get(name))} and {shown(second.get(name))}"
        for name in sorted({*first, *second})
        if first.get(name) != second.get(name)
    ] or ["the order of the variables"]


def _listed(value: Any) -> str:
    if isinstance(value, Mapping):
        return "; ".join(f"{name} by {', '.join(columns)}" for name, columns in value.items())
    if isinstance(value, tuple):
        return ", ".join(map(str, value)) or "none"
    return str(value)


def _words(value: Any) -> tuple[str, ...]:
    if not isinstance(value, (list, tuple)):
        raise TypeError(f"expected a list, found {value!r}")
    return tuple(_word(word) for word in value)


def _truth(value: Any) -> bool:
    if not isinstance(value, bool):
        raise TypeError(f"expected true or false, found {value!r}")
    return value


def _word(value: Any) -> str:
    if not isinstance(value, str):
        raise TypeError(f"expected a text, found {value!r}")
    return value

"""How a table is declared: its columns, its key, and what must hold between two columns of a row."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Literal

Kind = Literal["id", "text", "word", "date", "number", "integer"]
Role = Literal["key", "context", "measurement", "score"]
Private = Literal["", "pseudonym", "remove"]
Limits = tuple[float | None, float | None]

COMMON = "common practice, no source"
BROAD = "the project's own broad limits, no source"
DATES_POSSIBLE = ("1980-01-01", "2100-12-31")
"""First and last date that any date column may hold; the project's own broad limits, no source."""
EXAMPLE_CODE = "EXAMPLE"
"""The horse in a template's example row; no row of it is ever data."""
UNIT_SLIPS: dict[str, tuple[tuple[str, float], ...]] = {
    "mm": (("centimetres", 10.0), ("inches", 25.4)),
    "cm": (("hands", 10.16), ("inches", 2.54), ("metres", 100.0), ("millimetres", 0.1)),
    "kg": (("pounds", 0.45359237),),
}
"""Units that are written by mistake for a column's own, and what one of them is in the column's unit."""
_UNIT_ENDINGS = ("_deg", "_mm", "_cm", "_kg", "_id", "_days", "_hours")


@dataclass(frozen=True)
class Column:
    """One column of a table; the schema, the dictionary and the intake's checks follow from it.

    Attributes
    ----------
    name, kind, meaning : str
        ``id`` and ``text`` are kept as text, ``word`` is one of ``words``, ``date`` is ISO 8601, ``number`` has a
        decimal point, ``integer`` is whole.
    unit : str
        Empty for a pure number and for text.
    role : {'key', 'context', 'measurement', 'score'}
        What the column is for.
    required : bool
        The file must have the column.
    nullable : bool
        A cell may be empty.
    possible : pair of numbers or None
        Outside these limits (inclusive; None: open) a value is rejected.
    plausible : pair of numbers or None
        Outside these a value is kept and flagged.
    words : tuple of str
        The words allowed.
    slips : tuple of pairs
        Usual words that are not allowed, each with the allowed word it most likely stands for.
    pattern : str
        A regular expression that the whole cell must match, in the dialect that RE2 and Python share.
    pattern_text : str
        What the pattern asks for, in words.
    default : int or None
        What an empty or absent cell stands for; None: missing.
    how : str
        How to measure or find it.
    source : str
        Where the definition and the limits come from.
    private : {'', 'pseudonym', 'remove'}
        What becomes of a value that names somebody or one animal before anything is analysed for publication.
    """

    name: str
    kind: Kind
    meaning: str
    unit: str = ""
    role: Role = "context"
    required: bool = False
    nullable: bool = True
    possible: Limits | None = None
    plausible: Limits | None = None
    words: tuple[str, ...] = ()
    slips: tuple[tuple[str, str], ...] = ()
    pattern: str = ""
    pattern_text: str = ""
    default: int | None = None
    how: str = ""
    source: str = COMMON
    private: Private = ""

    @property
    def title(self) -> str:
        """The name as words, without the unit: ``toe_angle_deg`` is ``toe angle``."""
        ending = next((ending for ending in _UNIT_ENDINGS if self.name.endswith(ending)), "")
        return self.name.removesuffix(ending).replace("_", " ")


@dataclass(frozen=True)
class Relation:
    """What must hold between two number columns of one row.

    Attributes
    ----------
    name : str
        What is derived from the two.
    first, second : str
        Names of the columns.
    kind : {'difference', 'ratio'}
        first - second, or first / second.
    possible, plausible : pair of numbers or None
        As for a column.
    likely : str
        What most likely happened when the value is not possible: the two cells exchanged, as a rule.
    """

    name: str
    first: str
    second: str
    kind: Literal["difference", "ratio"]
    unit: str
    plausible: Limits
    source: str
    possible: Limits | None = None
    likely: str = ""


@dataclass(frozen=True)
class Table:
    """One of the three tables: its columns in the order of the file, and the columns that name a row."""

    name: str
    meaning: str
    key: tuple[str, ...]
    columns: tuple[Column, ...]
    relations: tuple[Relation, ...] = ()

    @cached_property
    def by_name(self) -> dict[str, Column]:
        """The columns by name, in order."""
        return {column.name: column for column in self.columns}

    @property
    def names(self) -> tuple[str, ...]:
        """The columns' names, in order."""
        return tuple(self.by_name)

    @property
    def measurements(self) -> tuple[Column, ...]:
        """The columns that are measurements or scores."""
        return tuple(column for column in self.columns if column.role in ("measurement", "score"))

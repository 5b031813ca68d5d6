"""What is kept of one sheet of one file: its rows in our words, what is at fault, and what was understood of it."""

from __future__ import annotations

from dataclasses import dataclass, field

import pandas as pd

from hoofcohort.sheets.sheet import Aside, Ragged

IDENTITY = ("horse_id", "owner_id", "ueln", "microchip")
"""The columns by which a withdrawal of consent can reach a horse."""


@dataclass(frozen=True)
class Finding:
    """One thing that a letter tells: where, what was found, how grave it is, and what to do."""

    line: int
    position: int
    header: str
    value: str
    severity: str
    reason: str
    remedy: str


@dataclass
class Part:
    """One sheet of one file.

    Attributes
    ----------
    round, member, file, sheet : str
        Where it came from.
    tables : dict of DataFrame
        Until the part is packed (``packed.pack``). Canonical text by table, with ``line``, ``status`` (empty or
        ``rejected``) and ``derived`` (True for the rows of horses and management that a flat sheet's rows were split
        into; they are no rows of the file).
    ragged, aside : tuple
        As the sheet's.
    rows : int
        The sheet's own rows in ``tables``.
    unused : int
        Rows of a sheet that cannot be used as a whole; they come back.
    findings : list of Finding
    understood : tuple of str
    refused : str
        Why the file or the sheet cannot be used at all; empty when it can.
    taken_over : str
        The round whose file takes the place of this one, which could not be used; nothing more is asked about it.
    places : dict
        Our column to its place, from 1, and its header in the file.
    named : DataFrame or None
        Until the part is packed, of a flat sheet, rejected rows included: which horse each row names with which owner
        and numbers.
    whole : bool
        Whether it replaces earlier files of its name as a whole, not row by row.
    """

    round: str
    member: str
    file: str
    sheet: str = ""
    tables: dict[str, pd.DataFrame] = field(default_factory=dict)
    ragged: tuple[Ragged, ...] = ()
    aside: tuple[Aside, ...] = ()
    rows: int = 0
    unused: int = 0
    findings: list[Finding] = field(default_factory=list)
    understood: tuple[str, ...] = ()
    refused: str = ""
    places: dict[str, tuple[int, str]] = field(default_factory=dict)
    named: pd.DataFrame | None = None
    whole: bool = False
    taken_over: str = ""

    @property
    def asked(self) -> str:
        """Why it cannot be used, as long as no later file takes its place."""
        return "" if self.taken_over else self.refused

    @property
    def name(self) -> str:
        """The file, and its sheet when it has several."""
        return sheet_name(self.file, self.sheet)

    @property
    def rows_read(self) -> int:
        """Every row of the sheet below its header or set aside around it."""
        return self.rows + len(self.ragged) + len(self.aside) + self.unused


def sheet_name(file: str, sheet: str) -> str:
    """Return how a sheet of a file is named to people; a file of one sheet by its own name."""
    return f"{file}, sheet {sheet}" if sheet else file

"""A sheet in our words: its rows as text, and what was found about its cells."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np
import pandas as pd

from hoofcohort.mapping.reasons import SEVERITY


@dataclass(frozen=True)
class CellFault:
    """A cell that cannot be used, so that its row comes back.

    Attributes
    ----------
    line, position : int
        Line and column, from 1, in the original file; position 0 for the row as a whole.
    header, value : str
        The column's header and the cell as written.
    reason : str
        A code of ``reasons.SENTENCES``.
    remedy : str
        What to do.
    column : str
        Our column.
    """

    line: int
    position: int
    header: str
    value: str
    reason: str
    remedy: str
    column: str


@dataclass(frozen=True)
class CellNote(CellFault):
    """A cell that was used but changed or doubted; its severity is that of its reason."""


@dataclass
class Converted:
    """A sheet in our words.

    Attributes
    ----------
    table : str
        ``horses``, ``management``, ``feet`` or ``flat``.
    frame : DataFrame of text, shape (n,)
        Our columns, and ``line`` as integers. An empty text is missing; a faulty cell is empty.
    original : DataFrame of text, shape (n,)
        The cells as written, by our columns; empty where the file has no such column.
    headers, positions : dict
        Our column to the header and the place, from 1, that it came from.
    faults : list of CellFault
    notes : list of CellNote
    understood : tuple of str
        What was decided for whole columns, in sentences.
    units : dict
        Our column to the unit that the mapping says its numbers are in, where it says one.
    """

    table: str
    frame: pd.DataFrame
    original: pd.DataFrame
    headers: dict[str, str]
    positions: dict[str, int]
    faults: list[CellFault] = field(default_factory=list)
    notes: list[CellNote] = field(default_factory=list)
    understood: tuple[str, ...] = ()
    units: dict[str, str] = field(default_factory=dict)

    @property
    def bad(self) -> np.ndarray:
        """Which rows of the frame come back, shape (n,)."""
        return np.isin(self.frame["line"].to_numpy(), [fault.line for fault in self.faults])

    def filled(self, column: str) -> bool:
        """Tell whether any row of the frame has a value in a column."""
        return any(self.frame[column].to_numpy(dtype=object))

    def tell(self, row: int, column: str, reason: str, remedy: str, value: str | None = None) -> None:
        """Add a fault or, by the reason's severity, a note about a cell of a row of the frame."""
        if value is None:
            value = str(self.original[column].iloc[row]) if column in self.original.columns else ""
        kind, held = (CellFault, self.faults) if SEVERITY[reason] == "error" else (CellNote, self.notes)
        line, position = int(self.frame["line"].iloc[row]), self.positions.get(column, 0)
        held.append(kind(line, position, self.headers.get(column, ""), value, reason, remedy, column))  # type: ignore[arg-type]


def as_objects(columns: dict[str, np.ndarray], size: int) -> pd.DataFrame:
    """Return a frame of text that keeps the Python objects: equal cells share one."""
    block = np.empty((len(columns), size), dtype=object)
    for place, cells in enumerate(columns.values()):
        block[place] = cells
    return pd.DataFrame(block.T, columns=_index(tuple(columns)), dtype=object)


@lru_cache(maxsize=256)
def _index(names: tuple[str, ...]) -> pd.Index:
    return pd.Index(names, dtype=object)


def numbers_of(texts: np.ndarray | pd.Series) -> np.ndarray:
    """Return canonical texts as numbers; NaN where there is none. Shape (n,)."""
    codes, different = pd.factorize(np.asarray(texts, dtype=object))
    values = np.array([float(text) if text else np.nan for text in different], dtype=float)
    return values[codes] if len(values) else np.empty(0)

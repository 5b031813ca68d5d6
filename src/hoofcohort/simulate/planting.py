"""The record of what was planted where, each mistake in a horse of its own.

A mistake either changes cells of one row or adds a row at the end of a file. ``Planted.line`` is the physical line in
the written file, the header being line 1.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from hoofcohort.simulate.writing import cell_text

REJECTED, FLAGGED = "rejected", "flagged"


@dataclass(frozen=True)
class Planted:
    """One mistake, or one implausible but possible value.

    Attributes
    ----------
    file, line, column, value, kind, expected
        Where it is, the text there, what happened, and what the intake must do: ``rejected`` or ``flagged``.
    intended : str
        What the cell should have said.
    cells : dict
        Every changed cell of the row: column to text.
    new_row : list of str or None
        The added row, where the mistake is a row too many.
    consequences : list
        Rows without fault that are rejected because of this one: file, line.
    note : str
    """

    file: str
    line: int
    column: str
    value: str
    kind: str
    expected: str
    intended: str = ""
    cells: dict[str, str] = field(default_factory=dict)
    new_row: list[str] | None = None
    consequences: list[dict] = field(default_factory=list)
    note: str = ""

    def to_dict(self) -> dict:
        """Return the record for the truth file."""
        record = {
            "file": self.file,
            "line": self.line,
            "column": self.column,
            "value": self.value,
            "kind": self.kind,
            "expected": self.expected,
            "intended": self.intended,
            "added_row": self.new_row is not None,
        }
        if len(self.cells) > 1:
            record["cells"] = self.cells
        if self.note:
            record["note"] = self.note
        if self.consequences:
            record["consequences"] = self.consequences
        return record


class Planting:
    """The three clean frames, which horses already carry a mistake, and the mistakes so far."""

    def __init__(self, rng: np.random.Generator, frames: dict[str, pd.DataFrame]) -> None:
        self.rng = rng
        self.frames = frames
        ids = frames["horses.csv"]["horse_id"]
        self.codes = {
            file: np.searchsorted(ids.to_numpy(dtype=object), frame["horse_id"].to_numpy(dtype=object))
            for file, frame in frames.items()
        }
        self.used = np.zeros(len(ids), dtype=bool)
        self.next_line = {file: len(frame) + 2 for file, frame in frames.items()}
        self.planted: list[Planted] = []

    def pick(self, file: str, eligible: np.ndarray, count: int) -> list[int]:
        """Return up to ``count`` eligible rows of as many horses without a mistake, and mark these horses."""
        candidates = np.flatnonzero(eligible & ~self.used[self.codes[file]])
        tried = self.rng.choice(candidates, size=min(len(candidates), 8 * count), replace=False)
        _, first = np.unique(self.codes[file][tried], return_index=True)
        rows = np.sort(tried[np.sort(first)[:count]])
        self.used[self.codes[file][rows]] = True
        return rows.tolist()

    def text(self, file: str, row: int, column: str) -> str:
        """Return a cell of the clean file as text."""
        return cell_text(self.frames[file][column].iloc[row])

    def row_text(self, file: str, row: int) -> dict[str, str]:
        """Return a row of the clean file as text by column."""
        return {column: self.text(file, row, column) for column in self.frames[file].columns}

    def change(self, file: str, row: int, cells: dict[str, str], kind: str, expected: str, **more: object) -> None:
        """Plant a mistake in an existing row; the first of ``cells`` is the column it is reported under."""
        column = next(iter(cells))
        more.setdefault("intended", self.text(file, row, column))
        self.planted.append(
            Planted(file, row + 2, column, cells[column], kind, expected, cells=cells, **more)  # type: ignore[arg-type]
        )

    def add(self, file: str, cells: dict[str, str], column: str, kind: str, expected: str, **more: object) -> None:
        """Plant a row too many at the end of a file."""
        line = self.next_line[file]
        self.next_line[file] += 1
        row = list(cells.values())
        self.planted.append(
            Planted(file, line, column, cells[column], kind, expected, new_row=row, **more)  # type: ignore[arg-type]
        )

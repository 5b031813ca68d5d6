"""From rows of cells to a sheet: the header is found, and what is no data is put aside, never dropped."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from hoofcohort.sheets.sheet import Aside, Ragged, Sheet

_BLANKS = re.compile(r"[\s\u00a0\u200b\ufeff]+")
_TOTAL = re.compile(
    r"(grand )?(total|sum|average|mean|count|summe|gesamt|mittelwert|moyenne|totaal|gemiddelde)s?\b:?", re.I
)
_NUMBER = re.compile(r"[-+~]?[\d.,/: ]+%?")


@dataclass(frozen=True)
class Row:
    """A row as it came: its line and its cells."""

    line: int
    cells: tuple[str, ...]

    @property
    def filled(self) -> int:
        """Number of cells with any text."""
        return sum(1 for cell in self.cells if tidy(cell))


def tidy(cell: str) -> str:
    """Return a cell without blanks around, every run of blanks and line breaks inside as one blank."""
    return _BLANKS.sub(" ", cell).strip()


def sheet_of(file: str, name: str, rows: Sequence[Row], understood: Sequence[str], typed: bool = False) -> Sheet:
    """Make a sheet of rows of which at least one is filled.

    The header is the first row filled as widely as most rows, all of it words. Rows before it are titles; later ones
    like it, blank rows and totals are put aside; rows of another width are ragged.
    """
    place = _header_place(rows)
    wide = [tidy(cell) for cell in rows[place].cells]
    aside = [Aside(row.line, "title" if row.filled else "blank", _text(row)) for row in rows[:place]]
    ragged: list[Ragged] = []
    kept: list[Row] = []
    while wide and not wide[-1] and not any(len(row.cells) >= len(wide) and tidy(row.cells[len(wide) - 1])
                                             for row in rows[place + 1 :]):  # fmt: skip
        wide.pop()
    for row in rows[place + 1 :]:
        cells = _trimmed(row.cells, len(wide))
        if not row.filled:
            aside.append(Aside(row.line, "blank", ""))
        elif [tidy(cell) for cell in cells] == wide:
            aside.append(Aside(row.line, "repeated header", _text(row)))
        elif _TOTAL.fullmatch(next(tidy(cell) for cell in row.cells if tidy(cell))):
            aside.append(Aside(row.line, "total", _text(row)))
        elif len(cells) != len(wide):
            ragged.append(Ragged(row.line, tuple(tidy(cell) for cell in cells)))
        else:
            kept.append(Row(row.line, cells))
    columns = [np.array([tidy(row.cells[at]) for row in kept], dtype=object) for at in range(len(wide))]
    used = [at for at in range(len(wide)) if wide[at] or any(columns[at])]
    return Sheet(
        file, name, tuple(wide[at] for at in used), rows[place].line, tuple(at + 1 for at in used),
        tuple(columns[at] for at in used), np.array([row.line for row in kept], np.int64), tuple(aside), tuple(ragged),
        typed, (*understood, *_told(aside, wide, used)),
    )  # fmt: skip


def _header_place(rows: Sequence[Row]) -> int:
    widths = Counter(row.filled for row in rows if row.filled > 1)
    usual = max(widths.items(), key=lambda item: (item[1], item[0]))[0] if widths else 1
    for place, row in enumerate(rows):
        cells = [tidy(cell) for cell in row.cells if tidy(cell)]
        if len(cells) >= max(usual / 2, min(2, usual)) and not any(_NUMBER.fullmatch(cell) for cell in cells):
            return place
    return next(place for place, row in enumerate(rows) if row.filled)


def _trimmed(cells: tuple[str, ...], width: int) -> tuple[str, ...]:
    """Leave out empty cells beyond the header's width."""
    end = len(cells)
    while end > width and not tidy(cells[end - 1]):
        end -= 1
    return cells[:end]


def _text(row: Row) -> str:
    return " | ".join(cell for cell in map(tidy, row.cells) if cell)


def _told(aside: Sequence[Aside], wide: Sequence[str], used: Sequence[int]) -> list[str]:
    found = []
    for kind, what in (
        ("title", "above the header"),
        ("repeated header", "repeat the header"),
        ("total", "are totals"),
    ):
        lines = [str(own.line) for own in aside if own.kind == kind]
        if lines:
            found.append(f"rows that {what}, put aside: line {', '.join(lines)}".replace("that above", "above"))
    if len(used) < len(wide):
        found.append(f"columns without name and cells, left out: {len(wide) - len(used)}")
    return found

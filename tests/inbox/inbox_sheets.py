"""Sheets and parts for the tests of the inbox, made without files."""

from __future__ import annotations

import numpy as np

from hoofcohort.inbox.member import part_of
from hoofcohort.inbox.part import Part
from hoofcohort.mapping.mapping import Mapping
from hoofcohort.sheets.sheet import Aside, Ragged, Sheet

HORSES = "horse_id yard_id owner_id birth_year sex ueln microchip"
FEET = "horse_id foot visit_date observer_id method toe_angle_deg heel_angle_deg"
STRETCHES = "horse_id from_date to_date diet terrain"


def sheet_of(header: str, *rows: str, file: str = "a.csv", aside: int = 0, ragged: tuple[str, ...] = ()) -> Sheet:
    """Return a sheet of a header of words and rows of words; ``_`` is an empty cell."""
    names = tuple(header.split())
    cells = [[("" if cell == "_" else cell) for cell in row.split()] for row in rows]
    assert all(len(row) == len(names) for row in cells)
    columns = tuple(np.array([row[place] for row in cells], dtype=object) for place in range(len(names)))
    last = 2 + len(rows)
    return Sheet(
        file,
        "",
        names,
        1,
        tuple(range(1, len(names) + 1)),
        columns,
        np.arange(2, last),
        aside=tuple(Aside(last + len(ragged) + place, "blank", "") for place in range(aside)),
        ragged=tuple(Ragged(last + place, tuple(text.split())) for place, text in enumerate(ragged)),
    )


def part(round_name: str, member: str, header: str, *rows: str, mapping: Mapping | None = None, **other) -> Part:
    """Return a member's part of such a sheet."""
    return part_of(sheet_of(header, *rows, **other), [mapping] if mapping else [], round_name, member)

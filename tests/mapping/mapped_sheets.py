"""Sheets built in code, and mappings for them."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from hoofcohort.mapping.convert import convert
from hoofcohort.mapping.converted import Converted
from hoofcohort.mapping.mapping import Mapping, To
from hoofcohort.sheets.sheet import Ragged, Sheet


def sheet(
    header: Sequence[str], rows: Sequence[Sequence[str]], typed: bool = False, ragged: Sequence[Ragged] = ()
) -> Sheet:
    columns = zip(*rows, strict=True) if rows else [()] * len(header)
    return Sheet(
        file="member.csv",
        sheet="",
        header=tuple(header),
        header_line=1,
        positions=tuple(range(1, len(header) + 1)),
        columns=tuple(np.array(column, dtype=object) for column in columns),
        lines=np.arange(2, len(rows) + 2),
        ragged=tuple(ragged),
        typed=typed,
    )


FEET_CONSTANTS = {"horse_id": "H1", "foot": "LF", "visit_date": "2026-03-14", "observer_id": "O1", "method": "gauge"}


def one_column(cells: Sequence[str], typed: bool = False, **to: object) -> Converted:
    """Convert a sheet of one column of the table that has it."""
    name = str(to["to"])
    table = "horses" if name in ("height_cm", "body_mass_kg", "birth_year", "microchip", "sex") else "feet"
    table = "management" if name in ("trim_interval_days", "diet", "turnout_hours") else table
    constants = {"feet": FEET_CONSTANTS, "horses": {"horse_id": "H1", "yard_id": "Y", "owner_id": "W"}}.get(
        table, {"horse_id": "H1", "from_date": "2026-01-01", "terrain": "soft"}
    )
    constants = {key: value for key, value in constants.items() if key != name}
    mapping = Mapping(table=table, columns={"theirs": To(**to)}, constants=constants)  # type: ignore[arg-type]
    return convert(sheet(["theirs"], [[cell] for cell in cells], typed), mapping)


def told(converted: Converted) -> list[tuple[int, str, str]]:
    """Return line, reason and remedy of every fault and note, in order."""
    found = [(entry.line, entry.reason, entry.remedy) for entry in [*converted.faults, *converted.notes]]
    return sorted(found)

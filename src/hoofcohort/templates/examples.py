"""One filled row a table that shows what cells look like, and that nobody can take for a reading."""

from __future__ import annotations

from hoofcohort.tables import TABLES, Column
from hoofcohort.tables.declare import EXAMPLE_CODE

_CELLS = {
    "horse_id": EXAMPLE_CODE,
    "yard_id": "Y01",
    "owner_id": "W01",
    "birth_year": "2014",
    "sex": "gelding",
    "breed_group": "cob",
    "body_mass_kg": "480",
    "height_cm": "151",
    "ueln": "000001000000001",
    "microchip": "000000000000001",
    "from_date": "2026-01-05",
    "to_date": "2026-06-30",
    "farrier_id": "R01",
    "trim_interval_days": "42",
    "turnout_hours": "12",
    "visit_date": "2026-03-14",
    "observer_id": "V01",
    "replicate": "1",
    "days_since_trim": "21",
    "toe_angle_deg": "50.5",
    "heel_angle_deg": "46",
    "pastern_angle_deg": "51",
    "toe_length_mm": "88",
    "medial_heel_length_mm": "45",
    "lateral_heel_length_mm": "46.5",
    "medial_heel_height_mm": "33",
    "lateral_heel_height_mm": "34",
    "hoof_length_mm": "131",
    "hoof_width_mm": "125",
    "heel_buttress_width_mm": "86",
    "heel_setback_mm": "29",
    "frog_length_mm": "104",
    "frog_width_mm": "61",
    "coronet_circumference_mm": "362",
    "coronet_height_medial_mm": "61",
    "coronet_height_lateral_mm": "62",
}
"""Invented cells; the numbers of a column lie well inside what is usual."""


def example_cell(column: Column) -> str:
    """Return the cell that the example row has in a column, always one that the column allows.

    Parameters
    ----------
    column : Column

    Returns
    -------
    str
        Invented. A column without an invented cell of its own shows its first word or the middle of its limits.
    """
    if column.name in _CELLS:
        return _CELLS[column.name]
    if column.words:
        return column.words[0]
    limits = column.plausible or column.possible
    if limits and None not in limits:
        return f"{sum(filter(None, limits)) // 2:g}"
    return ""


def sheets() -> dict[str, tuple[Column, ...]]:
    """Return the columns of every table, and of the flat sheet: one row a foot, with its horse and keeping repeated.

    Returns
    -------
    dict of tuple of Column
        By table name, then ``flat``: every column of the three tables once, in the order of the tables.
    """
    columns = {name: table.columns for name, table in TABLES.items()}
    flat = {column.name: column for table in reversed(TABLES.values()) for column in table.columns}
    order = dict.fromkeys(name for table in TABLES.values() for name in table.names)
    return columns | {"flat": tuple(flat[name] for name in order)}

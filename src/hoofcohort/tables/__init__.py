"""What a column is: the one place that says so. The schema, the dictionary and the intake's checks follow from it.

Imports nothing heavy, so that the plan's checks stay quick; ``tables.schema`` needs pandera and is imported apart.
"""

from __future__ import annotations

from hoofcohort.tables.declare import Column, Relation, Table
from hoofcohort.tables.feet import FEET
from hoofcohort.tables.horses import HORSES
from hoofcohort.tables.management import MANAGEMENT

TABLES: dict[str, Table] = {table.name: table for table in (HORSES, MANAGEMENT, FEET)}
"""The tables by name, in the order in which they are checked."""

__all__ = ["TABLES", "Column", "Relation", "Table"]

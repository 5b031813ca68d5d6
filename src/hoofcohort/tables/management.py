"""The table of management: one row for each stretch of days in which a horse was kept in one way."""

from __future__ import annotations

from hoofcohort.tables.declare import BROAD, COMMON, Column, Table

MANAGEMENT = Table(
    name="management",
    meaning="One row for each stretch of days in which a horse was kept in one way; its stretches do not overlap.",
    key=("horse_id", "from_date"),
    columns=(
        Column(
            "horse_id",
            "id",
            "The horse, as in the table of horses.",
            role="key",
            required=True,
            nullable=False,
            private="pseudonym",
        ),
        Column(
            "from_date",
            "date",
            "First day of the stretch.",
            role="key",
            required=True,
            nullable=False,
            how="The first day on which all of the row was true.",
        ),
        Column(
            "to_date",
            "date",
            "Last day of the stretch, that day included.",
            how="Leave empty when it is still so.",
        ),
        Column(
            "diet",
            "word",
            "Main part of the diet.",
            required=True,
            words=("hay", "pasture", "concentrate"),
            how="What most of the energy came from.",
        ),
        Column(
            "terrain",
            "word",
            "Ground the horse mostly walks on.",
            required=True,
            words=("soft", "mixed", "hard"),
            how="The ground of most of the hours on its feet; mixed when no kind makes up most of them.",
        ),
        Column(
            "trim_interval_days",
            "number",
            "Usual number of days between trims.",
            unit="days",
            possible=(1, 730),
            plausible=(7, 365),
            how="From the trimmer's diary: mean of the intervals in the stretch.",
            source=f"plausible limits: {COMMON}; possible limits: {BROAD}",
        ),
        Column(
            "shoeing",
            "word",
            "What the feet wore.",
            words=("barefoot", "front", "all", "boots"),
            how="front: shod in front only; boots: barefoot, with boots for work.",
        ),
        Column(
            "turnout_hours",
            "number",
            "Turnout.",
            unit="hours per day",
            possible=(0, 24),
            how="Hours of a usual day spent loose, outside a stable.",
            source="a day has 24 hours",
        ),
        Column(
            "farrier_id",
            "id",
            "Who trimmed or shod the horse: a code, the same for that person at every yard.",
            how="A code and no name; leave empty where it is not known, and the column out where nobody noted it.",
            private="pseudonym",
        ),
    ),
)

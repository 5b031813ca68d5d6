"""What things are called in sentences."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import Any

LEVEL_NAMES = {
    "yard": ("yard", "yards"),
    "horse": ("horse", "horses"),
    "foot": ("foot", "feet"),
    "horse:visit": ("visit of a horse", "visits of a horse"),
    "yard:visit": ("visit to a yard", "visits to a yard"),
    "residual": ("reading", "readings"),
}
TITLES = {
    "diet": "diet",
    "terrain": "terrain",
    "trim_interval_days": "trim interval",
    "shoeing": "shoeing",
    "turnout_hours": "turnout",
}


def level_name(level: str, many: bool = True) -> str:
    """Return what a level's groups are called: ``horses``, ``feet``, ``visits of a horse``."""
    one, several = LEVEL_NAMES.get(level, (level, f"groups of {level}"))
    return several if many else one


def upper_first(text: str) -> str:
    """Return text with its first letter large, the rest as it is."""
    return text[:1].upper() + text[1:]


@cache
def exposure_title(name: str) -> str:
    """Return what a management column is called in a sentence."""
    return TITLES.get(name, name.replace("_", " "))


@cache
def exposure_unit(name: str) -> str:
    """Return a management column's unit; empty for words."""
    from hoofcohort.tables import TABLES

    column = TABLES["management"].by_name.get(name)
    return column.unit if column else ""


@cache
def measure(name: str) -> tuple[str, str]:
    """Return title and unit of a measurement or an index."""
    from hoofcohort.indices import CATALOGUE
    from hoofcohort.tables import TABLES

    if name in CATALOGUE:
        return CATALOGUE[name].title, CATALOGUE[name].unit
    column = TABLES["feet"].by_name.get(name)
    return (column.title, column.unit) if column else (name, "")


def comparison_phrase(settings: Mapping[str, Any], comparison: Mapping[str, Any]) -> tuple[str, str]:
    """Return the two sides of a comparison: ``all days on concentrate``, ``all days on hay``.

    For a number exposure the first side is ``a trim interval 7 days longer`` and the second ``one 7 days shorter``.
    """
    name = comparison["exposure"]
    exposure = settings["exposures"][name]
    title = exposure_title(name)
    if comparison.get("first") is None:
        step = f"{exposure.get('per') or 1:g} {exposure_unit(name)}".strip()
        mean = "mean " if exposure.get("form") == "mean" else ""
        return f"a {mean}{title} {step} higher", "one lower by that much"
    if exposure.get("form") == "share":
        return tuple(f"all days with {title} “{comparison[side]}”" for side in ("first", "second"))  # type: ignore[return-value]
    return tuple(f"{title} “{comparison[side]}” on the day" for side in ("first", "second"))  # type: ignore[return-value]

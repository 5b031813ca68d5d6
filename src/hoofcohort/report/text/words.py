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
    "observer_id": ("observer", "observers"),
    "farrier_id": ("farrier", "farriers"),
    "residual": ("reading", "readings"),
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
    from hoofcohort.tables import TABLES

    column = TABLES["management"].by_name.get(name)
    return column.title if column else name.replace("_", " ")


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
    """Return the two sides of a comparison, to stand after ``with`` and after ``than with``.

    Words: ``diet “concentrate” on all days of the window`` and ``“hay” on all days``. Numbers: ``a mean trim interval
    7 days higher`` and ``one lower by that much``; with a shape, ``a mean trim interval of 56 days`` and ``one of 28
    days``.
    """
    name = comparison["exposure"]
    exposure = settings["exposures"][name]
    title = exposure_title(name)
    first, second = comparison.get("first"), comparison.get("second")
    if comparison.get("values"):
        high, low = (f"{value:.4g} {exposure_unit(name)}".strip() for value in comparison["values"])
        mean = "mean " if exposure.get("form") == "mean" else ""
        return f"a {mean}{title} of {high}", f"one of {low}"
    if first is None:
        step = f"{exposure.get('per') or 1:g} {exposure_unit(name)}".strip()
        mean = "mean " if exposure.get("form") == "mean" else ""
        return f"a {mean}{title} {step} higher", "one lower by that much"
    if exposure.get("form") == "share":
        return f"{title} “{first}” on all days of the window", f"“{second}” on all days"
    return f"{title} “{first}” on the day of the visit", f"“{second}”"


def effect_label(effect: Mapping[str, Any]) -> str:
    """Return an effect's label with its exposure in front, once."""
    title, label = exposure_title(effect["exposure"]), str(effect["label"])
    return upper_first(label) if label.startswith(title) else f"{upper_first(title)}: {label}"

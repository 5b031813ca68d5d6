"""How people write units, in a header, in a cell or in a row of their own."""

from __future__ import annotations

from collections.abc import Mapping

SPELLINGS: Mapping[str, tuple[str, ...]] = {
    "mm": ("mm", "millimetre", "millimetres", "millimeter", "millimeters"),
    "cm": ("cm", "centimetre", "centimetres", "centimeter", "centimeters", "zentimeter"),
    "m": ("m", "metre", "metres", "meter", "meters"),
    "in": ("in", "in.", "inch", "inches", "zoll", "pouce", "pouces", '"', "''", "″", "”"),
    "kg": ("kg", "kgs", "kilo", "kilos", "kilogram", "kilograms"),
    "lb": ("lb", "lbs", "lb.", "pound", "pounds"),
    "st": ("st", "stone"),
    "g": ("g",),
    "deg": ("°", "º", "deg", "deg.", "degs", "degree", "degrees", "grad", "degré", "degrés", "graden"),
    "days": ("d", "day", "days", "tag", "tage", "tagen", "jour", "jours", "dag", "dagen"),
    "weeks": ("w", "wk", "wks", "week", "weeks", "wo", "woche", "wochen", "semaine", "semaines", "weken"),
    "months": ("mo", "month", "months", "monat", "monate", "mois", "maand", "maanden"),
    "hours": ("h", "hr", "hrs", "hour", "hours", "std", "stunden", "heures", "uur", "h/d", "h/day"),
    "hands": ("hh", "hands", "hand", "hnds"),
}
"""Unit to the ways in which it is written, in lower case."""
OTHERS = frozenset(("%", "°c", "year", "years", "yr", "yrs", "jahr", "jahre", "hours per day"))
"""Further words of a row of units; no column is converted from them."""
WORDS = OTHERS | {spelling for spellings in SPELLINGS.values() for spelling in spellings}

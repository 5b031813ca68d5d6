"""The variables that a plan can adjust for: names, titles and units alone, so that the plan's checks stay light."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from hoofcohort.tables import TABLES


@dataclass(frozen=True)
class Variable:
    """One variable of the analysis table.

    Attributes
    ----------
    name : str
        Its column in the analysis table.
    title : str
        What it is called in a sentence or on an axis.
    unit : str
        Empty for words.
    kind : {'word', 'number'}
        A word becomes a factor, a number a covariate.
    level : {'horse', 'foot', 'visit', 'reading'}
        What it belongs to: it is the same for all readings of one of these.
    words : tuple of str
        The words it can take; empty where only the data can tell, as for an observer.
    """

    name: str
    title: str
    unit: str
    kind: Literal["word", "number"]
    level: Literal["horse", "foot", "visit", "reading"]
    words: tuple[str, ...] = ()


def _words(table: str, column: str) -> tuple[str, ...]:
    return TABLES[table].by_name[column].words


_VARIABLES = (
    Variable("age_years", "age at the visit", "years", "number", "visit"),
    Variable("body_mass_kg", "body mass", "kg", "number", "horse"),
    Variable("sex", "sex", "", "word", "horse", _words("horses", "sex")),
    Variable(
        "breed_group",
        "breed group",
        "",
        "word",
        "horse",
        _words("horses", "breed_group"),
    ),
    Variable("height_cm", "height at the withers", "cm", "number", "horse"),
    Variable("fore_hind", "fore or hind foot", "", "word", "foot", ("fore", "hind")),
    Variable("side", "left or right foot", "", "word", "foot", ("left", "right")),
    Variable("days_since_trim", "days since the last trim", "days", "number", "reading"),
    Variable("observer_id", "observer", "", "word", "reading"),
    Variable("farrier_id", "farrier", "", "word", "visit"),
    Variable("method", "method of measuring", "", "word", "reading", _words("feet", "method")),
    Variable("season", "season of the visit", "", "word", "visit", ("winter", "spring", "summer", "autumn")),
    Variable("shoeing", "shoeing on the day of the visit", "", "word", "visit", _words("management", "shoeing")),
    Variable("turnout_hours", "turnout on the day of the visit", "hours per day", "number", "visit"),
    Variable("replicate", "repeat number of the reading", "", "number", "reading"),
)
VARIABLES: dict[str, Variable] = {variable.name: variable for variable in _VARIABLES}


def title_of(name: str) -> str:
    """Return what an exposure or adjustment is called in a sentence."""
    return VARIABLES[name].title if name in VARIABLES else TABLES["management"].by_name[name].title

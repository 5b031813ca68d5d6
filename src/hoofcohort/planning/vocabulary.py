"""The names that a plan may use, gathered from the tables, the catalogue of indices and the study's variables."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache

from hoofcohort.indices.catalogue import CATALOGUE
from hoofcohort.tables import TABLES
from hoofcohort.tables.variables import VARIABLES, Variable


@cache
def management_columns() -> Mapping[str, tuple[str, ...] | None]:
    """Return the columns that can be exposures: their words, or None for a column of numbers."""
    columns = TABLES["management"].columns
    return {
        column.name: column.words if column.kind == "word" else None
        for column in columns
        if column.kind in ("word", "number", "integer")
    }


@cache
def management_ids() -> tuple[str, ...]:
    """Return the columns that name who or what a horse had in a stretch, such as the farrier."""
    return tuple(column.name for column in TABLES["management"].columns if column.kind == "id" and column.role != "key")


@cache
def outcomes() -> tuple[str, ...]:
    """Return the columns that can be outcomes: numeric measurements and scores of a foot, and indices."""
    measured = [column.name for column in TABLES["feet"].measurements if column.kind in ("number", "integer")]
    return (*measured, *(index.name for index in CATALOGUE.values() if index.kind == "number"))


@cache
def word_columns() -> frozenset[str]:
    """Return the columns of a reading that hold words: no outcome of a linear model."""
    classes = [index.name for index in CATALOGUE.values() if index.kind == "class"]
    return frozenset([column.name for column in TABLES["feet"].columns if column.kind == "word"] + classes)


def variables() -> Mapping[str, Variable]:
    """Return the variables that can be adjustments."""
    return VARIABLES


@cache
def units() -> Mapping[str, str]:
    """Return the unit of every possible outcome; ``ratio`` for a pure number, empty for a score."""
    measured = {column.name: column.unit for column in TABLES["feet"].measurements if column.name in outcomes()}
    return measured | {index.name: index.unit for index in CATALOGUE.values() if index.kind == "number"}

"""What a member's headers, units and words mean: one small YAML file a source, checked whole before any row is read."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

from hoofcohort.errors import InputError, PlanError
from hoofcohort.intake.cells import DATE, NUMBER
from hoofcohort.mapping.units import YEAR_OF_DATE, units_for
from hoofcohort.planning.faults import Fault, found, not_allowed
from hoofcohort.planning.structure import structure
from hoofcohort.planning.yaml_file import read_yaml
from hoofcohort.sheets.sheet import Sheet
from hoofcohort.tables import TABLES, Column
from hoofcohort.tables.dictionary import allowed_text

FLAT = "flat"
FLAT_COLUMNS: dict[str, Column] = {}
for _name in ("feet", "horses", "management"):
    for _column in TABLES[_name].columns:
        FLAT_COLUMNS.setdefault(_column.name, _column)
_STRICT = ConfigDict(extra="forbid", frozen=True, coerce_numbers_to_str=True)
_STAND_INS = {"to": "?", "table": "feet"}


class To(BaseModel):
    """What one of their columns becomes."""

    model_config = _STRICT

    to: str = Field(description="our column's name")
    unit: str = Field(default="", description="the unit their numbers are in; without it, ours")
    words: dict[str, str] = Field(default_factory=dict, description="their word: our word, or '' for none")
    decimal: Literal[".", ",", ""] = Field(default="", description="their decimal mark; without it, the cells decide")
    thousands: Literal[".", ",", ""] = Field(default="", description="the mark between thousands")
    date_order: Literal["DMY", "MDY", "YMD", ""] = Field(default="", description="order of day, month and year")
    date_system: Literal[1900, 1904] = Field(
        default=1900, description="from which year a spreadsheet's day numbers count"
    )


class Mapping(BaseModel):
    """How one source's files become one of our tables, or all three from a flat one."""

    model_config = _STRICT

    table: Literal["horses", "management", "feet", "flat"] = Field(description="which table the file holds")
    columns: dict[str, To] = Field(description="their header: what it becomes")
    constants: dict[str, str] = Field(default_factory=dict, description="our column: its value in every row")
    ignore: list[str] = Field(default_factory=list, description="their headers that are left out")
    sheet: str = Field(default="", description="the sheet of a workbook that it is for; without it, any")
    management_days_before: int = Field(
        default=0,
        ge=0,
        le=1095,
        description="flat: for how many days before a visit its management details held (0: that day)",
    )
    replaces: Literal["rows", "whole"] = Field(
        default="rows",
        description="a later file of the same name replaces the earlier one's rows with the same key, or it as a whole",
    )


def targets(table: str) -> dict[str, Column]:
    """Return the columns that a mapping to a table can name; for ``flat``, those of all three."""
    return FLAT_COLUMNS if table == FLAT else TABLES[table].by_name


def of_sheet(mappings: Sequence[Mapping], sheet: str) -> list[Mapping]:
    """Return the mappings that may be for a sheet: those that name it before those that name none."""
    return sorted((one for one in mappings if one.sheet in ("", sheet)), key=lambda one: one.sheet == "")


def load_mapping(path: str | Path) -> Mapping:
    """Read a mapping and check it against our tables.

    Raises
    ------
    InputError
        With every fault, its line, what was found and what is allowed.
    """
    try:
        document = read_yaml(path)
    except PlanError as error:
        raise InputError(str(error).replace("such as 'study: my-study'", "such as 'table: feet'")) from None
    mapping, faults = structure(Mapping, document.value, _STAND_INS)
    faults = [*document.duplicates, *faults]
    if mapping is not None and not faults:
        faults = mapping_faults(mapping)
    if faults or mapping is None:
        raise InputError("\n  ".join(["the mapping must be put right first", *document.describe(faults)]))
    return mapping


def mapping_faults(mapping: Mapping) -> list[Fault]:
    """Return what in a mapping does not fit our tables."""
    known = targets(mapping.table)
    faults: list[Fault] = []
    for header, to in mapping.columns.items():
        where = ("columns", header)
        if to.to not in known:
            faults.append(Fault((*where, "to"), not_allowed(to.to, known)))
        else:
            faults += _column_faults(where, to, known[to.to])
    taken = Counter(to.to for to in mapping.columns.values())
    for header, to in mapping.columns.items():
        if taken[to.to] > 1:
            others = [repr(name) for name, other in mapping.columns.items() if other.to == to.to and name != header]
            faults.append(Fault(("columns", header, "to"), f"{', '.join(others)} becomes '{to.to}' too; keep one"))
    for name, value in mapping.constants.items():
        where = ("constants", name)
        if name not in known:
            faults.append(Fault(where, not_allowed(name, known)))
        elif taken[name]:
            faults.append(Fault(where, "a column becomes this too; keep the column or the constant"))
        else:
            faults += _value_faults(where, value, known[name])
    for number, name in enumerate(mapping.ignore):
        if name in mapping.columns:
            faults.append(Fault(("ignore", number), f"'{name}' is mapped too; take it out of one of the two"))
    return faults


def _column_faults(where: tuple[str, ...], to: To, column: Column) -> list[Fault]:
    faults = []
    units = units_for(column.unit) or ((YEAR_OF_DATE,) if column.name == "birth_year" else ())
    if to.unit and to.unit not in units:
        faults.append(Fault((*where, "unit"), not_allowed(to.unit, units, f"for {column.name}")))
    if to.date_order and column.kind != "date" and to.unit != YEAR_OF_DATE:
        faults.append(Fault((*where, "date_order"), f"'{column.name}' is no date; take the order out"))
    if to.decimal and to.decimal == to.thousands:
        faults.append(Fault((*where, "thousands"), "the same mark cannot part decimals and thousands; change one"))
    for theirs, ours in to.words.items():
        if ours:
            faults += _value_faults((*where, "words", theirs), ours, column)
    return faults


def _value_faults(where: tuple[str, ...], value: str, column: Column) -> list[Fault]:
    """Return what is wrong with a value that a mapping gives in our own words; an empty word means missing."""
    if column.words:
        return [] if value in column.words else [Fault(where, not_allowed(value, column.words))]
    forms = {"number": NUMBER, "integer": "[0-9]+", "date": DATE}
    form = forms.get(column.kind, column.pattern or ".+")
    if re.fullmatch(form, value):
        return []
    return [Fault(where, f"found {found(value)}; allowed: {allowed_text(column)}")]


def labels(sheet: Sheet) -> list[str]:
    """Return how a mapping names each column of a sheet.

    By its header; a column without one is ``column 3``, and each of several with the same header ``header (column 3)``.
    """
    times = Counter(plain_name(name) for name in sheet.header)
    return [
        f"column {place}" if not name else name if times[plain_name(name)] == 1 else f"{name} (column {place})"
        for name, place in zip(sheet.header, sheet.positions, strict=True)
    ]


def own_mapping(sheet: Sheet) -> Mapping | None:
    """Return the mapping of a sheet whose headers are one table's own already, or None."""
    names = list(sheet.header)
    if len(set(names)) != len(names):
        return None
    for table in (*TABLES, FLAT):
        known = targets(table)
        required = (
            {name for name, column in known.items() if column.required} if table != FLAT else set(TABLES["feet"].key)
        )
        if set(names) <= set(known) and required - {"replicate"} <= set(names):
            return Mapping(table=table, columns={name: To(to=name) for name in names})  # type: ignore[arg-type]
    return None


def plain_name(name: str) -> str:
    """Return a header as it is compared: in small letters, with single blanks."""
    return " ".join(name.split()).casefold()

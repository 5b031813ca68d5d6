"""Tell what each column of a sheet becomes by a mapping, or how the mapping does not fit it."""

from __future__ import annotations

from hoofcohort.errors import InputError, nearest
from hoofcohort.mapping.mapping import FLAT, Mapping, To, labels, plain_name, targets
from hoofcohort.mapping.units import UNIT_OF
from hoofcohort.sheets.sheet import Sheet
from hoofcohort.tables import TABLES


def fit(sheet: Sheet, mapping: Mapping) -> list[To | None]:
    """Return what each of a sheet's columns becomes; None for a column that is left out.

    Parameters
    ----------
    sheet : Sheet
    mapping : Mapping

    Raises
    ------
    InputError
        When the mapping does not fit the file: a header of it is missing, a header of the file is not in it, or a
        column that must be filled comes from nowhere.
    """
    names = labels(sheet)
    place = f"{sheet.file}{f', sheet {sheet.sheet!r}' if sheet.sheet else ''}, line {sheet.header_line}"
    mapped = {plain_name(name): to for name, to in mapping.columns.items()}
    ignored = {plain_name(name) for name in mapping.ignore}
    present = {plain_name(name) for name in names}
    faults = [
        f"{place}: the mapping's column '{name}' is not in the header{nearest(name, names)}"
        for name in mapping.columns
        if plain_name(name) not in present
    ]
    faults += [
        f"{place}, column {position}: header '{name}' is not in the mapping; map it or list it under 'ignore'"
        for name, position in zip(names, sheet.positions, strict=True)
        if plain_name(name) not in mapped and plain_name(name) not in ignored
    ]
    faults += [f"{place}, {fault}" for fault in _other_units(sheet, names, mapping.table, mapped)]
    faults += [f"{place}: {fault}" for fault in _nowhere(mapping)]
    if faults:
        raise InputError("\n  ".join(["the mapping does not fit the file", *faults]))
    return [mapped.get(plain_name(name)) for name in names]


def _other_units(sheet: Sheet, names: list[str], table: str, mapped: dict[str, To]) -> list[str]:
    """Return where a row of units below the header says another unit than the one that a column is read in."""
    faults = []
    for name, position, said in zip(names, sheet.positions, sheet.units or [""] * len(names), strict=True):
        to, unit = mapped.get(plain_name(name)), UNIT_OF.get(said.casefold(), "")
        read_in = "" if to is None else to.unit or targets(table)[to.to].unit
        if unit and read_in and unit != read_in:
            faults.append(
                f"column {position} ('{name}'): the row of units says '{said}', but the column is read in {read_in}; "
                "give its right unit in the mapping, or correct the row of units"
            )
    return faults


def _nowhere(mapping: Mapping) -> list[str]:
    sources = {to.to for to in mapping.columns.values()} | set(mapping.constants)
    table = TABLES["feet" if mapping.table == FLAT else mapping.table]
    needed = [column for column in table.columns if column.required and not column.nullable]
    return [
        f"nothing becomes '{column.name}', which must be filled; map a column to it or give it under 'constants'"
        for column in needed
        if column.name not in sources
    ]

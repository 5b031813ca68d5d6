"""One file of one member: its rows in our words, what is at fault, and what was understood of it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pandas as pd

from hoofcohort.errors import HoofcohortError, InputError
from hoofcohort.inbox.doubted_headers import all_known, no_mapping, of_the_mapping
from hoofcohort.inbox.part import IDENTITY, Finding, Part
from hoofcohort.mapping.convert import convert
from hoofcohort.mapping.converted import Converted, as_objects
from hoofcohort.mapping.draft import draft
from hoofcohort.mapping.flat import feet_of, split
from hoofcohort.mapping.mapping import FLAT, Mapping, labels, of_sheet, own_mapping
from hoofcohort.mapping.reasons import SEVERITY
from hoofcohort.mapping.robust import numbered
from hoofcohort.mapping.slips import check
from hoofcohort.sheets.file_bytes import plain_name
from hoofcohort.sheets.limits import MOST_SHOWN
from hoofcohort.sheets.row_labels import left_out, without_row_labels
from hoofcohort.sheets.sheet import Sheet


def read_parts(
    path: Path,
    mappings: Sequence[Mapping] = (),
    round_name: str = "",
    member: str = "",
    as_of: dt.date | None = None,
    table: str = "",
) -> list[Part]:
    """Read one file whatever is in it.

    Parameters
    ----------
    path : Path
    mappings : sequence of Mapping
        Those that may fit, the nearest first. Without one, headers that are ours or that leave no doubt are enough.
    round_name, member : str
        Where the file came from.
    as_of : date, optional
        The day that no date can be later than.
    table : str
        The table that the file must hold; empty for any.

    Returns
    -------
    list of Part
        One for each sheet; a single refused one when the file cannot be read.
    """
    sheets = _sheets(path)
    if isinstance(sheets, str):
        return [Part(round_name, member, plain_name(path), refused=sheets)]
    return [part_of(sheet, mappings, round_name, member, as_of, table) for sheet in sheets]


def refused_parts(path: Path, why: str, round_name: str = "", member: str = "") -> list[Part]:
    """Read a file that cannot be used, so that its rows are counted: one refused part for each sheet.

    A file that cannot be read either is told of both.
    """
    sheets = _sheets(path)
    if isinstance(sheets, str):
        return [Part(round_name, member, plain_name(path), refused=f"{sheets}; {_one_line(why)}")]
    parts = [Part(round_name, member, sheet.file, sheet.sheet, aside=tuple(sheet.aside)) for sheet in sheets]
    for part, sheet in zip(parts, sheets, strict=True):
        _refuse(part, sheet, why)
    return parts


def _sheets(path: Path) -> list[Sheet] | str:
    """Return the sheets of a file, or why it cannot be read."""
    from hoofcohort.sheets.read import read_sheets

    try:
        return read_sheets(path)
    except HoofcohortError as error:
        return _without_folder(str(error), path)


def _refuse(part: Part, sheet: Sheet, why: str, more: str = "") -> None:
    """Take a sheet's rows as not used; a sheet that is no table is put aside instead."""
    if sheet.is_table:
        part.unused = len(sheet.lines) + len(sheet.ragged)
        part.refused = _one_line(why) + more
    else:
        part.aside = sheet.all_aside
        part.understood = (*sheet.understood, "no table was found on this sheet; it was put aside")


def _without_folder(text: str, path: Path) -> str:
    return text.replace(str(path), path.name).removeprefix(f"{plain_name(path)}: ")


def _one_line(text: str) -> str:
    """Return a sentence and the first of the faults on the lines below it as one line; beyond a dozen are counted."""
    head, *faults = text.split("\n  ")
    more = [f"and {len(faults) - MOST_SHOWN} more"] if len(faults) > MOST_SHOWN else []
    return ": ".join(filter(None, [head, "; ".join([*faults[:MOST_SHOWN], *more])]))


def part_of(
    sheet: Sheet,
    mappings: Sequence[Mapping] = (),
    round_name: str = "",
    member: str = "",
    as_of: dt.date | None = None,
    table: str = "",
) -> Part:
    """Convert and check one sheet; arguments as of ``read_parts``."""
    part = Part(round_name, member, sheet.file, sheet.sheet, aside=tuple(sheet.aside))
    fitting = of_sheet(mappings, sheet.sheet)
    if not any(name in one.columns for one in fitting for name in labels(sheet)[:1]):
        sheet = without_row_labels(sheet, lambda headers: all_known(headers, fitting))
    try:
        converted, said, mapping = _converted(sheet, mappings, table)
    except HoofcohortError as error:
        _refuse(part, sheet, str(error), left_out(sheet))
        return part
    check(converted, as_of)
    part.understood = (*sheet.understood, *said, *converted.understood)
    part.ragged = tuple(sheet.ragged)
    part.whole = mapping.replaces == "whole"
    part.places = {name: (place, converted.headers[name]) for name, place in converted.positions.items()}
    if converted.table == FLAT:
        _flat(part, converted, mapping.management_days_before)
    else:
        part.tables[converted.table] = _frame(converted.frame, converted.bad, derived=False)
    part.findings = _findings(converted)
    part.rows = sum(int((~frame["derived"]).sum()) for frame in part.tables.values())
    return part


def _converted(sheet: Sheet, mappings: Sequence[Mapping], table: str) -> tuple[Converted, tuple[str, ...], Mapping]:
    """Convert by the first mapping that fits, else by our own headers, else by a draft that leaves no doubt."""
    first: HoofcohortError | None = None
    for mapping in of_sheet(mappings, sheet.sheet):
        try:
            return convert(sheet, _right_table(mapping, table)), (), mapping
        except InputError as error:
            first = first or error
    own = own_mapping(sheet)
    if own is not None:
        return convert(sheet, _right_table(own, table)), ("the headers are those of the study",), own
    if first is not None:
        raise InputError(of_the_mapping(str(first)))
    drafted = draft(sheet)
    doubtful = [guess for guess in drafted.guesses if guess.confidence != "high" or guess.to is None]
    if doubtful or drafted.missing:
        raise InputError(no_mapping(doubtful, drafted.missing))
    said = tuple(f"'{guess.header}' was taken to be {guess.to.to}" for guess in drafted.guesses if guess.to)
    return convert(sheet, _right_table(drafted.mapping, table)), said, drafted.mapping


def _right_table(mapping: Mapping, table: str) -> Mapping:
    if table and mapping.table != table:
        raise InputError(f"the file holds the table '{mapping.table}', asked for was '{table}'; name the right one")
    return mapping


def _flat(part: Part, converted: Converted, days_before: int) -> None:
    tables = split(converted, days_before)
    part.named = _named(converted.frame)
    for name in ("horses", "management"):
        one = tables[name]
        part.tables[name] = _frame(one.frame, np.zeros(len(one.frame), dtype=bool), derived=True)
    part.tables["feet"] = _frame(feet_of(converted).frame, converted.bad, derived=False)
    part.understood += tuple(sentence for one in tables.values() for sentence in one.understood)


def _named(frame: pd.DataFrame) -> pd.DataFrame:
    """Return the different pairings of horse, owner and numbers; each row that names no horse by its code."""
    empty = np.full(len(frame), "", dtype=object)
    cells = [frame[name].to_numpy(dtype=object) if name in frame.columns else empty for name in IDENTITY]
    first = np.zeros(len(frame), dtype=bool)
    first[np.unique(numbered(*cells), return_index=True)[1]] = True
    told = (first | (cells[0] == "")) & np.logical_or.reduce([one != "" for one in cells[1:]])
    named = as_objects({name: one[told] for name, one in zip(IDENTITY, cells, strict=True)}, int(told.sum()))
    named["line"] = frame["line"].to_numpy()[told]
    return named


def _frame(frame: pd.DataFrame, bad: np.ndarray, derived: bool) -> pd.DataFrame:
    """Return the rows with their fates so far; the frame given gets the columns."""
    frame["status"] = pd.Series(np.where(bad, "rejected", "").astype(object), dtype=object)
    frame["derived"] = np.full(len(frame), derived, dtype=bool)
    return frame


def _findings(converted: Converted) -> list[Finding]:
    found = [
        Finding(one.line, one.position, one.header, one.value, SEVERITY[one.reason], one.reason, one.remedy)
        for one in (*converted.faults, *converted.notes)
    ]
    return sorted(set(found), key=lambda one: (one.line, one.position, one.reason, one.remedy))

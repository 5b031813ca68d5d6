"""Turn a sheet into one of our tables as text: our columns, units and words. Every different text is read once."""

from __future__ import annotations

import numpy as np

from hoofcohort.errors import InputError
from hoofcohort.mapping.cell_words import likely_ours, numbered_words
from hoofcohort.mapping.column_reading import Reading
from hoofcohort.mapping.converted import CellFault, Converted, as_objects, numbers_of
from hoofcohort.mapping.fit import fit
from hoofcohort.mapping.mapping import FLAT, Mapping, To, labels, targets
from hoofcohort.mapping.merged import tell_merged
from hoofcohort.mapping.reading import read_column
from hoofcohort.mapping.shifted import has_decimal_commas, shifted_rows
from hoofcohort.sheets.sheet import Sheet
from hoofcohort.tables import Column


def convert(sheet: Sheet, mapping: Mapping) -> Converted:
    """Convert a sheet by a mapping that fits it.

    Parameters
    ----------
    sheet : Sheet
    mapping : Mapping

    Returns
    -------
    Converted
        With all columns of its table; of a flat sheet, with those that it has.

    Raises
    ------
    InputError
        When the mapping does not fit the file.
    """
    becomes = fit(sheet, mapping)
    known, names = targets(mapping.table), labels(sheet)
    size = len(sheet.lines)
    read: dict[str, tuple[int, Reading]] = {}
    for index, to in enumerate(becomes):
        if to is not None:
            read[to.to] = (index, read_column(sheet.columns[index], _dated(to, sheet), known[to.to], sheet.typed))
    _refuse_unknown_words(sheet, mapping.table, becomes, names, read)
    frame, original = {}, {}
    for column in (
        known if mapping.table != FLAT else [name for name in known if name in read or name in mapping.constants]
    ):
        if column in read:
            index, reading = read[column]
            frame[column], original[column] = (
                reading.ours[reading.codes],
                np.asarray(sheet.columns[index], dtype=object),
            )
        else:
            value = mapping.constants.get(column, "")
            frame[column], original[column] = np.full(size, value, dtype=object), np.full(size, "", dtype=object)
    converted = Converted(
        mapping.table,
        as_objects(frame, size),
        as_objects(original, size),
        {name: names[index] for name, (index, _) in read.items()},
        {name: sheet.positions[index] for name, (index, _) in read.items()},
        understood=_understood(names, read, mapping),
        units={to.to: to.unit for to in becomes if to is not None and to.unit},
    )
    converted.frame["line"] = np.asarray(sheet.lines, dtype=np.int64)
    _tell_cells(converted, read)
    tell_merged(converted, sheet)
    _tell_unread(converted, sheet, read)
    _tell_ragged(converted, sheet)
    _tell_shifted(converted, sheet, [None if to is None else known[to.to] for to in becomes])
    return converted


def _refuse_unknown_words(
    sheet: Sheet, table: str, becomes: list[To | None], names: list[str], read: dict[str, tuple[int, Reading]]
) -> None:
    """Refuse a sheet of which not one word of a column of words is known."""
    faults = []
    for to in becomes:
        if to is None:
            continue
        index, reading = read[to.to]
        told = [str(text) for text, code in zip(reading.texts, reading.reasons, strict=True) if code == "unknown_word"]
        if len(told) > 1 and not any(reading.ours):
            first = int(sheet.lines[np.flatnonzero(np.asarray(sheet.columns[index]) == told[0])[0]])
            shown = ", ".join(repr(word) for word in sorted(told)[:5])
            allowed = ", ".join(targets(table)[to.to].words)
            faults.append(
                f"{sheet.file}, line {first}, column {sheet.positions[index]} ('{names[index]}'): none of its words is "
                f"known: {shown}{' ...' if len(told) > 5 else ''}; write one of {allowed} in every row"
                f"{_likely_words(to.to, told)}, or have each given under 'words' of this column in a mapping"
                f"{numbered_words(told)}"
            )
    if faults:
        raise InputError("\n  ".join(["a column holds no word that is known", *faults]))


def _likely_words(column: str, told: list[str]) -> str:
    """Return what some unknown words most likely stand for, in brackets; nothing when that is not known."""
    meant = [(likely_ours(column, word), word) for word in sorted(told)]
    likely = [f"{ours} for '{word}'" for ours, word in meant if ours]
    return f" (most likely {', '.join(likely[:5])})" if likely else ""


def _tell_cells(converted: Converted, read: dict[str, tuple[int, Reading]]) -> None:
    for column, (_, reading) in read.items():
        doubtful = np.array([bool(code) for code in reading.reasons], dtype=bool)
        if not doubtful.any():
            continue
        for row in np.flatnonzero(doubtful[reading.codes]).tolist():
            code = int(reading.codes[row])
            converted.tell(row, column, reading.reasons[code], reading.remedies[code])


_UNREAD = {
    "formula": ("formula_without_result", "type the value, or open the file in a spreadsheet program and save it"),
    "error": ("error_in_cell", "type the value, or leave the cell empty where there is none"),
}
"""What a cell without a value that can be used is called, and what to do."""


def _dated(to: To, sheet: Sheet) -> To:
    """Let a workbook say itself from which year it counts days."""
    return to.model_copy(update={"date_system": 1904}) if sheet.date_system == 1904 else to


def _tell_unread(converted: Converted, sheet: Sheet, read: dict[str, tuple[int, Reading]]) -> None:
    """Send back the cells of a spreadsheet that have no value; what reading made of their text is dropped."""
    if not sheet.unread:
        return
    mapped = {sheet.positions[index]: column for column, (index, _) in read.items()}
    rows = {int(line): row for row, line in enumerate(sheet.lines)}
    own = {(cell.line, cell.position) for cell in sheet.unread}
    converted.faults[:] = [fault for fault in converted.faults if (fault.line, fault.position) not in own]
    converted.notes[:] = [note for note in converted.notes if (note.line, note.position) not in own]
    for cell in sheet.unread:
        column = mapped.get(cell.position)
        if column is not None:
            converted.frame.loc[converted.frame.index[rows[cell.line]], column] = ""
            converted.tell(rows[cell.line], column, *_UNREAD[cell.kind])


def _tell_ragged(converted: Converted, sheet: Sheet) -> None:
    width = len(sheet.header)
    for row in sheet.ragged:
        cause = "a decimal comma or a separator inside a cell needs quotation marks around the cell"
        if len(row.cells) < width:
            cause = "a missing value still needs its separator"
        remedy = row.why or f"the row has {len(row.cells)} cells, the header {width} columns; {cause}"
        converted.faults.append(CellFault(row.line, 0, "", " | ".join(row.cells), "ragged_row", remedy, ""))


def _tell_shifted(converted: Converted, sheet: Sheet, columns: list[Column | None]) -> None:
    if not has_decimal_commas(sheet):
        return
    measured = [column if column is not None and column.unit else None for column in columns]
    values = [None if column is None else numbers_of(converted.frame[column.name]) for column in measured]
    for row, number in shifted_rows(sheet, measured, values).items():
        remedy = (
            f"other rows of the file have one cell too many for each decimal comma, and this one may hold {number} "
            "in two cells, with one missing at its end; look at the whole row, and put such numbers in quotation marks"
        )
        converted.tell(row, "", "row_may_be_shifted", remedy)


def _understood(names: list[str], read: dict[str, tuple[int, Reading]], mapping: Mapping) -> tuple[str, ...]:
    told = [f"'{names[index]}': {sentence}" for index, reading in read.values() for sentence in reading.understood]
    told += [f"'{name}' is left out, as the mapping says" for name in mapping.ignore]
    told += [f"{name} is '{value}' in every row, as the mapping says" for name, value in mapping.constants.items()]
    return tuple(told)

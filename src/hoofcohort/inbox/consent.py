"""Withdrawals of consent, as ``consent.csv`` has them; what they reach is found in ``withdrawn``."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from pathlib import Path

from hoofcohort.errors import InputError
from hoofcohort.inbox.part import IDENTITY
from hoofcohort.mapping.mapping import To
from hoofcohort.mapping.reading import read_column
from hoofcohort.mapping.reasons import SENTENCES, SEVERITY
from hoofcohort.sheets.sheet import Sheet
from hoofcohort.tables import TABLES, Column

NAMES = IDENTITY
_DAY = Column("withdrawn", "date", "the day of the withdrawal", nullable=False)


@dataclass(frozen=True)
class Withdrawal:
    """One line of the file: the day, and the owner or the horse by one or more of its codes and numbers."""

    line: int
    day: str
    names: tuple[tuple[str, str], ...]
    in_force: bool = True


def read_consent(path: Path, as_of: dt.date | None = None) -> list[Withdrawal]:
    """Return the withdrawals, those after ``as_of`` as not yet in force; none without a file.

    Parameters
    ----------
    path : Path
        CSV of any kind that the inbox reads: a column ``withdrawn`` and one or more of ``NAMES``.
    as_of : date, optional
        The day up to which withdrawals count; all of them without it.

    Raises
    ------
    InputError
        When anything in the file cannot be understood: nothing is written then, as a withdrawal could be missed.
    """
    from hoofcohort.sheets.read import read_sheets

    _refuse_other_names(path)
    if not path.exists():
        return []
    sheets = read_sheets(path)
    if len(sheets) != 1:
        raise InputError(f"{path}: holds {len(sheets)} sheets with data; keep one")
    (sheet,) = sheets
    _refuse_unread(path, sheet)
    header = [name.strip().casefold() for name in sheet.header]
    if "withdrawn" not in header or not set(header) & set(NAMES) or set(header) - {*NAMES, _DAY.name}:
        allowed = f"withdrawn and one or more of {', '.join(NAMES)}"
        raise InputError(f"{path}, line {sheet.header_line}: found the columns {', '.join(header)}; write {allowed}")
    if len(set(header)) != len(header):
        raise InputError(f"{path}, line {sheet.header_line}: a column stands twice: {', '.join(header)}; keep one")
    columns = {name: _cells(path, sheet, header.index(name), name) for name in header}
    return [_withdrawal(path, sheet, row, columns, as_of) for row in range(len(sheet.lines))]


def _refuse_other_names(path: Path) -> None:
    """Refuse a file that is meant as one, such as ``Consent.xlsx``: passing over it would miss withdrawals."""
    if path.parent.is_dir():
        for other in sorted(path.parent.iterdir()):
            if other.is_file() and other.name != path.name and other.stem.casefold().startswith(path.stem):
                raise InputError(
                    f"{other}: withdrawals are read from {path.name} alone; save it as that, or move it away"
                )


def _refuse_unread(path: Path, sheet: Sheet) -> None:
    """Refuse a file with a row that is not read as a withdrawal."""
    for row in sheet.ragged:
        width = len(sheet.header)
        raise InputError(f"{path}, line {row.line}: found {len(row.cells)} cells; write {width}, as many as columns")
    for aside in sheet.aside:
        if aside.line > sheet.header_line and aside.kind not in ("blank", "repeated header"):
            raise InputError(f"{path}, line {aside.line}: found '{aside.text}', which is no withdrawal; take it out")


def _cells(path: Path, sheet: Sheet, place: int, name: str) -> list[str]:
    """Return a column's cells as the tables would hold them."""
    column = _DAY if name == _DAY.name else TABLES["horses"].by_name[name]
    optional = Column(
        column.name, column.kind, column.meaning, pattern=column.pattern, pattern_text=column.pattern_text
    )
    cells = sheet.columns[place]
    reading = read_column(cells, To(to=name), column if column is _DAY else optional, sheet.typed)
    for row, code in enumerate(reading.codes.tolist()):
        if reading.reasons[code] and SEVERITY[reading.reasons[code]] == "error":
            where = f"{path}, line {sheet.lines[row]}, column '{name}'"
            remedy = "write YYYY-MM-DD" if column is _DAY else reading.remedies[code]
            raise InputError(f"{where}: found '{cells[row]}'. {SENTENCES[reading.reasons[code]]} What to do: {remedy}")
    return [str(reading.ours[code]) for code in reading.codes]


def _withdrawal(path: Path, sheet: Sheet, row: int, columns: dict[str, list[str]], as_of: dt.date | None) -> Withdrawal:
    line = int(sheet.lines[row])
    names = tuple((name, cells[row]) for name, cells in columns.items() if name != _DAY.name and cells[row])
    if not names:
        raise InputError(f"{path}, line {line}: names neither an owner nor a horse; fill in one of {', '.join(NAMES)}")
    day = columns[_DAY.name][row]
    return Withdrawal(line, day, names, as_of is None or day <= str(as_of))

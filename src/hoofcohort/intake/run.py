"""Take in the three files: read, check, account, and hold the result against the schema."""

from __future__ import annotations

import datetime as dt
import os
import sys
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import pandas as pd

from hoofcohort.errors import InputError
from hoofcohort.files import csv_bytes, write_files_atomic, write_json_atomic, write_parquet_atomic
from hoofcohort.intake import rows
from hoofcohort.intake.checked import CheckedTable, Fault, check_cells
from hoofcohort.intake.flags import Flag, find_flags
from hoofcohort.intake.ledger import file_account, make_ledger
from hoofcohort.intake.reading import RawTable, read_table
from hoofcohort.tables import TABLES
from hoofcohort.tables.schema import schema_of

REJECT_COLUMNS = ("file", "line", "column", "value", "reason", "remedy", "row_key")
FLAG_COLUMNS = ("file", "line", "column", "value", "limits", "reason")


@dataclass(frozen=True)
class Intake:
    """What came of the three files.

    Attributes
    ----------
    frames : dict of DataFrame
        Accepted rows by table, typed as the schema says: every declared column, and ``line`` in the original file.
    rejects : list of tuple
        Cells of rejects.csv, as ``REJECT_COLUMNS``.
    flags : list of tuple
        Cells of flags.csv, as ``FLAG_COLUMNS``.
    ledger : dict
        The account.
    """

    frames: dict[str, pd.DataFrame]
    rejects: list[tuple]
    flags: list[tuple]
    ledger: dict


def take_in(paths: Mapping[str, str | Path], as_of: dt.date | None = None) -> Intake:
    """Accept or reject every row of the three files.

    Parameters
    ----------
    paths : mapping
        ``horses``, ``management`` and ``feet``, each to its CSV file.
    as_of : date, optional
        The day that no date in the files can be later than. Without it no date is too late; no clock is read.

    Returns
    -------
    Intake

    Raises
    ------
    InputError
        When a file cannot be used as a whole; the message lists every such fault of all three files.
    RuntimeError
        When the ledger does not add up.
    """
    checked = check_tables(_read_all({name: Path(paths[name]) for name in TABLES}), as_of)
    frames, accounts = {}, {}
    rejects: list[tuple] = []
    flags: list[tuple] = []
    for name, table in checked.items():
        frames[name] = schema_of(TABLES[name]).validate(table.accepted, lazy=True)
        faults, flagged = in_order(table.faults), find_flags(table)
        file = table.raw.file
        accounts[name] = file_account(
            file, table.raw.rows_read, table.raw.blank_lines, len(frames[name]), faults, len(flagged)
        )
        rejects += [_reject_cells(file, fault) for fault in faults]
        flags += [_flag_cells(file, flag) for flag in flagged]
    return Intake(frames, rejects, flags, make_ledger(accounts))


def check_tables(raw: Mapping[str, RawTable], as_of: dt.date | None = None) -> dict[str, CheckedTable]:
    """Check every cell and row of the three tables; arguments and rules as of ``take_in``."""
    checked = {name: check_cells(table, as_of) for name, table in raw.items()}
    _check_rows(checked["horses"], checked["management"], checked["feet"], as_of)
    return checked


def in_order(faults: Iterable[Fault]) -> list[Fault]:
    """Return faults by line, then column as in the file."""
    return sorted(faults, key=lambda fault: (fault.line, fault.position))


def _read_all(paths: Mapping[str, Path]) -> dict[str, RawTable]:
    distinct = len({path.name for path in paths.values()}) == len(paths)
    raw, faults = {}, []
    for name, path in paths.items():
        print(f"reading {path}", file=sys.stderr)
        raw[name], found = read_table(path, TABLES[name], path.name if distinct else str(path))
        faults += [f"{path}: {fault}" for fault in found]
    if faults:
        what = "a file" if len(faults) == 1 else f"{len(faults)} things"
        head = f"{what} must be put right first; nothing was written"
        raise InputError("\n  ".join([head, *faults]))
    return raw


def _check_rows(horses: CheckedTable, management: CheckedTable, feet: CheckedTable, as_of: dt.date | None) -> None:
    """Run the checks between cells, rows and tables; a duplicate is sought among rows without another fault."""
    rows.check_births(horses, as_of)
    rows.check_duplicates(horses)
    rows.check_horses_known(management, horses)
    rows.check_intervals(management)
    rows.check_overlaps(management)
    rows.check_horses_known(feet, horses)
    rows.check_visits_after_birth(feet, horses)
    rows.check_relations(feet)
    rows.check_duplicates(feet)


def _reject_cells(file: str, fault: Fault) -> tuple:
    return (file, fault.line, fault.column, fault.value, fault.reason, fault.remedy, fault.row_key)


def _flag_cells(file: str, flag: Flag) -> tuple:
    return (file, flag.line, flag.column, flag.value, flag.limits, flag.reason)


def write_intake(intake: Intake, folder: str | Path) -> None:
    """Write ledger.json, rejects.csv, flags.csv and data/<table>.parquet into a folder: all of them or none.

    Text that a spreadsheet would take for a formula is given a leading apostrophe in the CSV files.
    """
    target = Path(folder)
    writers: dict[str | os.PathLike[str], Callable[[Path], None]] = {
        target / "ledger.json": partial(write_json_atomic, value=intake.ledger),
        target / "rejects.csv": partial(_write_csv, REJECT_COLUMNS, intake.rejects),
        target / "flags.csv": partial(_write_csv, FLAG_COLUMNS, intake.flags),
    }
    writers |= {
        target / "data" / f"{name}.parquet": partial(write_parquet_atomic, frame=frame)
        for name, frame in intake.frames.items()
    }
    write_files_atomic(writers)


def _write_csv(columns: Sequence[str], lines: Iterable[tuple], path: Path) -> None:
    path.write_bytes(csv_bytes(columns, lines))

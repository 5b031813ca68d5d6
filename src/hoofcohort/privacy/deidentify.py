"""Three canonical tables, and an inbox's ledger, with pseudonyms in place of what names somebody or one animal."""

from __future__ import annotations

import datetime as dt
import io
import json
import os
from collections.abc import Callable, Mapping
from contextlib import redirect_stderr
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from hoofcohort.errors import InputError
from hoofcohort.files import csv_bytes, write_files_atomic, write_json_atomic
from hoofcohort.intake.run import take_in
from hoofcohort.privacy.pseudonyms import Pseudonyms
from hoofcohort.tables import TABLES, Column

LEDGER = "ledger.json"
OUTPUTS = (*(f"{table}.csv" for table in TABLES), LEDGER)
_RECOGNISED_BY = ["birth_year", "sex", "breed_group"]


@dataclass(frozen=True)
class Deidentified:
    """What can be handed on.

    Attributes
    ----------
    tables : dict of DataFrame
        Text; rows in the order of their new keys, so that the old order is not told.
    ledger : dict or None
        The inbox's, with pseudonyms.
    left_out : dict of int
        By table, rows that the study's intake rejects. They stay out: anything may stand in their cells.
    recognisable : int
        Horses that are the only one with their year of birth, sex and breed group.
    """

    tables: dict[str, pd.DataFrame]
    ledger: dict[str, Any] | None
    left_out: dict[str, int]
    recognisable: int


def deidentify(folder: str | Path, names: Pseudonyms, as_of: dt.date | None = None) -> Deidentified:
    """Replace or leave out every private column of a folder's three tables.

    Parameters
    ----------
    folder : path
        With horses.csv, management.csv and feet.csv; the ledger.json of an inbox is taken along.
    names : Pseudonyms
    as_of : date, optional
        The day that no date can be later than, as for the intake.

    Raises
    ------
    InputError
        When a table cannot be used as a whole, or the ledger is no inbox's.
    """
    source = Path(folder)
    with redirect_stderr(io.StringIO()):
        intake = take_in({table: source / f"{table}.csv" for table in TABLES}, as_of)
    alike = intake.frames["horses"].groupby(_RECOGNISED_BY, dropna=False)["horse_id"].transform("size")
    return Deidentified(
        tables={name: _table(name, frame, names) for name, frame in intake.frames.items()},
        ledger=_ledger(source / LEDGER, names) if (source / LEDGER).exists() else None,
        left_out={name: intake.ledger["files"][name]["rejected"] for name in TABLES},
        recognisable=int((alike == 1).sum()),
    )


def _table(name: str, frame: pd.DataFrame, names: Pseudonyms) -> pd.DataFrame:
    table = TABLES[name]
    kept = [
        column
        for column in table.columns
        if column.private != "remove" and (column.required or frame[column.name].notna().any())
    ]
    made = pd.DataFrame({column.name: _cells(column, frame[column.name], names) for column in kept}, dtype=object)
    return made.sort_values(list(table.key), kind="stable", ignore_index=True)


def _cells(column: Column, values: pd.Series, names: Pseudonyms) -> list[str]:
    """Return a column's cells as canonical text; missing is empty."""
    known = values.notna().tolist()
    if column.private == "pseudonym":
        kind = column.name.removesuffix("_id")
        texts = [names.of(kind, value) if there else "" for value, there in zip(values, known, strict=True)]
    elif column.kind == "date":
        texts = values.dt.strftime("%Y-%m-%d").tolist()
    elif column.kind == "number":
        texts = [np.format_float_positional(value, trim="-") for value in values.astype(float).tolist()]
    else:
        texts = [str(value) for value in values]
    return [text if there else "" for text, there in zip(texts, known, strict=True)]


def _ledger(path: Path, names: Pseudonyms) -> dict[str, Any]:
    """Return an inbox's ledger with rounds numbered, and members, files and sheets under pseudonyms."""
    try:
        ledger = json.loads(path.read_text(encoding="utf-8"))
        rounds = {name: f"round-{number}" for number, name in enumerate(ledger["rounds"], start=1)}
        members = {name: names.of("member", name) for name in ledger["members"]}
        files = [_file_account(account, rounds, members, names) for account in ledger["files"]]
        return {
            "total": _numbers(ledger["total"]),
            "rounds": {rounds[name]: _numbers(counts) for name, counts in ledger["rounds"].items()},
            "members": dict(sorted((members[name], _numbers(own)) for name, own in ledger["members"].items())),
            "files": sorted(files, key=lambda one: (one["round"], one["member"], one["file"], one["sheet"])),
        }
    except (OSError, ValueError, KeyError, TypeError, AttributeError) as error:
        raise InputError(
            f"{path}: is not the ledger that 'hoofcohort inbox' writes ({type(error).__name__}: {error}); run it "
            "again, or take the file out of the folder"
        ) from None


def _file_account(
    account: Mapping[str, Any], rounds: Mapping[str, str], members: Mapping[str, str], names: Pseudonyms
) -> dict[str, Any]:
    member = account["member"]
    return {
        "round": rounds[account["round"]],
        "member": members[member],
        "file": names.of("file", f"{member}/{account['file']}"),
        "sheet": names.of("sheet", f"{member}/{account['sheet']}") if account["sheet"] else "",
        "refused": "refused" if account["refused"] else "",
    } | _numbers(account)


def _numbers(account: Mapping[str, Any]) -> dict[str, int]:
    return {name: value for name, value in account.items() if type(value) is int}


def write_deidentified(made: Deidentified, folder: str | Path) -> None:
    """Write the tables and the ledger into a folder that holds nothing else: all or none.

    Raises
    ------
    InputError
        When the folder holds anything but an earlier run's output.
    """
    target = Path(folder)
    if target.is_file():
        raise InputError(f"{target}: is a file; name a folder")
    strange = sorted(path.name for path in target.iterdir() if path.name not in OUTPUTS) if target.is_dir() else []
    if strange:
        raise InputError(
            f"{target}: holds {strange[0]!r} and {len(strange)} things in all that would go out with the release; "
            "name an empty folder"
        )
    writers: dict[str | os.PathLike[str], Callable[[Path], None]] = {
        target / f"{name}.csv": partial(_write, frame=frame) for name, frame in made.tables.items()
    }
    if made.ledger is not None:
        writers[target / LEDGER] = partial(write_json_atomic, value=made.ledger)
    write_files_atomic(writers)
    if made.ledger is None:
        (target / LEDGER).unlink(missing_ok=True)


def _write(path: Path, frame: pd.DataFrame) -> None:
    path.write_bytes(csv_bytes(frame.columns, frame.itertuples(index=False)))

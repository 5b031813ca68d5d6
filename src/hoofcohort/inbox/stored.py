"""What is kept of one file on disk, so that a file that has not changed need not be read again."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from collections.abc import Sequence
from dataclasses import asdict, fields
from functools import partial
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq

from hoofcohort.errors import InputError
from hoofcohort.files import write_files_atomic
from hoofcohort.inbox.gather import read_batch
from hoofcohort.inbox.listing import Source, list_inbox
from hoofcohort.inbox.packed import COLUMNS, NAMED, Packed, join
from hoofcohort.inbox.part import Finding, Part
from hoofcohort.sheets.sheet import Aside, Ragged

_ROWS = ("line", "part")
_FATES = ("rejected", "derived")


def find_source(path: Path) -> Source:
    """Return the file ``INBOX/<round>/<member>/<file>`` as its inbox lists it.

    Raises
    ------
    InputError
        When there is no such file of a member.
    """
    whole = path.absolute()
    if len(whole.parts) > 4:
        for source in list_inbox(whole.parents[2]):
            if source.path == whole:
                return source
    raise InputError(f"{path}: is no member's file; name INBOX/<round>/<member>/<file>, and no mapping")


def store(source: Source, folder: Path, as_of: dt.date | None = None) -> None:
    """Read a file and write what is kept of it into a folder, ``<source.part>.parquet`` and ``.json``: both or none."""
    packed = read_batch([source], as_of)
    told = {
        "of": _digest(source, as_of),
        "parts": [{one.name: getattr(part, one.name) for one in fields(part)} for part in packed.parts],
    }
    rows = pa.concat_tables(
        [table.append_column("table", _constant(name, len(table))) for name, table in packed.tables.items()],
        promote_options="default",
    )
    text = json.dumps(told, default=asdict, indent=1)
    write_files_atomic(
        {
            folder / f"{source.part}.json": partial(_write_text, text),
            folder / f"{source.part}.parquet": partial(pq.write_table, rows),
        }
    )


def _constant(text: str, size: int) -> pa.DictionaryArray:
    return pa.DictionaryArray.from_arrays(pa.array([0] * size, pa.int32()), pa.array([text]))


def _write_text(text: str, path: Path) -> None:
    path.write_text(text + "\n", encoding="ascii")


def _digest(source: Source, as_of: dt.date | None) -> str:
    """Return a digest of all that a file's part depends on but the program."""
    whole = hashlib.sha256(f"{as_of}\n".encode())
    for path in (source.path, *source.mappings):
        whole.update(hashlib.sha256(path.read_bytes()).digest())
    return whole.hexdigest()


def restore(sources: Sequence[Source], folder: Path, as_of: dt.date | None = None) -> Packed:
    """Return what is kept of files, in the order given.

    Raises
    ------
    InputError
        When something is missing, was made of another version of a file or for another day, or cannot be read.
    """
    return join([_restore(source, folder, as_of) for source in sources])


def _restore(source: Source, folder: Path, as_of: dt.date | None) -> Packed:
    place = folder / source.part
    again = f"run hoofcohort inbox-file {source.path} again"
    try:
        told = json.loads(place.with_name(f"{source.part}.json").read_text(encoding="ascii"))
        if told["of"] != _digest(source, as_of):
            raise InputError(
                f"{place}: was made of another version of the file or its mapping, or another day; {again}"
            )
        rows = pq.read_table(place.with_name(f"{source.part}.parquet"))
        return Packed([_part(one) for one in told["parts"]], {name: _rows(rows, name) for name in COLUMNS})
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise InputError(f"{place}: what is kept of {source.path} cannot be read; {again}") from error


def _rows(rows: pa.Table, name: str) -> pa.Table:
    own = rows.filter(pc.equal(rows["table"].cast(pa.string()), name))
    return own.select([*COLUMNS[name], *_ROWS, *(() if name == NAMED else _FATES)])


def _part(told: dict[str, Any]) -> Part:
    """Return a part of its JSON."""
    return Part(
        **told
        | {
            "tables": {},
            "named": None,
            "ragged": tuple(Ragged(**one | {"cells": tuple(one["cells"])}) for one in told["ragged"]),
            "aside": tuple(Aside(**one) for one in told["aside"]),
            "findings": [Finding(**one) for one in told["findings"]],
            "understood": tuple(told["understood"]),
            "places": {name: (place, header) for name, (place, header) in told["places"].items()},
        }
    )

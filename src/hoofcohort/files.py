"""Files written whole or not at all, and text that no spreadsheet will take for a formula."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import os
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from tempfile import NamedTemporaryFile
from typing import TYPE_CHECKING, Any

from hoofcohort.errors import InputError

if TYPE_CHECKING:
    import pandas as pd

_STEERING = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f]")
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")
"""First characters that a spreadsheet may read as the start of a formula."""


def write_files_atomic(writers: Mapping[str | os.PathLike[str], Callable[[Path], None]]) -> None:
    """Write several files, all or none: each writer fills a temporary file beside its target; renames come last.

    Parameters
    ----------
    writers : mapping
        Target path to a function that writes the file it is given.

    Notes
    -----
    When a writer fails, no target has changed, and no temporary file and no folder made for them is left.
    """
    temporaries: list[tuple[Path, Path]] = []
    made: list[Path] = []
    try:
        for path, write in writers.items():
            target = Path(path)
            made += [folder for folder in target.parents if not folder.exists()]
            target.parent.mkdir(parents=True, exist_ok=True)
            with NamedTemporaryFile(dir=target.parent, prefix=f".{target.name}.", delete=False) as handle:
                temporaries.append((Path(handle.name), target))
            write(temporaries[-1][0])
            temporaries[-1][0].chmod(0o644)
        for temporary, target in temporaries:
            os.replace(temporary, target)
    except BaseException:
        for temporary, _ in temporaries:
            temporary.unlink(missing_ok=True)
        for folder in sorted(made, key=lambda folder: -len(folder.parts)):
            with suppress(OSError):
                folder.rmdir()
        raise


def write_atomic(path: str | os.PathLike[str], write: Callable[[Path], None]) -> None:
    """Let ``write`` fill a temporary file beside ``path``, then put it in its place; on failure leave nothing."""
    write_files_atomic({path: write})


def write_text_atomic(path: str | os.PathLike[str], text: str) -> None:
    """Write text as UTF-8, line ends as they are."""

    def write(temporary: Path) -> None:
        temporary.write_bytes(text.encode())

    write_atomic(path, write)


def write_json_atomic(path: str | os.PathLike[str], value: Any) -> None:
    """Write a value as indented JSON, keys in the order given; NaN and infinity are refused."""
    write_text_atomic(path, json.dumps(value, indent=1, ensure_ascii=False, allow_nan=False) + "\n")


def write_parquet_atomic(path: str | os.PathLike[str], frame: pd.DataFrame) -> None:
    """Write a frame as Parquet without its index."""
    write_atomic(path, lambda temporary: frame.to_parquet(temporary, index=False))


def read_parquet(path: str | os.PathLike[str], made_by: str) -> pd.DataFrame:
    """Read a frame that an earlier stage wrote.

    Raises
    ------
    InputError
        When the file cannot be read; the message says what to run (``made_by``).
    """
    import pandas as pd

    try:
        return pd.read_parquet(path)
    except (OSError, ValueError) as error:
        raise InputError(f"{path}: cannot be read as a Parquet file; run {made_by}") from error


def without_steering(text: str) -> str:
    """Return a text with question marks for the signs that steer a terminal; line ends and tabs stay."""
    return _STEERING.sub("?", text)


def guard_formula(text: str) -> str:
    """Put an apostrophe before text that a spreadsheet would read as a formula; plain numbers pass."""
    if not text.startswith(FORMULA_STARTS):
        return text
    try:
        float(text)
    except ValueError:
        return "'" + text
    return text


def csv_bytes(columns: Iterable[str], rows: Iterable[Sequence[object]]) -> bytes:
    """Return a table as CSV, UTF-8 with LF, missing (None) empty; no text in ``rows`` is a formula."""
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(columns)
    writer.writerows([guard_formula(cell) if isinstance(cell, str) else cell for cell in row] for row in rows)
    return text.getvalue().encode()


def sha256_of(path: str | os.PathLike[str]) -> str:
    """Return the SHA-256 of a file's bytes, in hexadecimal."""
    with open(path, "rb") as handle:
        return hashlib.file_digest(handle, "sha256").hexdigest()

"""``hoofcohort statistics-merge``: make one statistics file of several."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from hoofcohort.errors import InputError

if TYPE_CHECKING:
    from hoofcohort.models.portable import PortableStatistics


def register(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments."""
    add = parser.add_argument
    add("parts", nargs="+", metavar="PART.json", help="statistics files of different animals, about the same")
    add("--out", required=True, metavar="FILE.json", help="file to write")


def run(args: argparse.Namespace) -> None:
    """Read, merge, write."""
    import sys

    from hoofcohort.files import write_text_atomic
    from hoofcohort.models.gathering import merge
    from hoofcohort.models.statistics_file import statistics_text

    try:
        parts = [read_file(path) for path in args.parts]
        found = merge(parts)
    except InputError as error:
        names = "; ".join(f"part {place}: {path}" for place, path in enumerate(args.parts, start=1))
        raise InputError(f"{error} ({names})") from error
    write_text_atomic(args.out, statistics_text(found))
    unchecked = [path for path, part in zip(args.parts, parts, strict=True) if part.minimum == 1]
    if 0 < len(unchecked) < len(parts):
        print(
            f"made with --minimum 1, so that nothing was looked at, unlike the other parts: {', '.join(unchecked)}",
            file=sys.stderr,
        )
    print(f"{found.rows} rows of {found.animals} {found.specification.animal}s", file=sys.stderr)


def read_file(path: str) -> PortableStatistics:
    """Read a statistics file.

    Raises
    ------
    InputError
        With the path, when it cannot be used.
    """
    from hoofcohort.models.statistics_file import read_statistics

    try:
        return read_statistics(read_text(path))
    except InputError as error:
        raise InputError(f"{path}: {str(error).removeprefix(f'{path}: ')}") from error


def read_text(path: str) -> str:
    """Read a file's text.

    Raises
    ------
    InputError
        With the path, when it cannot be read.
    """
    from pathlib import Path

    try:
        return Path(path).read_text(encoding="utf-8")
    except OSError as error:
        raise InputError(f"{path}: cannot be read ({error.strerror})") from error
    except UnicodeDecodeError as error:
        raise InputError(f"{path}: is not a statistics file: not UTF-8 text") from error

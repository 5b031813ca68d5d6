"""``hoofcohort templates``: write what members fill in, and the tables' machine-readable description."""

from __future__ import annotations

import argparse
from functools import partial
from pathlib import Path


def register(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments."""
    parser.add_argument(
        "--out", required=True, metavar="FOLDER", help="folder for the templates; a file that is there is not replaced"
    )


def run(args: argparse.Namespace) -> None:
    """Write CSV templates, workbooks, the dictionary's page and the Data Package descriptor: all or none."""
    from hoofcohort.errors import InputError
    from hoofcohort.files import write_files_atomic
    from hoofcohort.templates.handout import handout

    folder = Path(args.out)
    contents = handout()
    there = [name for name in contents if (folder / name).exists()]
    if there:
        raise InputError(
            f"--out {args.out}: already there, and perhaps filled in: {', '.join(there)}; "
            "nothing was written: name another folder, or move these away"
        )
    write_files_atomic({folder / name: partial(_write, data=data) for name, data in contents.items()})
    print(f"written to {args.out}: {', '.join(contents)}")


def _write(path: Path, data: bytes) -> None:
    path.write_bytes(data)

"""``hoofcohort inbox-file``: read one member's file and keep what is made of it, for ``inbox-gather``."""

from __future__ import annotations

import argparse

from hoofcohort.commands.inbox import register_as_of


def register(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments."""
    parser.add_argument("file", metavar="FILE", help="INBOX/<round>/<member>/<file>")
    parser.add_argument(
        "--parts", required=True, metavar="DIR", help="folder that gets a .parquet and a .json of the file"
    )
    register_as_of(parser)


def run(args: argparse.Namespace) -> None:
    """Read the file, then write both."""
    from pathlib import Path

    from hoofcohort.inbox.stored import find_source, store

    store(find_source(Path(args.file)), Path(args.parts), args.as_of)

"""``hoofcohort dictionary``: write the data dictionary of the three tables."""

from __future__ import annotations

import argparse


def register(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments."""
    parser.add_argument(
        "--out",
        metavar="FILE",
        help="file to write: .html a page with drawings, .md Markdown (default: print Markdown)",
    )


def run(args: argparse.Namespace) -> None:
    """Write or print the dictionary."""
    from hoofcohort.errors import InputError
    from hoofcohort.files import write_text_atomic
    from hoofcohort.tables.dictionary import data_dictionary

    if args.out is None:
        print(data_dictionary(), end="")
        return
    try:
        write_text_atomic(args.out, _page() if args.out.lower().endswith((".html", ".htm")) else data_dictionary())
    except OSError as error:
        raise InputError(f"--out {args.out}: cannot write this file ({error.strerror}); name another one") from error


def _page() -> str:
    from hoofcohort.templates.dictionary_page import dictionary_page

    return dictionary_page()

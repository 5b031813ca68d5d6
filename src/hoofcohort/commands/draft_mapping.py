"""``hoofcohort draft-mapping``: guess what the columns of a member's file are, for a person to check."""

from __future__ import annotations

import argparse


def register(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments."""
    parser.add_argument("file", metavar="FILE", help="the member's file, CSV or spreadsheet")
    parser.add_argument("--sheet", metavar="NAME", help="the sheet of a spreadsheet; needed when it holds several")
    parser.add_argument("--out", required=True, metavar="mapping.yaml", help="where to write the draft")


def run(args: argparse.Namespace) -> None:
    """Write the draft as YAML with comments."""
    from pathlib import Path

    from hoofcohort.errors import InputError
    from hoofcohort.files import write_text_atomic
    from hoofcohort.mapping.draft import draft
    from hoofcohort.mapping.draft_text import draft_yaml
    from hoofcohort.sheets.read import read_sheets

    sheets = read_sheets(Path(args.file))
    several = len(sheets) > 1
    names = ", ".join(repr(sheet.sheet) for sheet in sheets)
    if args.sheet is not None:
        sheets = [sheet for sheet in sheets if sheet.sheet == args.sheet]
        if not sheets:
            raise InputError(f"{args.file}: there is no sheet '{args.sheet}'; there are {names}")
    elif any(sheet.is_table for sheet in sheets):
        sheets = [sheet for sheet in sheets if sheet.is_table]
    if len(sheets) != 1:
        raise InputError(f"{args.file}: there are {len(sheets)} sheets with data: {names}; name one with --sheet")
    write_text_atomic(args.out, draft_yaml(draft(sheets[0]), Path(args.file).name, sheets[0].sheet if several else ""))

"""``hoofcohort intake``: accept or reject every row of the three CSV files."""

from __future__ import annotations

import argparse

from hoofcohort.commands import date_of


def register(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments."""
    for table in ("horses", "management", "feet"):
        parser.add_argument(f"--{table}", required=True, metavar="FILE.csv", help=f"the table {table}")
    parser.add_argument(
        "--as-of",
        type=date_of,
        metavar="YYYY-MM-DD",
        help="the day that no date in the files can be later than (default: no date is too late)",
    )
    parser.add_argument(
        "--out-dir",
        required=True,
        metavar="DIR",
        help="folder for ledger.json, rejects.csv, flags.csv and data/*.parquet",
    )


def run(args: argparse.Namespace) -> None:
    """Take the files in, then write the outputs."""
    import sys

    from hoofcohort.errors import InputError
    from hoofcohort.intake.run import take_in, write_intake

    intake = take_in({"horses": args.horses, "management": args.management, "feet": args.feet}, args.as_of)
    try:
        write_intake(intake, args.out_dir)
    except OSError as error:
        raise InputError(
            f"--out-dir {args.out_dir}: cannot write there ({error.strerror}); name another folder"
        ) from error
    for account in intake.ledger["files"].values():
        print(
            f"{account['file']}: {account['rows_read']} rows read, {account['accepted']} accepted, "
            f"{account['rejected']} rejected, {account['flagged']} values flagged",
            file=sys.stderr,
        )

"""``hoofcohort pseudonymise``: put pseudonyms in place of what names somebody, before anything is published."""

from __future__ import annotations

import argparse

from hoofcohort.commands import date_of


def register(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments."""
    parser.add_argument(
        "tables", nargs="?", metavar="IN", help="folder with horses.csv, management.csv and feet.csv, and a ledger.json"
    )
    parser.add_argument("--key", metavar="KEY", help="the secret key, kept outside IN and OUT")
    parser.add_argument("--out", metavar="OUT", help="folder for the tables to analyse and publish; nothing else in it")
    parser.add_argument("--new-key", metavar="KEY", help="draw a key, write it to this new file, and do nothing else")
    parser.add_argument(
        "--as-of",
        type=date_of,
        metavar="YYYY-MM-DD",
        help="the day that no date can be later than (default: no date is too late)",
    )


def run(args: argparse.Namespace) -> None:
    """Make a key; or read the tables, replace and leave out, and write them."""
    from hoofcohort.errors import InputError
    from hoofcohort.privacy.keys import new_key

    if args.new_key:
        if args.tables or args.key or args.out:
            raise InputError("--new-key stands alone; with the key made, give IN, --key and --out")
        new_key(args.new_key)
        return
    absent = [name for name, value in (("IN", args.tables), ("--key", args.key), ("--out", args.out)) if not value]
    if absent:
        raise InputError(f"needs {', '.join(absent)}; or --new-key alone, to make a key")
    _pseudonymise(args)


def _pseudonymise(args: argparse.Namespace) -> None:
    import sys
    from pathlib import Path

    from hoofcohort.errors import InputError
    from hoofcohort.privacy.deidentify import deidentify, write_deidentified
    from hoofcohort.privacy.keys import read_key, refuse_key_inside
    from hoofcohort.privacy.pseudonyms import Pseudonyms

    source, target = Path(args.tables).resolve(), Path(args.out).resolve()
    if source.is_relative_to(target) or target.is_relative_to(source):
        raise InputError(
            f"--out {args.out}: one folder lies in the other, {args.tables}; what names people stays apart"
        )
    refuse_key_inside(args.key, (args.tables, args.out))
    names = Pseudonyms(read_key(args.key))
    made = deidentify(args.tables, names, args.as_of)
    write_deidentified(made, args.out)
    for table, frame in made.tables.items():
        print(f"{table}.csv: {len(frame)} rows, {made.left_out[table]} rejected ones left out", file=sys.stderr)
    print(
        f"{made.recognisable} of {len(made.tables['horses'])} horses are the only one with their year of birth, sex "
        "and breed group: whoever knows such a horse may recognise it, so publish results rather than these rows",
        file=sys.stderr,
    )

"""``hoofcohort release-check``: search what is to be published for anything that names somebody."""

from __future__ import annotations

import argparse


def register(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments."""
    parser.add_argument("release", metavar="RELEASE", help="the folder, or one file, that is to be published")
    parser.add_argument(
        "--against",
        required=True,
        action="append",
        metavar="ORIGINALS",
        help="the folder given to pseudonymise, with the true names; give earlier ones too, each with --against: they "
        "hold names that were withdrawn since",
    )
    parser.add_argument("--key", metavar="KEY", help="the secret key, searched for as well")
    parser.epilog = "Exit status: 0 nothing found, 1 something found, 2 something could not be checked."


SHOWN = 20
"""Findings of a file that are listed singly."""


def run(args: argparse.Namespace) -> int:
    """Search, and say what was found, what could not be looked at, and what was not looked for."""
    from itertools import groupby

    from hoofcohort.privacy.keys import read_key
    from hoofcohort.privacy.patterns import NOT_SOUGHT
    from hoofcohort.privacy.private_values import read_originals
    from hoofcohort.privacy.release import check_release

    originals = read_originals(*args.against)
    checked = check_release(args.release, originals, read_key(args.key) if args.key else None)
    for (file, what), group in groupby(checked.findings, key=lambda one: (one.file, one.what)):
        found = list(group)
        for one in found[:SHOWN]:
            times = f", {one.times} times" if one.times > 1 else ""
            print(f"FOUND {file}: {one.place}: {what}: {one.shown}{times}")
        if len(found) > SHOWN:
            print(f"FOUND {file}: {what}: {len(found) - SHOWN} values more")
    for place, reason in checked.unseen:
        print(f"NOT CHECKED {place}: {reason}")
    for name in checked.rows:
        print(
            f"WARNING {name}: rows of single horses or readings: who knows a horse may find it; better left out, or "
            "published only where the owners agree"
        )
    for (column, reason), count in originals.not_searched.items():
        kind = column.removesuffix("_id")
        only = f"; only looked for as '{kind} ...' and in columns of codes and labels" if column != "file" else ""
        print(f"not searched: {count} values of {column}, because they are {reason}{only}")
    for passed_over in NOT_SOUGHT:
        print(f"not searched: {passed_over}")
    print(
        f"{checked.files} files searched for {len(originals.values)} private values: {len(checked.findings)} found, "
        f"{len(checked.unseen)} places not checked, {len(checked.rows)} files with rows of single horses"
    )
    return 1 if checked.findings else 2 if checked.unseen else 0

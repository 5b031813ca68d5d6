"""``hoofcohort inbox``: take in what members sent, account for every row, and write each of them a letter."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from hoofcohort.commands import date_of

if TYPE_CHECKING:
    from hoofcohort.inbox.run import Inbox


def register(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments."""
    parser.add_argument("inbox", metavar="INBOX", help="folder <round>/<member>/<files>, with consent.csv beside")
    parser.add_argument("--out", required=True, metavar="DIR", help="folder for the tables, the ledger and the letters")
    register_as_of(parser)
    parser.add_argument(
        "--jobs", type=_jobs, metavar="N", help="processes that read files (default: one, or two for a large inbox)"
    )


def register_as_of(parser: argparse.ArgumentParser) -> None:
    """Declare the option for the day that the inbox is of."""
    parser.add_argument(
        "--as-of",
        type=date_of,
        metavar="YYYY-MM-DD",
        help="the day that no date can be later than (default: no date is too late)",
    )


def _jobs(text: str) -> int:
    if text.isascii() and text.isdigit() and int(text) > 0:
        return int(text)
    raise argparse.ArgumentTypeError(f"found '{text}'; write a whole number from 1")


def run(args: argparse.Namespace) -> int:
    """Settle the inbox, then write everything; return 1 when a withdrawal of consent reached nothing."""
    from hoofcohort.inbox.run import take_inbox, write_inbox

    refuse_inside(args.out, args.inbox)
    inbox = take_inbox(args.inbox, args.as_of, args.jobs)
    write_inbox(inbox, args.out)
    tell(inbox)
    return 1 if inbox.pool.missed else 0


def refuse_inside(out: str, inbox: str) -> None:
    """Refuse a folder for the outputs in which they would be taken for a round."""
    from pathlib import Path

    from hoofcohort.errors import InputError

    if Path(out).resolve().is_relative_to(Path(inbox).resolve()):
        raise InputError(f"--out {out}: lies in the inbox, where it would be taken for a round; name another folder")


def tell(inbox: Inbox) -> None:
    """Say how many rows of each member came and what came of each, and which withdrawals reached nothing."""
    import sys

    from hoofcohort.inbox.coordinator_items import missed_text

    for line, near in inbox.pool.missed.items():
        print(f"warning: {missed_text(line, near)}; rows may be used without consent", file=sys.stderr)
    for one in inbox.pool.unread:
        print(f"warning: {'/'.join(filter(None, (one.round, one.file)))}: not read: {one.why}", file=sys.stderr)
    for part in inbox.pool.parts:
        if part.asked:
            print(f"warning: {part.round}/{part.member}/{part.file}: cannot be used: {part.asked}", file=sys.stderr)
    for member, counts in inbox.ledger["members"].items():
        print(f"{member}: {fates_text(counts)}", file=sys.stderr)


def fates_text(counts: dict[str, int]) -> str:
    """Return an account of the ledger so that it adds up: ``3 rows read: 1 accepted, 1 rejected, 1 aside``."""
    from hoofcohort.inbox.ledger import FATES

    told = (f"{counts[fate]} {fate}" for fate in FATES if counts[fate] or fate in ("accepted", "rejected"))
    return f"{counts['rows_read']} row{'' if counts['rows_read'] == 1 else 's'} read: {', '.join(told)}"

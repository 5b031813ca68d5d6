"""``hoofcohort inbox-gather``: what ``inbox`` does, from what ``inbox-file`` kept of every file."""

from __future__ import annotations

import argparse

from hoofcohort.commands.inbox import refuse_inside, register_as_of, tell


def register(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments."""
    parser.add_argument("inbox", metavar="INBOX", help="folder <round>/<member>/<files>, with consent.csv beside")
    parser.add_argument("--parts", required=True, metavar="DIR", help="the folder that inbox-file wrote into")
    parser.add_argument("--out", required=True, metavar="DIR", help="folder for the tables, the ledger and the letters")
    register_as_of(parser)


def run(args: argparse.Namespace) -> None:
    """Settle the inbox, then write everything."""
    from pathlib import Path

    from hoofcohort.inbox.consent import read_consent
    from hoofcohort.inbox.listing import CONSENT, list_inbox, list_unread
    from hoofcohort.inbox.run import settle, write_inbox
    from hoofcohort.inbox.stored import restore

    refuse_inside(args.out, args.inbox)
    folder = Path(args.inbox)
    withdrawn = read_consent(folder / CONSENT, args.as_of)
    held = restore(list_inbox(folder.absolute()), Path(args.parts), args.as_of)
    inbox = settle(held, withdrawn, args.as_of, list_unread(folder))
    write_inbox(inbox, args.out)
    tell(inbox)

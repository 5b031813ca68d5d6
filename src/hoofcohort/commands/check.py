"""``hoofcohort check``: what the study would say about files, before they are sent."""

from __future__ import annotations

import argparse

from hoofcohort.commands.inbox import register_as_of


def register(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments."""
    parser.add_argument("files", nargs="+", metavar="FILE", help="a file, or several that belong together")
    parser.add_argument(
        "--mapping", metavar="mapping.yaml", help="what their headers, units and words mean, where they fit it"
    )
    parser.add_argument("--table", choices=("horses", "management", "feet", "flat"), help="the table they must hold")
    register_as_of(parser)


def run(args: argparse.Namespace) -> int:
    """Print the findings; return 0 when every row is good, 1 when rows come back, 2 when a file cannot be read."""
    import sys
    from pathlib import Path

    from hoofcohort.inbox.before_sending import settle_before
    from hoofcohort.inbox.member import read_parts
    from hoofcohort.mapping.mapping import load_mapping
    from hoofcohort.mapping.reasons import SENTENCES

    mappings = [load_mapping(args.mapping)] if args.mapping else []
    parts = [
        part
        for file in args.files
        for part in read_parts(Path(file), mappings, as_of=args.as_of, table=args.table or "")
    ]
    inbox = settle_before(parts, args.as_of)
    status = 0
    for part, counts in zip(inbox.pool.parts[: len(parts)], inbox.ledger["files"], strict=False):
        name = part.name
        if part.refused:
            print(f"{name}: {part.refused}", file=sys.stderr)
            status = 2
            continue
        for sentence in part.understood:
            print(f"{name}: {sentence}")
        for one in part.findings:
            place = f"line {one.line}" + (f", column {one.position} ('{one.header}')" if one.position else "")
            found = f" found '{one.value}'." if one.value else ""
            print(f"{one.severity}: {name}, {place}:{found} {SENTENCES[one.reason]} What to do: {one.remedy}")
        rows, back = part.rows_read - len(part.aside), counts["rejected"]
        print(f"{name}: {rows} row{'' if rows == 1 else 's'} of data, {back} come{'s' if back == 1 else ''} back")
        status = max(status, 1 if counts["rejected"] else 0)
    return status

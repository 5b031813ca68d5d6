"""``hoofcohort check``: what the study would say about a file, before it is sent."""

from __future__ import annotations

import argparse


def register(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments."""
    parser.add_argument("file", metavar="FILE", help="the file, CSV or spreadsheet")
    parser.add_argument("--mapping", metavar="mapping.yaml", help="what its headers, units and words mean")
    parser.add_argument("--table", choices=("horses", "management", "feet", "flat"), help="the table it must hold")


def run(args: argparse.Namespace) -> int:
    """Print the findings; return 0 when every row is good, 1 when rows come back, 2 when the file cannot be read."""
    import sys
    from pathlib import Path

    from hoofcohort.inbox.member import read_parts
    from hoofcohort.mapping.mapping import load_mapping
    from hoofcohort.mapping.reasons import SENTENCES

    mappings = [load_mapping(args.mapping)] if args.mapping else []
    parts = read_parts(Path(args.file), mappings, table=args.table or "")
    status = 0
    for part in parts:
        name = f"{part.file}, sheet {part.sheet}" if part.sheet else part.file
        if part.refused:
            print(f"{name}: {part.refused}", file=sys.stderr)
            status = 2
            continue
        for sentence in part.understood:
            print(f"{name}: {sentence}")
        for one in part.findings:
            place = f"line {one.line}" + (f", column {one.position} ('{one.header}')" if one.position else "")
            found = f" found '{one.value}'." if one.value else ""
            print(f"{one.severity}: {name}, {place}:{found} {SENTENCES[one.reason]} {one.remedy}")
        back = len({one.line for one in part.findings if one.severity == "error"})
        print(f"{name}: {part.rows_read - len(part.aside)} rows of data, {back} come back")
        status = max(status, 1 if back else 0)
    return status

"""``hoofcohort derive``: compute the indices of every accepted reading."""

from __future__ import annotations

import argparse

INTAKE = "'hoofcohort intake' first: it writes feet and horses"


def register(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments."""
    parser.add_argument("--feet", required=True, metavar="FILE.parquet", help="accepted readings")
    parser.add_argument("--horses", required=True, metavar="FILE.parquet", help="accepted horses")
    parser.add_argument("--out", required=True, metavar="FILE.parquet", help="readings with their indices")


def run(args: argparse.Namespace) -> None:
    """Read the two tables, derive, write."""
    import sys

    from hoofcohort.files import read_parquet, write_parquet_atomic
    from hoofcohort.indices import CATALOGUE
    from hoofcohort.indices.derive import derive

    readings = derive(*(read_parquet(path, INTAKE) for path in (args.feet, args.horses)))
    write_parquet_atomic(args.out, readings)
    print(f"{args.out}: {len(readings)} readings with {len(CATALOGUE)} indices each", file=sys.stderr)

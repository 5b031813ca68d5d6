"""``hoofcohort derive``: compute the indices of every accepted reading."""

from __future__ import annotations

import argparse


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

    readings = derive(read_parquet(args.feet), read_parquet(args.horses))
    write_parquet_atomic(args.out, readings)
    known = sum(int(readings[name].notna().sum()) for name in CATALOGUE)
    print(f"{args.out}: {len(readings)} readings, {len(CATALOGUE)} indices, {known} values", file=sys.stderr)

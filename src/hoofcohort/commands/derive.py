"""``hoofcohort derive``: compute the indices of every accepted reading."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pandas as pd


def register(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments."""
    parser.add_argument("--feet", required=True, metavar="FILE.parquet", help="accepted readings")
    parser.add_argument("--horses", required=True, metavar="FILE.parquet", help="accepted horses")
    parser.add_argument("--out", required=True, metavar="FILE.parquet", help="readings with their indices")


def run(args: argparse.Namespace) -> None:
    """Read the two tables, derive, write."""
    import sys

    from hoofcohort.files import write_parquet_atomic
    from hoofcohort.indices import CATALOGUE
    from hoofcohort.indices.derive import derive

    readings = derive(_read(args.feet), _read(args.horses))
    write_parquet_atomic(args.out, readings)
    print(f"{args.out}: {len(readings)} readings with {len(CATALOGUE)} indices each", file=sys.stderr)


def _read(path: str) -> pd.DataFrame:
    import pandas as pd

    from hoofcohort.errors import InputError

    try:
        return pd.read_parquet(path)
    except (OSError, ValueError) as error:
        text = f"{path}: cannot be read as a Parquet file; run 'hoofcohort intake' first: it writes feet and horses"
        raise InputError(text) from error

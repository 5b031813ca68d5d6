"""One thin module per subcommand: arguments, files in, files out."""

from __future__ import annotations

import argparse
import datetime as dt


def date_of(text: str) -> dt.date:
    """Return the date that an argument gives.

    Raises
    ------
    argparse.ArgumentTypeError
        When it is not a date as YYYY-MM-DD.
    """
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"found '{text}'; write a date as YYYY-MM-DD, such as 2026-03-14") from None

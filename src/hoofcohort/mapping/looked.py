"""What the checks between readings need: rows, and a place to tell what was found."""

from __future__ import annotations

from typing import Protocol

import pandas as pd


class Looked(Protocol):
    """Rows of feet, of one sheet or of many; ``frame`` holds our columns as text."""

    frame: pd.DataFrame

    def tell(self, row: int, column: str, reason: str, remedy: str) -> None:
        """Add a finding about a cell of a row of the frame."""

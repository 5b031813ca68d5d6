"""What the reader of files cannot or will not read."""

from __future__ import annotations

from hoofcohort.errors import HoofcohortError


class UnreadableError(HoofcohortError):
    """A file is refused as a whole; the text says why and what to do."""

"""Small helpers for sentences."""

from __future__ import annotations

from collections.abc import Sequence


def joined(words: Sequence[str]) -> str:
    """Return ``a, b and c``."""
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} and {words[-1]}"

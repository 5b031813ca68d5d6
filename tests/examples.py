"""How many examples a property test looks at: few by default, many with ``-m slow``."""

from __future__ import annotations

MORE = 10
"""Times as many with ``-m slow``."""

_times = 1


def look_at_more() -> None:
    """Ask for many; before any test file is read."""
    global _times
    _times = MORE


def examples(few: int) -> int:
    """Return the number of examples of a property test that looks at ``few`` by default."""
    return few * _times

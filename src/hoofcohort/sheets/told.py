"""Sentences about lines: few are named, many are counted."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from hoofcohort.sheets.limits import LONGEST_SHOWN, MOST_SHOWN


def runs_of(lines: Iterable[int]) -> list[list[int]]:
    """Return the first and the last of each stretch of neighbouring lines, which come ascending."""
    runs: list[list[int]] = []
    for line in lines:
        if runs and line == runs[-1][1] + 1:
            runs[-1][1] = line
        else:
            runs.append([line, line])
    return runs


def lines_said(lines: Iterable[int], word: str = "line") -> str:
    """Return ``line 3``, ``lines 3, 5-9`` or ``lines 3, 5-9 and 210 more``.

    Parameters
    ----------
    lines : iterable of int
        Ascending, at least one.
    word : str
        What is counted, in the singular.
    """
    runs = runs_of(lines)
    shown = ", ".join(f"{first}-{last}" if last > first else f"{first}" for first, last in runs[:MOST_SHOWN])
    more = sum(last - first + 1 for first, last in runs[MOST_SHOWN:])
    several = len(runs) > 1 or runs[0][0] < runs[0][1]
    return f"{word}{'s' if several else ''} {shown}{f' and {more} more' if more else ''}"


def shown(text: str) -> str:
    """Return a text in quotation marks, shortened, as a sentence repeats it."""
    return f"'{text[:LONGEST_SHOWN]}{' ...' if len(text) > LONGEST_SHOWN else ''}'"


def names_said(names: Sequence[str]) -> str:
    """Return names in quotation marks; beyond a dozen they are counted."""
    more = f" and {len(names) - MOST_SHOWN} more" if len(names) > MOST_SHOWN else ""
    return ", ".join(shown(name) for name in names[:MOST_SHOWN]) + more

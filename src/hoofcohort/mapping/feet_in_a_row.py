"""Recognise headers that name one foot each: a row of such a file holds several feet, and ours holds one."""

from __future__ import annotations

from collections.abc import Sequence

from hoofcohort.mapping.cell_words import WORDS
from hoofcohort.mapping.vocabulary import KNOWN_HEADERS, plain_header, unit_of_header
from hoofcohort.tables import TABLES

_SIDES = ("l", "r", "left", "right", "links", "rechts", "gauche", "droite")
_FEET = {plain_header(word): foot for foot, words in WORDS["foot"].items() for word in (foot, *words)}
_FEET |= {side: side for side in _SIDES}
_CERTAIN = {"lf", "rf", "lh", "rh", "fl", "fr", "hl", "hr", "vl", "vr", *_SIDES}
"""The others are words of other meanings too: alone they say nothing."""


def foot_in_header(header: str) -> tuple[str, str]:
    """Return what a header says besides the foot at its start or end, and the foot or side; both empty for none."""
    words = plain_header(unit_of_header(header)[0]).split()
    for size in (2, 1):
        if len(words) > size:
            for rest, foot in ((words[:-size], words[-size:]), (words[size:], words[:size])):
                if named := _FEET.get(" ".join(foot)):
                    return " ".join(rest), named
    return "", ""


def feet_in_headers(headers: Sequence[str]) -> dict[int, str]:
    """Return the places of headers that name a foot, and the header besides.

    Parameters
    ----------
    headers : sequence of str

    Returns
    -------
    dict
        Place to what the header says besides the foot: where several headers say the same of different feet, or one
        names a measure of ours and certainly a foot. A header that is known as it stands names no foot.
    """
    found = {
        place: foot_in_header(header)
        for place, header in enumerate(headers)
        if plain_header(unit_of_header(header)[0]) not in KNOWN_HEADERS
    }
    feet: dict[str, set[str]] = {}
    for rest, foot in found.values():
        feet.setdefault(rest, set()).add(foot)
    return {
        place: rest
        for place, (rest, foot) in found.items()
        if rest and (len(feet[rest]) > 1 or (foot.casefold() in _CERTAIN and _is_measure(rest)))
    }


def _is_measure(rest: str) -> bool:
    return KNOWN_HEADERS.get(rest, "") in {column.name for column in TABLES["feet"].measurements}


def remedy(headers: Sequence[str]) -> str:
    """Return how to lay out a file with such headers."""
    shown = ", ".join(f"'{header}'" for header in headers[:4]) + (" ..." if len(headers) > 4 else "")
    return (
        f"a row of this file seems to hold several feet ({shown}); use one row a foot: give each foot a row of its own "
        "that repeats horse and date, a column 'foot' with LF, RF, LH or RH, and one column for each measure"
    )

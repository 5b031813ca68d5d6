"""Find the sign between cells: the one by which the rows agree on their number of cells, under a row of words."""

from __future__ import annotations

import csv
import re
from collections import Counter
from collections.abc import Sequence
from contextlib import suppress

SEPARATORS = {",": "comma", ";": "semicolon", "\t": "tab", "|": "vertical bar"}
LOOKED_AT = 120
"""Lines from which the separator is found."""
NONE_NEEDED = "separator: none needed, one cell on each line"
_SAID = re.compile(r'"?sep=([,;|\t])"?[,;|\t]*\s*', re.I)
_DIGIT = re.compile(r"\d")


def said_separator(first_line: str) -> str:
    """Return the separator that a first line such as ``sep=;`` names, or an empty text."""
    found = _SAID.fullmatch(first_line)
    return found.group(1) if found else ""


def find_separator(lines: Sequence[str]) -> tuple[str, str]:
    """Return the separator and how it was found.

    Parameters
    ----------
    lines : sequence of str
        The file's lines with their ends.

    Returns
    -------
    separator : str
        A comma when there is none.
    said : str
        A sentence.
    """
    head = lines[:LOOKED_AT]
    text = "".join(head)
    scores = {separator: _score(head, separator) for separator in SEPARATORS if separator in text}
    best = max(scores, key=lambda own: scores[own], default=",")
    if not scores or scores[best][2] < 2:
        return best if scores else ",", NONE_NEEDED
    return best, f"separator: {SEPARATORS[best]}"


def parted_by_blanks(lines: Sequence[str]) -> bool:
    """Tell whether lines without another separator look like a table: most have as many words, three or more.

    Before each row but the header may stand its name, as statistics programs write it.
    """
    head = [line.strip() for line in lines[:LOOKED_AT] if line.strip()]
    widths: list[int] = []
    with suppress(csv.Error):
        widths.extend(len(row) for row in csv.reader(head, delimiter=" ", skipinitialspace=True))
    width, count = Counter(widths[1:]).most_common(1)[0] if len(widths) > 1 else (0, 0)
    return width >= 3 and 2 * count > len(widths) - 1 and widths[0] in (width, width - 1)


def _score(lines: Sequence[str], separator: str) -> tuple[bool, int, int]:
    """Tell whether a row has several words and no number, how many rows are as wide as most, and the width.

    A cell with an odd number of quotation marks was cut inside them, so that its row is none of words.
    """
    rows: list[list[str]] = []
    with suppress(csv.Error):
        rows.extend(row for row in csv.reader(lines, delimiter=separator) if any(row))
    widths = Counter(len(row) for row in rows)
    width, count = max(widths.items(), key=lambda own: (own[1] if own[0] > 1 else 0, own[0]), default=(1, 0))
    if width < 2:
        return False, 0, width
    headed = any(
        len(row) - row.count("") > 1 and not any(_DIGIT.match(cell) or cell.count('"') % 2 for cell in row)
        for row in rows
    )
    return headed, count, width

"""Check a file's header against the table's declaration."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from hoofcohort.errors import nearest
from hoofcohort.tables import Table

_OTHER_SEPARATORS = {";": "semicolons", "\t": "tabs", "|": "vertical bars"}


def header_faults(header: Sequence[str], table: Table) -> list[str]:
    """Return what is wrong with a header, each fault as a sentence that says what to do.

    Parameters
    ----------
    header : sequence of str
        Names as found, without blanks around them.
    table : Table
        The declaration.

    Returns
    -------
    list of str
        Unknown, nameless, repeated and missing columns; empty when the header is right.
    """
    for separator, word in _OTHER_SEPARATORS.items():
        if len(header) == 1 and separator in header[0]:
            return [f"cells seem to be separated by {word}; save the file as CSV with commas"]
    known, count = table.by_name, Counter(header)
    missing = [name for name in known if name not in count]
    faults = [_unknown(name, table, missing) for name in count if name and name not in known]
    faults += [
        f"column {position} has no name; name it or delete it"
        for position, name in enumerate(header, start=1)
        if not name
    ]
    faults += [
        f"column '{name}' stands {times} times in the header; keep one"
        for name, times in count.items()
        if times > 1 and name
    ]
    required = [name for name in missing if known[name].required]
    return faults + [f"column '{name}' is missing; add it: {known[name].meaning}" for name in required]


def _unknown(name: str, table: Table, missing: Sequence[str]) -> str:
    hint = nearest(name, missing) or nearest(name, table.names)
    return f"unknown column '{name}'" + (hint or f"; delete it, or rename it to one of {', '.join(table.names)}")

"""The columns of released tables: what may not stand in them, whatever the originals hold."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator, Mapping, Sequence

from hoofcohort.privacy.named import LABEL, Named
from hoofcohort.privacy.patterns import CONTACT_COLUMN
from hoofcohort.privacy.pseudonyms import CODE, LETTERS, PATTERN
from hoofcohort.tables import TABLES

PSEUDONYMS = {column.name for table in TABLES.values() for column in table.columns if column.private == "pseudonym"}
REMOVED = {column.name for table in TABLES.values() for column in table.columns if column.private == "remove"}
_ONE_EACH = ("horse_id", "owner_id", "ueln", "microchip", "row_key")
"""Columns of tables with a row for each horse or each reading of one."""
_OF_ONE = re.compile(rf"(?<![A-Z0-9])(?:{LETTERS['horse']}|{LETTERS['owner']})-[A-Z2-7]{{{CODE}}}(?![A-Z0-9])")
"""A pseudonym of a horse or an owner, whatever the column: what stands beside it is about that one."""
_REJECTS = ("file", "line", "column", "value")
"""How tables of rejects and flags begin: their cells are what members wrote."""
_SEPARATORS = ",;\t|"
_MEMBER = re.compile(rf'"({"|".join(sorted(PSEUDONYMS | REMOVED))})"\s*:\s*"?([^",}}\]\s][^",}}\]\n]*)')


def csv_columns(text: str) -> Mapping[str, Sequence[str]]:
    """Return the columns of interest of a text that is a table, or the members of those names in JSON; else none."""
    head = text[:10_000].lstrip("\ufeff").split("\n", 1)[0]
    names = [name.strip().strip('"') for name in re.split(rf"[{_SEPARATORS}]", head)]
    if not any(map(_of_interest, names)):
        return _members(text)
    rows = csv.reader(io.StringIO(text.lstrip("\ufeff"), newline=""), delimiter=max(_SEPARATORS, key=head.count))
    found: dict[str, dict[str, None]] = {}
    try:
        header = [name.strip() for name in next(rows)]
        wanted = {at: found.setdefault(name, {}) for at, name in enumerate(header) if _of_interest(name)}
        for row in rows:
            for at, values in wanted.items():
                if at < len(row):
                    values[row[at].strip()] = None
    except csv.Error:
        return {name: ["a table that cannot be read"] for name in names}
    return {name: list(values) for name, values in found.items()}


def _members(text: str) -> Mapping[str, Sequence[str]]:
    found: dict[str, dict[str, None]] = {}
    for match in _MEMBER.finditer(text):
        if match.group(2) not in ("null", "[", "{"):
            found.setdefault(match.group(1), {})[match.group(2).strip()] = None
    return {name: list(values) for name, values in found.items()}


def faulty_cells(columns: Mapping[str, Sequence[str]], named: Named) -> Iterator[tuple[str, str, str]]:
    """Yield what is wrong, the value and the place of cells that cannot be published.

    A column of codes holds pseudonyms, a private number or contact detail has no column, and a column of labels holds
    no short value of the originals.
    """
    for name, values in columns.items():
        plain, place = _plain(name), f"column {name}"
        filled = [value for value in values if value]
        if plain in PSEUDONYMS:
            bare = [value for value in filled if not PATTERN.fullmatch(value)]
            yield from ((f"column {plain} without a pseudonym", value, place) for value in bare)
        elif filled and (plain in REMOVED or CONTACT_COLUMN.fullmatch(plain)):
            yield "a column that is never published", name, place
        elif LABEL.fullmatch(plain):
            yield from ((column, value, place) for value in filled if (column := named.column_of(value)))


def holds_rows(text: str, columns: Mapping[str, Sequence[str]]) -> bool:
    """Tell whether a text, or a table's columns, have rows of single horses or owners, or what members wrote in one."""
    lines = text[:10_000].split("\n", 2)
    head = [_plain(name.strip('\ufeff" \r')) for name in re.split(rf"[{_SEPARATORS}]", lines[0])]
    if tuple(head[: len(_REJECTS)]) == _REJECTS and "".join(lines[1:]).strip():
        return True
    if _OF_ONE.search(text):
        return True
    return any(_plain(name) in _ONE_EACH and any(values) for name, values in columns.items())


def _plain(name: str) -> str:
    return re.sub(r"[\s-]+", "_", name.strip().lower())


def _of_interest(name: str) -> bool:
    plain = _plain(name)
    return plain in PSEUDONYMS | REMOVED or bool(CONTACT_COLUMN.fullmatch(plain) or LABEL.fullmatch(plain))

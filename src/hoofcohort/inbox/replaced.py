"""What a later file of the same name does to the earlier one: its rows replace those with the same key alone."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby

import numpy as np
import pandas as pd

from hoofcohort.inbox.names import round_order, same_name
from hoofcohort.inbox.part import Part
from hoofcohort.inbox.pool import LIVE, Pool
from hoofcohort.tables import TABLES

Key = tuple[str, ...]


def replace_files(pool: Pool) -> None:
    """Replace rows by those of a readable file of the same member and name in a later round.

    A row whose key no later file holds stays as it is, and ``pool.followed`` names its part; a row whose key cannot be
    read goes. A file that is declared to replace as a whole (``Part.whole``) leaves none; one without rows replaces
    nothing.
    """
    usable = [number for number, part in enumerate(pool.parts) if not part.refused]
    usable.sort(key=lambda number: (_name(pool.parts[number]), round_order(pool.parts[number].round)))
    for _, group in groupby(usable, key=lambda number: _name(pool.parts[number])):
        numbers = list(group)
        for number in numbers:
            own = round_order(pool.parts[number].round)
            later = [one for one in numbers if round_order(pool.parts[one].round) > own and _says(pool.parts[one])]
            if later:
                _replace(pool, number, later)


def alike_files(pool: Pool) -> Iterator[tuple[Part, str]]:
    """Yield the parts of files of whose name the same member's round holds another spelling, and the first such."""
    first: dict[tuple[str, ...], str] = {}
    for part in pool.parts:
        if part.file != (other := first.setdefault((part.round, *_name(part)), part.file)):
            yield part, other


def _name(part: Part) -> tuple[str, str]:
    return same_name(part.member), same_name(part.file)


def _says(part: Part) -> bool:
    return part.whole or part.rows_read > len(part.aside)


def _replace(pool: Pool, number: int, later: Sequence[int]) -> None:
    """Replace rows of a part; what a flat sheet says of a horse stays as long as a reading of it stays."""
    part = pool.parts[number]
    whole = any(pool.parts[one].whole for one in later)
    doubted = _lines_without_key(part)
    horses = {key[0] for _, key, _ in _stays(pool, "feet", number, later, doubted)}
    kept: set[int] = set()
    for table, frame in pool.frames.items():
        derived = frame["derived"].to_numpy()
        stays = set()
        for row, key, line in [] if whole else _stays(pool, table, number, later, doubted):
            if not derived[row] or key[0] in horses:
                stays.add(row)
                kept |= set() if derived[row] else {line}
        pool.mark(table, [row for row in _rows(frame, number) if row not in stays], "superseded")
    pool.ragged[number] = ["superseded"] * len(part.ragged)
    part.findings = [one for one in part.findings if one.line in kept]
    if kept:
        pool.followed[number] = pool.parts[later[-1]].round


def _stays(
    pool: Pool, table: str, number: int, later: Sequence[int], doubted: set[int]
) -> Iterator[tuple[int, Key, int]]:
    """Yield the rows of a part that no later one replaces, with key and line."""
    frame = pool.frames[table]
    held = {key for one in later for key in _keys(frame, table, _rows(frame, one))}
    rows = _rows(frame, number)
    lines, status = frame["line"].to_numpy(), frame["status"].to_numpy(dtype=object)
    for row, key in zip(rows, _keys(frame, table, rows), strict=True):
        unread = status[row] != LIVE and (not all(key) or int(lines[row]) in doubted)
        if key not in held and not unread:
            yield row, key, int(lines[row])


def _rows(frame: pd.DataFrame, number: int) -> range:
    """Return the rows of a part; parts follow each other in a frame."""
    first, last = np.searchsorted(frame["part"].to_numpy(), (number, number + 1))
    return range(int(first), int(last))


def _keys(frame: pd.DataFrame, table: str, rows: range) -> Iterator[Key]:
    names = TABLES[table].key
    cells = [frame[name].to_numpy(dtype=object)[rows.start : rows.stop] for name in names]
    if "replicate" in names:
        place = names.index("replicate")
        cells[place] = np.where(cells[place] == "", "1", cells[place])
    return zip(*cells, strict=True)


def _lines_without_key(part: Part) -> set[int]:
    """Return the lines at fault in a cell of the key: which row they are about is not known."""
    keys = {name for table in TABLES.values() for name in table.key}
    headers = {header for name, (_, header) in part.places.items() if name in keys}
    return {one.line for one in part.findings if one.severity == "error" and one.header in headers}


def kept_lines(pool: Pool, number: int) -> list[int]:
    """Return the lines of a part that are used although a later file of the same name does not hold them."""
    lines: list[int] = []
    for frame in pool.frames.values() if number in pool.followed else ():
        rows = _rows(frame, number)
        own = frame.iloc[rows.start : rows.stop]
        lines += own.loc[(own["status"] == LIVE) & ~own["derived"], "line"].tolist()
    return sorted(lines)

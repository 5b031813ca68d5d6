"""What a later file of the same name does to the earlier one: its rows replace those with the same key alone."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import groupby

import numpy as np
import pandas as pd

from hoofcohort.inbox.names import round_order, same_name
from hoofcohort.inbox.part import Finding, Part
from hoofcohort.inbox.pool import LIVE, Pool
from hoofcohort.inbox.taken_over import take_over
from hoofcohort.tables import TABLES

Key = tuple[str, ...]
Place = tuple[int, int]
"""A part's number and a line in it."""
_NOT_OF_THE_KEY = ("horse_rejected", "duplicate_row", "contradiction")
"""Reasons that stand in a cell of the key but find no fault in it."""


def replace_files(pool: Pool, corrected: Mapping[Place, Place]) -> None:
    """Replace rows by those of a readable file of the same member and name in a later round.

    A row whose key no later file holds stays as it is, and ``pool.followed`` names its part; so does one whose key
    cannot be read, unless ``corrected`` says which row corrects it. A file that is declared to replace as a whole
    (``Part.whole``) leaves none; one without rows replaces nothing. Of a file or sheet that could not be used the next
    one takes the place.
    """
    take_over(pool.parts)
    for number, later in followed_parts(pool.parts):
        _replace(pool, number, later, corrected)
    for (number, line), (other, at) in sorted(corrected.items()):
        earlier = pool.parts[number]
        told = f"line {line} of {earlier.name} ({earlier.round}), which had come back; nothing to do if that was meant"
        pool.parts[other].findings.append(Finding(at, 0, "", "", "note", "replaces_row", told))


def followed_parts(parts: Sequence[Part]) -> Iterator[tuple[int, list[int]]]:
    """Yield each usable part with those with rows of the same member's files of that name in later rounds."""
    usable = [number for number, part in enumerate(parts) if not part.refused]
    usable.sort(key=lambda number: (_name(parts[number]), round_order(parts[number].round)))
    for _, group in groupby(usable, key=lambda number: _name(parts[number])):
        numbers = list(group)
        for number in numbers:
            own = round_order(parts[number].round)
            later = [one for one in numbers if round_order(parts[one].round) > own and _says(parts[one])]
            if later:
                yield number, later


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


def _replace(pool: Pool, number: int, later: Sequence[int], corrected: Mapping[Place, Place]) -> None:
    """Replace rows of a part; what a flat sheet says of a horse stays as long as a reading of it stays."""
    part = pool.parts[number]
    whole = any(pool.parts[one].whole for one in later)
    done = {line for one, line in corrected if one == number}
    staying = {} if whole else {table: list(_stays(pool, table, number, later, done)) for table in TABLES}
    horses = {key[0] for _, key, _ in staying.get("feet", ())}
    fates = ["superseded" if whole or one.line in done else "rejected" for one in part.ragged]
    kept = {one.line for one, fate in zip(part.ragged, fates, strict=True) if fate == "rejected"}
    for table, frame in pool.frames.items():
        derived = frame["derived"].to_numpy()
        stays = {row: line for row, key, line in staying.get(table, ()) if not derived[row] or key[0] in horses}
        kept |= {line for row, line in stays.items() if not derived[row]}
        gone = [row for row in part_rows(frame, number) if row not in stays]
        _tell_of_faulty(pool, table, [row for row in gone if frame["status"].iloc[row] == LIVE], later)
        pool.mark(table, gone, "superseded")
    pool.ragged[number] = fates
    part.findings = [one for one in part.findings if one.line in kept]
    if kept:
        pool.followed[number] = pool.parts[later[-1]].round


def _tell_of_faulty(pool: Pool, table: str, gone: Sequence[int], later: Sequence[int]) -> None:
    """Say with the faults of rows that came back that the good ones which they replace are not used either."""
    frame = pool.frames[table]
    status, lines = frame["status"].to_numpy(dtype=object), frame["line"].to_numpy()
    faulty = [row for other in later for row in part_rows(frame, other) if status[row] == "rejected"]
    if not gone or not faulty:
        return
    earlier = {key for row in gone for key in row_keys(frame, table, range(row, row + 1))}
    said = f"; until then the row of {pool.parts[frame['part'].iloc[gone[0]]].round} is not used either"
    told = {
        (int(frame["part"].iloc[row]), int(lines[row]))
        for row in faulty
        if next(row_keys(frame, table, range(row, row + 1))) in earlier
    }
    for other in sorted({other for other, _ in told}):
        part = pool.parts[other]
        part.findings = [
            replace(one, remedy=one.remedy + said)
            if (other, one.line) in told and one.severity == "error" and "is not used either" not in one.remedy
            else one
            for one in part.findings
        ]


def _stays(pool: Pool, table: str, number: int, later: Sequence[int], done: set[int]) -> Iterator[tuple[int, Key, int]]:
    """Yield the rows of a part that no later one replaces, with key and line."""
    frame = pool.frames[table]
    held = {key for one in later for key in row_keys(frame, table, part_rows(frame, one))}
    rows = part_rows(frame, number)
    lines, status = frame["line"].to_numpy(), frame["status"].to_numpy(dtype=object)
    doubted = doubted_keys(pool.parts[number])
    for row, key in zip(rows, row_keys(frame, table, rows), strict=True):
        line = int(lines[row])
        keyless = status[row] != LIVE and (not all(key) or line in doubted)
        if line not in done and (keyless or key not in held):
            yield row, key, line


def part_rows(frame: pd.DataFrame, number: int) -> range:
    """Return the rows of a part; parts follow each other in a frame."""
    first, last = np.searchsorted(frame["part"].to_numpy(), (number, number + 1))
    return range(int(first), int(last))


def row_keys(frame: pd.DataFrame, table: str, rows: range) -> Iterator[Key]:
    """Yield the keys of rows; a replicate that is not given is 1."""
    names = TABLES[table].key
    cells = [frame[name].to_numpy(dtype=object)[rows.start : rows.stop] for name in names]
    if "replicate" in names:
        place = names.index("replicate")
        cells[place] = np.where(cells[place] == "", "1", cells[place])
    return zip(*cells, strict=True)


def doubted_keys(part: Part) -> dict[int, set[str]]:
    """Return the lines with a fault in a cell of the key, to its columns: which row they are about is not known."""
    keys = {name for table in TABLES.values() for name in table.key}
    names = {header: name for name, (_, header) in part.places.items() if name in keys}
    doubted: dict[int, set[str]] = {}
    for one in part.findings:
        if one.severity == "error" and one.header in names and one.reason not in _NOT_OF_THE_KEY:
            doubted.setdefault(one.line, set()).add(names[one.header])
    return doubted


def kept_lines(pool: Pool, number: int, status: str = LIVE) -> list[int]:
    """Return the lines of a part with a status that a later file of the same name does not hold."""
    if number not in pool.followed:
        return []
    told = zip(pool.parts[number].ragged, pool.ragged[number], strict=True)
    lines = [one.line for one, fate in told if fate == status]
    for frame in pool.frames.values():
        rows = part_rows(frame, number)
        own = slice(rows.start, rows.stop)
        stays = (frame["status"].to_numpy(dtype=object)[own] == status) & ~frame["derived"].to_numpy(dtype=bool)[own]
        lines += frame["line"].to_numpy()[own][stays].tolist()
    return sorted(lines)

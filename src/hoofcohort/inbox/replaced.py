"""What a later file of the same name does to the earlier one: its rows replace those with the same key alone."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import groupby

import numpy as np
import pandas as pd

from hoofcohort.inbox.answered import Row, answered, answered_ragged
from hoofcohort.inbox.names import round_order, same_name
from hoofcohort.inbox.part import Part
from hoofcohort.inbox.pool import LIVE, Pool
from hoofcohort.inbox.taken_over import take_over
from hoofcohort.tables import TABLES

Key = tuple[str, ...]


def replace_files(pool: Pool) -> None:
    """Replace rows by those of a readable file of the same member and name in a later round.

    A row whose key no later file holds stays as it is, and ``pool.followed`` names its part; so does one whose key
    cannot be read, until a later row seems to correct it. A file that is declared to replace as a whole
    (``Part.whole``) leaves none; one without rows replaces nothing. Of a file or sheet that could not be used the next
    one takes the place.
    """
    take_over(pool.parts)
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
    asked = set() if whole else _asked(pool, number, later)
    horses = {key[0] for _, key, _ in _stays(pool, "feet", number, later, asked)}
    kept = asked & {one.line for one in part.ragged}
    for table, frame in pool.frames.items():
        derived = frame["derived"].to_numpy()
        stays = set()
        for row, key, line in [] if whole else _stays(pool, table, number, later, asked):
            if not derived[row] or key[0] in horses:
                stays.add(row)
                kept |= set() if derived[row] else {line}
        gone = [row for row in _rows(frame, number) if row not in stays]
        _tell_of_faulty(pool, table, [row for row in gone if frame["status"].iloc[row] == LIVE], later)
        pool.mark(table, gone, "superseded")
    pool.ragged[number] = ["rejected" if one.line in asked else "superseded" for one in part.ragged]
    part.findings = [one for one in part.findings if one.line in kept]
    if kept:
        pool.followed[number] = pool.parts[later[-1]].round


def _tell_of_faulty(pool: Pool, table: str, gone: Sequence[int], later: Sequence[int]) -> None:
    """Say with the faults of rows that came back that the good ones which they replace are not used either."""
    frame = pool.frames[table]
    status, lines = frame["status"].to_numpy(dtype=object), frame["line"].to_numpy()
    faulty = [row for other in later for row in _rows(frame, other) if status[row] == "rejected"]
    if not gone or not faulty:
        return
    earlier = {key for row in gone for key in _keys(frame, table, range(row, row + 1))}
    said = f"; until then the row of {pool.parts[frame['part'].iloc[gone[0]]].round} is not used either"
    told = {
        (int(frame["part"].iloc[row]), int(lines[row]))
        for row in faulty
        if next(_keys(frame, table, range(row, row + 1))) in earlier
    }
    for other in sorted({other for other, _ in told}):
        part = pool.parts[other]
        part.findings = [
            replace(one, remedy=one.remedy + said)
            if (other, one.line) in told and one.severity == "error" and "is not used either" not in one.remedy
            else one
            for one in part.findings
        ]


def _stays(
    pool: Pool, table: str, number: int, later: Sequence[int], asked: set[int]
) -> Iterator[tuple[int, Key, int]]:
    """Yield the rows of a part that no later one replaces, with key and line."""
    frame = pool.frames[table]
    held = {key for one in later for key in _keys(frame, table, _rows(frame, one))}
    rows = _rows(frame, number)
    lines, keyless = frame["line"].to_numpy(), set(_keyless(pool, table, number))
    for row, key in zip(rows, _keys(frame, table, rows), strict=True):
        if lines[row] in asked if row in keyless else key not in held:
            yield row, key, int(lines[row])


def _keyless(pool: Pool, table: str, number: int) -> Iterator[int]:
    """Yield the rows of a part that came back and of which it is not known what they are about."""
    frame = pool.frames[table]
    rows = _rows(frame, number)
    doubted = _doubted(pool.parts[number])
    lines, status = frame["line"].to_numpy(), frame["status"].to_numpy(dtype=object)
    for row, key in zip(rows, _keys(frame, table, rows), strict=True):
        if status[row] != LIVE and (not all(key) or int(lines[row]) in doubted):
            yield row


def _asked(pool: Pool, number: int, later: Sequence[int]) -> set[int]:
    """Return the lines of a part's rows without a key, ragged ones too, that no later row seems to correct."""
    part = pool.parts[number]
    asked: set[int] = set()
    new: list[Sequence[str]] = [one.cells for other in later for one in pool.parts[other].ragged]
    for table, frame in pool.frames.items():
        derived = frame["derived"].to_numpy()
        without = set(_keyless(pool, table, number))
        keyless = sorted(row for row in without if not derived[row])
        if not keyless and not part.ragged:
            continue
        rows = _rows(frame, number)
        known = {key for row, key in zip(rows, _keys(frame, table, rows), strict=True) if row not in without}
        fresh = {key: (row, other) for other in later for row, key in
                 zip(_rows(frame, other), _keys(frame, table, _rows(frame, other)), strict=True)
                 if not derived[row] and key not in known}  # fmt: skip
        corrected = answered([_row(pool, table, row, number) for row in keyless],
                             [_row(pool, table, row, other) for row, other in fresh.values()])  # fmt: skip
        asked |= {int(frame["line"].iloc[row]) for place, row in enumerate(keyless) if place not in corrected}
        new += [[frame[name].iloc[row] for name in TABLES[table].names] for row, _ in fresh.values()]
    corrected = answered_ragged([one.cells for one in part.ragged], new)
    return asked | {one.line for place, one in enumerate(part.ragged) if place not in corrected}


def _row(pool: Pool, table: str, row: int, number: int) -> Row:
    """Return a row to be compared: its key as far as it is known, and its measurements, or without any all it holds."""
    held = pool.frames[table].iloc[row]
    doubted = _doubted(pool.parts[number]).get(int(held["line"]), set())
    filled = {column.name: held[column.name] for column in TABLES[table].columns if held[column.name]}
    key = {name: filled.pop(name) for name in TABLES[table].key if name in filled and name != "replicate"}
    measured = {column.name for column in TABLES[table].columns if column.unit}
    others = {name: cell for name, cell in filled.items() if name in measured} or filled
    return Row({name: cell for name, cell in key.items() if name not in doubted}, others)


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


def _doubted(part: Part) -> dict[int, set[str]]:
    """Return the lines with a fault in a cell of the key, to its columns: which row they are about is not known."""
    keys = {name for table in TABLES.values() for name in table.key}
    names = {header: name for name, (_, header) in part.places.items() if name in keys}
    doubted: dict[int, set[str]] = {}
    for one in part.findings:
        if one.severity == "error" and one.header in names:
            doubted.setdefault(one.line, set()).add(names[one.header])
    return doubted


def kept_lines(pool: Pool, number: int, status: str = LIVE) -> list[int]:
    """Return the lines of a part with a status that a later file of the same name does not hold."""
    if number not in pool.followed:
        return []
    told = zip(pool.parts[number].ragged, pool.ragged[number], strict=True)
    lines = [one.line for one, fate in told if fate == status]
    for frame in pool.frames.values():
        rows = _rows(frame, number)
        own = frame.iloc[rows.start : rows.stop]
        lines += own.loc[(own["status"] == status) & ~own["derived"], "line"].tolist()
    return sorted(lines)

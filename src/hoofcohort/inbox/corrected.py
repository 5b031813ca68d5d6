"""Which rows that came back a later file of the same name corrects, though they share no key with its rows.

Such a row has a fault in its key, or cannot be laid under the header. A row that is new under the file's name is taken
for its correction when all that is right in the key is the same, no date is another, and most of the other cells are
the same, two at least; when nothing in the key is right, all of them, three at least. A row without one is still asked
for: nothing that was sent is lost in silence.
"""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from hoofcohort.inbox.part import Part
from hoofcohort.inbox.pool import LIVE, Pool
from hoofcohort.inbox.replaced import Place, doubted_keys, followed_parts, part_rows, row_keys
from hoofcohort.tables import TABLES

_DATE = re.compile(r"\d{1,4}([-./])\d{1,2}\1\d{1,4}")
_WITH_THE_HORSE = ("horse_rejected", "contradiction")
"""Reasons to which writing another code for the horse is an answer."""


@dataclass(frozen=True)
class _Row:
    """A row's filled cells by our columns: those of its key that are right, and the others."""

    place: Place
    key: dict[str, str]
    others: dict[str, str]
    all_alike: bool = False


def find_corrections(pool: Pool) -> dict[Place, Place]:
    """Return the rows that came back and that later ones correct, each to its correction.

    Parameters
    ----------
    pool : Pool
        Settled, so that every fault is known.
    """
    found: dict[Place, Place] = {}
    for number, later in followed_parts(pool.parts):
        part = pool.parts[number]
        if any(pool.parts[one].whole for one in later):
            continue
        new = {table: _new_rows(pool, table, number, later) for table in TABLES} if _is_asked(pool, number) else {}
        for table, rows in new.items():
            found |= _match(_asked_rows(pool, table, number), rows)
        ragged = [row for row, fate in zip(part.ragged, pool.ragged[number], strict=True) if fate == "rejected"]
        if ragged:
            cells: dict[Place, Sequence[str]] = {(number, row.line): row.cells for row in ragged}
            found |= _match_ragged(cells, dict(_new_cells(pool, new, later, set(found.values()))))
    return found


def _is_asked(pool: Pool, number: int) -> bool:
    rejected = "rejected" in pool.ragged[number]
    for frame in pool.frames.values():
        rows = part_rows(frame, number)
        rejected = rejected or "rejected" in frame["status"].to_numpy(dtype=object)[rows.start : rows.stop]
    return rejected


def _asked_rows(pool: Pool, table: str, number: int) -> Iterator[_Row]:
    """Yield the rows of a part that came back with a fault in the key, the key without it."""
    frame = pool.frames[table]
    rows = part_rows(frame, number)
    status, derived = (frame[name].to_numpy(dtype=object) for name in ("status", "derived"))
    doubted, horses = doubted_keys(pool.parts[number]), _other_horses(pool.parts[number])
    lines = frame["line"].to_numpy()
    asked = [row for row in rows if status[row] == "rejected" and not derived[row]]
    for row, cells in zip(asked, _cells(pool, table, asked), strict=True):
        line = int(lines[row])
        wrong = doubted.get(line, set()) | ({"horse_id"} if line in horses else set())
        key = {name: cells.pop(name) for name in TABLES[table].key if name in cells}
        right = {name: cell for name, cell in key.items() if name not in wrong}
        if len(right) < len(set(TABLES[table].key) - {"replicate"}):
            yield _Row((number, line), right, cells, all_alike=line in horses)


def _other_horses(part: Part) -> set[int]:
    return {one.line for one in part.findings if one.severity == "error" and one.reason in _WITH_THE_HORSE}


def _new_rows(pool: Pool, table: str, number: int, later: Sequence[int]) -> list[_Row]:
    """Return the rows of later parts whose key no row of a part has."""
    frame = pool.frames[table]
    status, derived = (frame[name].to_numpy(dtype=object) for name in ("status", "derived"))
    lines, parts = frame["line"].to_numpy(), frame["part"].to_numpy()
    known = {key for key in row_keys(frame, table, part_rows(frame, number)) if all(key)}
    rows = [row for other in later for row, key in
            zip(part_rows(frame, other), row_keys(frame, table, part_rows(frame, other)), strict=True)
            if key not in known and not derived[row] and status[row] in (LIVE, "rejected")]  # fmt: skip
    told = []
    for row, cells in zip(rows, _cells(pool, table, rows), strict=True):
        key = {name: cells.pop(name) for name in TABLES[table].key if name in cells}
        told.append(_Row((int(parts[row]), int(lines[row])), key, cells))
    return told


def _cells(pool: Pool, table: str, rows: Sequence[int]) -> Iterator[dict[str, str]]:
    """Yield the filled cells of rows by our columns."""
    frame = pool.frames[table]
    names = TABLES[table].names
    columns = [frame[name].to_numpy(dtype=object)[list(rows)] for name in names]
    for cells in zip(*columns, strict=True):
        yield {name: cell for name, cell in zip(names, cells, strict=True) if cell}


def _match(asked: Iterable[_Row], new: Sequence[_Row]) -> dict[Place, Place]:
    """Return for each row asked for the new row that is most alike; each new row corrects one."""
    found: dict[Place, Place] = {}
    taken: set[Place] = set()
    indexes: dict[tuple[str, ...], dict[tuple[str, ...], list[_Row]]] = {}
    for row in asked:
        names = tuple(sorted(row.key)) or ("", *sorted(row.others))
        if names not in indexes:
            index = indexes[names] = defaultdict(list)
            for other in new:
                index[_values(other, names)].append(other)
        candidates = [one for one in indexes[names].get(_values(row, names), ()) if one.place not in taken]
        scores = {one.place: _alike(row, one) for one in candidates}
        best = max(scores, key=lambda place: (scores[place], *(-at for at in place)), default=None)
        if best is not None and scores[best]:
            taken.add(best)
            found[row.place] = best
    return found


def _values(row: _Row, names: Sequence[str]) -> tuple[str, ...]:
    cells = row.others if names[0] == "" else row.key
    return tuple(cells.get(name, "") for name in names)


def _alike(row: _Row, other: _Row) -> int:
    """Return how many cells beside the key are the same; 0 where that is too little to be the same thing."""
    same = sum(other.others.get(name) == cell for name, cell in row.others.items())
    apart = len(row.others) - same
    if any(_DATE.fullmatch(cell) and other.others.get(name) != cell for name, cell in row.others.items()):
        return 0
    strict = row.all_alike or not row.key
    return same if same >= (2 if row.key else 3) and (apart == 0 if strict else same > apart) else 0


def _new_cells(
    pool: Pool, new: dict[str, list[_Row]], later: Sequence[int], taken: set[Place]
) -> Iterator[tuple[Place, Sequence[str]]]:
    for row in (row for rows in new.values() for row in rows):
        if row.place not in taken:
            yield row.place, [*row.key.values(), *row.others.values()]
    for number in later:
        yield from (((number, one.line), one.cells) for one in pool.parts[number].ragged)


def _match_ragged(asked: dict[Place, Sequence[str]], new: dict[Place, Sequence[str]]) -> dict[Place, Place]:
    """Return the ragged rows with most of whose cells, three at least, and with all of whose dates a new row agrees."""
    sets = {place: Counter(_plain(cells)) for place, cells in new.items()}
    holders: dict[str, list[Place]] = defaultdict(list)
    for place, held in sets.items():
        for cell in held:
            holders[cell].append(place)
    found: dict[Place, Place] = {}
    taken: set[Place] = set()
    for place, cells in asked.items():
        own = Counter(_plain(cells))
        rarest = min((cell for cell in own if cell in holders), key=lambda cell: len(holders[cell]), default="")
        dates = {cell for cell in own if cell.startswith("date ")}
        candidates = [one for one in holders.get(rarest, ()) if one not in taken and dates <= sets[one].keys()]
        scores = {one: (own & sets[one]).total() for one in candidates}
        best = max(scores, key=lambda one: (scores[one], *(-at for at in one)), default=None)
        if best is not None and scores[best] >= 3 and 3 * scores[best] > 2 * own.total():
            taken.add(best)
            found[place] = best
    return found


def _plain(cells: Iterable[str]) -> list[str]:
    """Return filled cells; numbers and dates however they were written alike: ``50,50`` as ``50.5``."""
    told = []
    for cell in cells:
        text = cell.strip().casefold()
        if _DATE.fullmatch(text):
            told.append(f"date {sorted(map(int, re.split('[-./]', text)))}")
            continue
        try:
            told.append(f"{float(text.replace(',', '.')):g}")
        except ValueError:
            told.append(text)
    return [text for text in told if text]

"""What the coordinator is told, one row each: what lies between members, and what a person has to decide."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from hoofcohort.inbox.between import DATES
from hoofcohort.inbox.names import round_order
from hoofcohort.inbox.page import lines_text
from hoofcohort.inbox.pool import LIVE, Pool
from hoofcohort.inbox.replaced import alike_files, kept_lines
from hoofcohort.inbox.rounds import changes, different
from hoofcohort.tables import TABLES

COLUMNS = ("kind", "what", "round", "member", "file", "line", "other_round", "other_member", "other_file", "other_line")
Item = tuple[str, ...]
_MOVES = ("yard_id", "owner_id")
_NOWHERE = ("",) * 8


def items(pool: Pool, ledger: dict[str, Any]) -> list[Item]:
    """Return everything that the coordinator is told, one row each, as ``COLUMNS``.

    Rows of horses whose consent was withdrawn are in none of them.
    """
    found = [*_missed(pool), *_contradictions(pool), *_suggested(pool), *_refused(pool), *_withdrawn(pool, ledger)]
    return [
        *found,
        *_moved(pool),
        *_others(pool),
        *_ahead(pool),
        *_answered(pool),
        *_corrected(pool),
        *_kept(pool),
        *_alike(pool),
        *_twice(pool),
        *_silent(pool),
    ]


def _place(pool: Pool, table: str, row: int) -> Item:
    held = pool.frames[table]
    part = pool.parts[held["part"].iloc[row]]
    return part.round, part.member, part.name, str(held["line"].iloc[row])


def _contradictions(pool: Pool) -> Iterator[Item]:
    """Yield pairs of rejected rows about the same thing that different members sent and that differ."""
    for table in TABLES:
        frame = pool.frames[table]
        key = list(TABLES[table].key)
        back = frame[(frame["status"] == "rejected") & (frame[["horse_id"]] != "").all(axis=1)]
        back = back[back.duplicated(key, keep=False)]
        for _, group in back.groupby(key, sort=False):
            rows = group.index.tolist()
            for place, row in enumerate(rows):
                for other in rows[place + 1 :]:
                    members = {pool.parts[frame["part"].iloc[one]].member for one in (row, other)}
                    names = different(pool, table, row, other) if len(members) > 1 else []
                    if names:
                        yield ("contradiction", _differ(pool, table, row, other, names), *_place(pool, table, row),
                               *_place(pool, table, other))  # fmt: skip


def _differ(pool: Pool, table: str, row: int, other: int, names: Sequence[str]) -> str:
    frame = pool.frames[table]
    told = [f"{name} {frame[name].iloc[row] or 'empty'} or {frame[name].iloc[other] or 'empty'}" for name in names]
    key = " ".join(str(frame[name].iloc[row]) for name in TABLES[table].key if frame[name].iloc[row])
    return f"{table}, {key}: {'; '.join(told)}"


def _suggested(pool: Pool) -> Iterator[Item]:
    codes = pool.frames["horses"]["horse_id"]
    for why, row, other in pool.near:
        told = f"{codes.iloc[row]} and {codes.iloc[other]}: {why}"
        yield ("suggestion", told, *_place(pool, "horses", row), *_place(pool, "horses", other))


def _refused(pool: Pool) -> Iterator[Item]:
    for part in pool.parts:
        if part.asked:
            yield ("refused", part.asked, part.round, part.member, part.name, *_NOWHERE[:5])
    for one in pool.unread:
        yield ("refused", one.why, one.round, "", one.file, *_NOWHERE[:5])


def _missed(pool: Pool) -> Iterator[Item]:
    for line, nearest in pool.missed.items():
        yield ("missed", missed_text(line, nearest), *_NOWHERE)


def missed_text(line: int, nearest: str) -> str:
    """Say that a withdrawal reached nothing."""
    return f"line {line} of consent.csv reaches no row" + (f"; the nearest is {nearest}" if nearest else "")


def _withdrawn(pool: Pool, ledger: dict[str, Any]) -> Iterator[Item]:
    for one in ledger["withdrawals"]:
        told = f"line {one['line']} of consent.csv, from {one['withdrawn']}: "
        if not one["in_force"]:
            told += "not yet in force"
        elif one["rows"]:
            told += f"took out {one['rows']} row{'' if one['rows'] == 1 else 's'} of {', '.join(one['members'])}"
        elif one["line"] in pool.missed:
            told += "reached nothing"
        else:
            told += "reached no row that an earlier line had not reached"
        yield ("withdrawal", told, *_NOWHERE)


def _moved(pool: Pool) -> Iterator[Item]:
    """Yield each accepted horse with an earlier registration at another yard, of another owner or by another member."""
    frame = pool.frames["horses"]
    standing = frame[frame["status"].isin([LIVE, "superseded"])]
    for _, group in standing[standing.duplicated("horse_id", keep=False)].groupby("horse_id", sort=False):
        live = [row for row in group.index.tolist() if frame["status"].iloc[row] == LIVE]
        for last, row in ((last, row) for last in live for row in group.index.tolist() if row != last):
            names = [name for name in different(pool, "horses", row, last) if name in _MOVES]
            members = [pool.parts[frame["part"].iloc[one]].member for one in (row, last)]
            if names or members[0] != members[1]:
                told = [f"{name} {frame[name].iloc[row]}, now {frame[name].iloc[last]}" for name in names]
                told += [f"sent by {members[0]}, now by {members[1]}"] if members[0] != members[1] else []
                what = f"{frame['horse_id'].iloc[last]}: {'; '.join(told)}"
                yield ("moved", what, *_place(pool, "horses", row), *_place(pool, "horses", last))


def _others(pool: Pool) -> Iterator[Item]:
    horses = pool.frames["horses"]
    for table, row, count in pool.others:
        code = pool.frames[table]["horse_id"].iloc[row]
        own = horses.index[(horses["horse_id"] == code) & (horses["status"] == LIVE)][0]
        told = f"{code}: {count} row{'' if count == 1 else 's'} of {table}"
        yield ("others", told, *_place(pool, table, row), *_place(pool, "horses", own))


def _ahead(pool: Pool) -> Iterator[Item]:
    for table, row in pool.ahead:
        frame = pool.frames[table]
        told = f"{frame['horse_id'].iloc[row]}: {frame[DATES[table]].iloc[row]}"
        yield ("ahead", told, *_place(pool, table, row), *_NOWHERE[:4])


def _answered(pool: Pool) -> Iterator[Item]:
    for part in pool.parts:
        if part.taken_over:
            told = f"{part.refused}; the file of {part.taken_over} takes its place"
            yield ("answered", told, part.round, part.member, part.name, "", part.taken_over, part.member, "", "")
    for (number, line), (other, at) in sorted(pool.answered.items()):
        earlier, later = pool.parts[number], pool.parts[other]
        where = (earlier.round, earlier.member, earlier.name, str(line))
        yield ("answered", "a row", *where, later.round, later.member, later.name, str(at))


def _corrected(pool: Pool) -> Iterator[Item]:
    for table, one, row in pool.corrected:
        frame = pool.frames[table]
        if frame["status"].iloc[row] == LIVE:
            names = different(pool, table, one, row)
            key = " ".join(str(frame[name].iloc[row]) for name in TABLES[table].key if frame[name].iloc[row])
            told = f"{table}, {key}: {changes(pool, table, one, row, names)}"
            yield ("corrected", told, *_place(pool, table, one), *_place(pool, table, row))


def _kept(pool: Pool) -> Iterator[Item]:
    for number, round_name in sorted(pool.followed.items()):
        if lines := kept_lines(pool, number):
            part = pool.parts[number]
            told = f"{len(lines)} row{'' if len(lines) == 1 else 's'}, not in the file of {round_name}"
            yield (
                "kept",
                told,
                part.round,
                part.member,
                part.name,
                lines_text(lines),
                *_NOWHERE[:4],
            )


def _alike(pool: Pool) -> Iterator[Item]:
    for part, other in alike_files(pool):
        yield ("alike", f"{part.file} and {other}", part.round, part.member, part.file, *_NOWHERE[:5])


def _twice(pool: Pool) -> Iterator[Item]:
    """Yield how many rows of each file said what another row says already."""
    for number, count in enumerate(pool.counts()):
        if twice := count.get("duplicate"):
            part = pool.parts[number]
            told = f"{twice} row{'' if twice == 1 else 's'}"
            yield ("duplicate", told, part.round, part.member, part.name, *_NOWHERE[:5])


def _silent(pool: Pool) -> Iterator[Item]:
    latest = {member: max((part.round for part in pool.parts if part.member == member), key=round_order)
              for member in sorted({part.member for part in pool.parts})}  # fmt: skip
    last = max(latest.values(), key=round_order, default="")
    for member, round_name in latest.items():
        if round_name != last:
            yield ("silent", f"{member}: last in {round_name}", round_name, member, *_NOWHERE[:6])

"""The coordinator's page and CSV file: what lies between members, and what a person has to decide."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from html import escape
from typing import Any

from hoofcohort.inbox.between import DATES
from hoofcohort.inbox.letters import lines_text, page
from hoofcohort.inbox.names import round_order
from hoofcohort.inbox.pool import LIVE, Pool
from hoofcohort.inbox.replaced import alike_files, kept_lines
from hoofcohort.inbox.rounds import changes, different
from hoofcohort.inbox.table_text import csv_of_rows
from hoofcohort.tables import TABLES

COLUMNS = ("kind", "what", "round", "member", "file", "line", "other_round", "other_member", "other_file", "other_line")
Item = tuple[str, ...]
_HEADS = {
    "missed": (
        "Withdrawals of consent that reached nothing",
        "No row of the inbox names what these lines of consent.csv name. Until they are put right, or it is sure that "
        "nothing of them was ever sent, rows may be used without consent.",
    ),
    "contradiction": (
        "Members who contradict each other",
        "All these rows came back to both. Neither letter names the other member: settle it with both.",
    ),
    "suggestion": (
        "Horses that may be the same",
        "Nothing was joined. If two are one, ask both members for its UELN or microchip, which decide.",
    ),
    "refused": (
        "Files that could not be used",
        "The member's letter says the same; of what lies in no member's folder nobody else is told.",
    ),
    "withdrawal": (
        "Withdrawals of consent",
        "By their line in consent.csv, so that this page names nobody. One that reached no row may be misspelt.",
    ),
    "moved": (
        "Horses that moved",
        "To another yard, owner or member. The latest registration is taken, of one round that of the member with the "
        "latest reading; ask if it was not meant.",
    ),
    "others": (
        "Readings of a horse that only another member registered",
        "They are used. If it is another horse of the same code, ask the member who sent them to give it another one.",
    ),
    "ahead": (
        "Dates far after those of the other members",
        "More than a year after; they are used. With --as-of DAY no date after that day is accepted.",
    ),
    "corrected": (
        "Rows that a file of another name corrected",
        "The later row is taken. Nothing to do if it was meant.",
    ),
    "kept": (
        "Rows that a later file of the same name does not hold",
        "They are kept and used. If the member meant to take rows out, write 'replaces: whole' into the later file's "
        "mapping: it then replaces the earlier one as a whole.",
    ),
    "alike": (
        "Files whose names differ in capitals alone",
        "Both were read; in a later round one file of the name replaces rows of both.",
    ),
    "duplicate": ("Rows sent twice", "Counted once. Nothing to do."),
    "silent": ("Members who sent nothing in the last round", "What they sent before is kept and used."),
}
_MOVES = ("yard_id", "owner_id")
_SHOWN = 500
_NOWHERE = ("",) * 8


def items(pool: Pool, ledger: dict[str, Any]) -> list[Item]:
    """Return everything that the coordinator is told, one row each, as ``COLUMNS``.

    Rows of horses whose consent was withdrawn are in none of them.
    """
    found = [*_missed(pool), *_contradictions(pool), *_suggested(pool), *_refused(pool), *_withdrawn(ledger)]
    return [
        *found,
        *_moved(pool),
        *_others(pool),
        *_ahead(pool),
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


def _withdrawn(ledger: dict[str, Any]) -> Iterator[Item]:
    for one in ledger["withdrawals"]:
        told = f"line {one['line']} of consent.csv, from {one['withdrawn']}: "
        if not one["in_force"]:
            told += "not yet in force"
        elif one["rows"]:
            told += f"took out {one['rows']} row{'' if one['rows'] == 1 else 's'} of {', '.join(one['members'])}"
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
        own = horses.index[(horses["horse_id"] == code) & (horses["status"] != "withdrawn")][0]
        told = f"{code}: {count} row{'' if count == 1 else 's'} of {table}"
        yield ("others", told, *_place(pool, table, row), *_place(pool, "horses", own))


def _ahead(pool: Pool) -> Iterator[Item]:
    for table, row in pool.ahead:
        frame = pool.frames[table]
        told = f"{frame['horse_id'].iloc[row]}: {frame[DATES[table]].iloc[row]}"
        yield ("ahead", told, *_place(pool, table, row), *_NOWHERE[:4])


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


def csv_page(found: Sequence[Item]) -> bytes:
    """Return the items as CSV; no cell is a formula."""
    return csv_of_rows(COLUMNS, found)


def html_page(pool: Pool, ledger: dict[str, Any], found: Sequence[Item]) -> str:
    """Return the page: what is to be decided, then what each member has open; every text from a file is escaped."""
    total = ledger["total"]
    rounds = sorted({part.round for part in pool.parts}, key=round_order)
    said = (
        f"{len(ledger['members'])} members, {len(rounds)} round{'' if len(rounds) == 1 else 's'} "
        f"({', '.join(rounds)}), {total['rows_read']} rows: {total['accepted']} accepted, {total['rejected']} to be "
        f"put right by their members, {total['aside']} no data, {total['superseded']} replaced, "
        f"{total['withdrawn']} withdrawn, {total['duplicate']} sent twice."
    )
    body = ["<h1>For the coordinator</h1>", f"<p>{escape(said)}</p>"]
    body.append("<p>This page names members beside each other: do not send it to any of them.</p>")
    for kind, (head, what) in _HEADS.items():
        own = [one for one in found if one[0] == kind]
        if own:
            body += [f"<h2>{head} ({len(own)})</h2>", f"<p>{what}</p>", *_table(own)]
    return page("For the coordinator", [*body, *_members(pool, ledger)])


def _table(found: Sequence[Item]) -> list[str]:
    placed = any(any(one[2:6]) for one in found)
    paired = any(any(one[6:]) for one in found)
    heads = ["What", *(["Where"] if placed else []), *(["And where"] if paired else [])]
    rows = []
    for one in found[:_SHOWN]:
        cells = [one[1], *([_named(one[2:6])] if placed else []), *([_named(one[6:])] if paired else [])]
        rows.append("<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in cells) + "</tr>")
    more = [f"<p>{len(found) - _SHOWN} more stand in coordinator.csv.</p>"] if len(found) > _SHOWN else []
    head = "".join(f"<th>{name}</th>" for name in heads)
    return [f"<table><thead><tr>{head}</tr></thead><tbody>", *rows, "</tbody></table>", *more]


def _named(place: Sequence[str]) -> str:
    round_name, member, file, line = place
    told = ", ".join(text for text in (member, file, f"line {line}" if line else "") if text)
    return f"{told} ({round_name})" if round_name else told


def _members(pool: Pool, ledger: dict[str, Any]) -> list[str]:
    open_warnings: Counter[str] = Counter()
    for part in pool.parts:
        open_warnings[part.member] += sum(one.severity == "warning" for one in part.findings)
    rows = []
    for member, counts in ledger["members"].items():
        numbers = (counts["rows_read"] - counts["aside"], counts["accepted"], counts["rejected"], open_warnings[member])
        cells = "".join(f'<td class="n">{number}</td>' for number in numbers)
        rows.append(f"<tr><td>{escape(member)}</td>{cells}</tr>")
    heads = ("Member", "Rows of data", "Accepted", "To be put right", "To look at again")
    head = "".join(f"<th>{name}</th>" for name in heads)
    return ["<h2>Member by member</h2>", f"<table><thead><tr>{head}</tr></thead><tbody>", *rows, "</tbody></table>"]

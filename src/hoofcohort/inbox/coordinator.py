"""The coordinator's page and CSV file."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from html import escape
from typing import Any

from hoofcohort.inbox.coordinator_items import COLUMNS, Item
from hoofcohort.inbox.names import round_order
from hoofcohort.inbox.page import page
from hoofcohort.inbox.pool import Pool
from hoofcohort.inbox.table_text import csv_of_rows

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
    "answered": (
        "Rows and files that came back and seem to be corrected",
        "By a later row or file of the same member, to judge by their cells or name. Nothing more is asked about them; "
        "ask the member if they are not the same.",
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
_SHOWN = 500


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

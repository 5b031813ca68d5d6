"""From an inbox to three canonical files, a ledger and the letters; the same inbox gives the same bytes."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any

import pandas as pd

from hoofcohort.errors import InputError
from hoofcohort.files import write_files_atomic, write_json_atomic
from hoofcohort.inbox import consent, coordinator, registry, rounds
from hoofcohort.inbox.asked import accepted, ask_intake
from hoofcohort.inbox.between import tell_of_dates_ahead, tell_of_others_horses
from hoofcohort.inbox.consent import Withdrawal
from hoofcohort.inbox.coordinator_items import items
from hoofcohort.inbox.corrected import find_corrections
from hoofcohort.inbox.gather import gather
from hoofcohort.inbox.ledger import account
from hoofcohort.inbox.letters import csv_letter, html_letter
from hoofcohort.inbox.listing import CONSENT, Unread, list_unread
from hoofcohort.inbox.packed import Packed, pack
from hoofcohort.inbox.part import Part
from hoofcohort.inbox.pool import Pool, pool
from hoofcohort.inbox.replaced import Place, replace_files
from hoofcohort.inbox.second_look import body_masses, look_again
from hoofcohort.inbox.table_text import csv_of_frame, csv_of_rows
from hoofcohort.inbox.withdrawn import withdraw
from hoofcohort.tables import TABLES

_MOST_TIMES = 5
"""How often an inbox is settled at most: a row that is known to be corrected can free another, and so on."""


@dataclass
class Inbox:
    """What came of an inbox: the rows with their fates, the ledger, and pairs of horses for a person to compare."""

    pool: Pool
    ledger: dict[str, Any]
    suggestions: list[tuple[str, ...]]

    def accepted(self, table: str) -> pd.DataFrame:
        """Return a table's accepted rows as canonical text, as the study's intake takes them."""
        return accepted(self.pool, table)[list(TABLES[table].names)]


def take_inbox(folder: str | Path, as_of: dt.date | None = None, jobs: int | None = 1) -> Inbox:
    """Read an inbox and settle every row.

    Parameters
    ----------
    folder : path
        ``<round>/<member>/<files>``, and ``consent.csv``.
    as_of : date, optional
        The day that no date can be later than, and up to which withdrawals count.
    jobs : int or None
        Processes that read files; the outcome is the same. None: as many as ``gather.usual_jobs`` thinks right.

    Raises
    ------
    InputError
        When there is no round, or consent.csv cannot be understood.
    RuntimeError
        When the ledger does not add up.
    """
    inbox = Path(folder)
    withdrawn = consent.read_consent(inbox / CONSENT, as_of)
    return settle(gather(inbox, as_of, jobs), withdrawn, as_of, list_unread(inbox))


def settle(
    parts: Sequence[Part] | Packed,
    withdrawn: Sequence[consent.Withdrawal] = (),
    as_of: dt.date | None = None,
    unread: Sequence[Unread] = (),
) -> Inbox:
    """Settle the rows of parts that were read: identity, rounds, consent, and what the study's intake asks."""
    packed = parts if isinstance(parts, Packed) else pack(parts)
    refused = [Part(one.round, one.member, one.file, refused=one.why) for one in unread if one.member]
    packed = Packed([*packed.parts, *refused], packed.tables)
    nowhere = [one for one in unread if not one.member]
    corrected: dict[Place, Place] = {}
    for _ in range(_MOST_TIMES):
        inbox = _settled(packed, withdrawn, as_of, nowhere, corrected)
        found = find_corrections(inbox.pool)
        if not found:
            break
        corrected |= found
    return inbox


def _settled(
    packed: Packed,
    withdrawn: Sequence[Withdrawal],
    as_of: dt.date | None,
    unread: list[Unread],
    corrected: dict[Place, Place],
) -> Inbox:
    """Settle the rows, those left out that others are known to correct; the parts given stay as they are."""
    held = pool(Packed([replace(part, findings=[*part.findings]) for part in packed.parts], packed.tables))
    held.unread, held.answered = unread, corrected
    replace_files(held, corrected)
    registry.unite(held)
    rounds.settle_repeats(held)
    withdrawals = withdraw(held, withdrawn)
    ask_intake(held, as_of)
    look_again(held, body_masses(held))
    tell_of_others_horses(held)
    if as_of is None:
        tell_of_dates_ahead(held)
    held.near = registry.near(held)
    for part in held.parts:
        part.findings.sort(key=lambda one: (one.line, one.position, one.reason, one.remedy))
    ledger = account(held.parts, held.counts(), withdrawals, held.unread)
    return Inbox(held, ledger, registry.suggestions(held))


def write_inbox(inbox: Inbox, folder: str | Path) -> None:
    """Write the tables, ledger, suggestions, what was understood, the coordinator's page and the letters: all or none.

    Letters that an earlier run left for members who are no longer there are removed.
    """
    target = Path(folder)
    contents: dict[Path, bytes] = {target / f"{table}.csv": csv_of_frame(inbox.accepted(table)) for table in TABLES}
    contents[target / "suggestions.csv"] = csv_of_rows(registry.SUGGESTION_COLUMNS, inbox.suggestions)
    told = items(inbox.pool, inbox.ledger)
    contents[target / "coordinator.csv"] = coordinator.csv_page(told)
    contents[target / "coordinator.html"] = coordinator.html_page(inbox.pool, inbox.ledger, told).encode()
    members = sorted({part.member for part in inbox.pool.parts})
    for member in members:
        contents[target / "letters" / f"{member}.html"] = html_letter(inbox.pool, inbox.ledger, member).encode()
        contents[target / "letters" / f"{member}.csv"] = csv_letter(inbox.pool, member)
    writers: dict[Any, Callable[[Path], None]] = {
        path: partial(_write_bytes, content=content) for path, content in contents.items()
    }
    writers[target / "ledger.json"] = partial(write_json_atomic, value=inbox.ledger)
    writers[target / "understood.json"] = partial(write_json_atomic, value=_understood(inbox.pool))
    _refuse_inside(target)
    write_files_atomic(writers)
    for path in sorted((target / "letters").iterdir()):
        if path.suffix in (".html", ".csv") and path not in contents:
            path.unlink()


def _refuse_inside(target: Path) -> None:
    if target.is_file():
        raise InputError(f"{target}: is a file; name a folder")


def _write_bytes(path: Path, content: bytes) -> None:
    path.write_bytes(content)


def _understood(held: Pool) -> list[dict[str, Any]]:
    return [
        {"round": part.round, "member": part.member, "file": part.file, "sheet": part.sheet, "said": part.understood}
        for part in held.parts
    ]

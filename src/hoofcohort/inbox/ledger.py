"""The account of every row that came, by file, member and round. It adds up, or the run ends as a bug."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from hoofcohort.inbox.listing import Unread
from hoofcohort.inbox.names import round_order
from hoofcohort.inbox.part import Part

FATES = ("accepted", "rejected", "aside", "superseded", "withdrawn", "duplicate")
"""What can become of a row: taken; comes back; no data; replaced by a later one; consent withdrawn; said twice."""


def account(
    parts: Sequence[Part],
    counts: Sequence[dict[str, int]],
    withdrawals: Sequence[dict[str, Any]] = (),
    unread: Sequence[Unread] = (),
) -> dict[str, Any]:
    """Return the ledger.

    Parameters
    ----------
    parts : sequence of Part
    counts : sequence of dict
        For each part, how many of its rows met each fate of ``FATES``.
    withdrawals : sequence of dict
        Of each withdrawal of consent, ``rows``: how many rows it took out.

    unread : sequence of Unread
        What lies in no member's folder.

    Raises
    ------
    RuntimeError
        When rows are missing or counted twice.
    """
    files = [
        {
            "round": part.round,
            "member": part.member,
            "file": part.file,
            "sheet": part.sheet,
            "refused": part.refused,
            **_checked(f"{part.round}/{part.member}/{part.file}", part.rows_read, count),
        }
        for part, count in zip(parts, counts, strict=True)
    ]
    ledger: dict[str, Any] = {
        "total": _sum(files),
        "rounds": {name: _sum(one for one in files if one["round"] == name) for name in _names(files, "round")},
        "members": {name: _sum(one for one in files if one["member"] == name) for name in _names(files, "member")},
        "files": files,
        "withdrawals": list(withdrawals),
        "unread": [{"round": one.round, "file": one.file, "why": one.why} for one in unread],
    }
    if sum(one["rows"] for one in withdrawals) != ledger["total"]["withdrawn"]:
        raise RuntimeError("the ledger's withdrawals do not add up to its total")
    for split in ("rounds", "members"):
        if _sum(ledger[split].values()) != ledger["total"]:
            raise RuntimeError(f"the ledger's {split} do not add up to its total")
    return ledger


def _names(files: Iterable[dict[str, Any]], key: str) -> list[str]:
    return sorted({one[key] for one in files}, key=round_order if key == "round" else None)


def _checked(place: str, rows_read: int, count: dict[str, int]) -> dict[str, int]:
    if set(count) - set(FATES) or sum(count.values()) != rows_read:
        raise RuntimeError(f"{place}: {rows_read} rows were read, but the ledger accounts for {count}")
    return {"rows_read": rows_read} | {fate: count.get(fate, 0) for fate in FATES}


def _sum(accounts: Iterable[dict[str, Any]]) -> dict[str, int]:
    held = list(accounts)
    total = {name: sum(one[name] for one in held) for name in ("rows_read", *FATES)}
    if total["rows_read"] != sum(total[fate] for fate in FATES):
        raise RuntimeError(f"the ledger does not add up: {total}")
    return total

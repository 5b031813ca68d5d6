"""The account of every row received. It adds up, or the run ends as a bug."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping

from hoofcohort.intake.checked import Fault
from hoofcohort.intake.reasons import REASONS


def file_account(
    file: str, rows_read: int, blank_lines: int, accepted: int, faults: Iterable[Fault], flagged: int
) -> dict:
    """Return one file's account.

    Parameters
    ----------
    file : str
    rows_read, blank_lines, accepted : int
        Counted apart from the faults, so that the sums mean something.
    faults : iterable of Fault
        Sorted by line and column: a row counts once, under its first reason.
    flagged : int
        Number of implausible values kept.
    """
    first: dict[int, str] = {}
    for fault in faults:
        first.setdefault(fault.line, fault.reason)
    counts = Counter(first.values())
    return {
        "file": file,
        "rows_read": rows_read,
        "blank_lines": blank_lines,
        "accepted": accepted,
        "rejected": len(first),
        "reasons": {code: counts[code] for code in REASONS if counts[code]},
        "flagged": flagged,
    }


def make_ledger(accounts: Mapping[str, dict]) -> dict:
    """Return the ledger of all files, with the sentence of every reason and the totals.

    Raises
    ------
    RuntimeError
        When a sum is broken: a bug, never the user's fault.
    """
    counted = ("rows_read", "blank_lines", "accepted", "rejected", "flagged")
    ledger = {
        "files": dict(accounts),
        "reasons": dict(REASONS),
        "totals": {name: sum(account[name] for account in accounts.values()) for name in counted},
    }
    check_sums(ledger)
    return ledger


def check_sums(ledger: Mapping) -> None:
    """Raise RuntimeError unless rows read = accepted + rejected and rejected = the sum over reasons, everywhere."""
    for name, account in [*ledger["files"].items(), ("totals", ledger["totals"])]:
        if account["rows_read"] != account["accepted"] + account["rejected"]:
            raise RuntimeError(f"the ledger does not add up: {name}: {account}")
        if "reasons" in account and account["rejected"] != sum(account["reasons"].values()):
            raise RuntimeError(f"the ledger's reasons do not add up: {name}: {account}")

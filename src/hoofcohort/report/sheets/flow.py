"""The flow of owners, yards, horses, feet and readings, with every exclusion."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pandas as pd

from hoofcohort.privacy.owners import count_owners
from hoofcohort.report.numbers import NOTHING, count
from hoofcohort.report.run_folder import Run
from hoofcohort.report.sheet import Column, Sheet, text
from hoofcohort.report.text.cohort import flagged_sentence
from hoofcohort.report.text.words import upper_first

COUNTS = ("owners", "yards", "horses", "feet", "readings")
FILE_TITLES = {"horses": "table of horses", "management": "table of management", "feet": "table of feet (readings)"}


def counts_of(readings: pd.DataFrame, horses: pd.DataFrame) -> dict[str, int]:
    """Return how many owners, yards, horses, feet and readings a set of readings holds."""
    present = horses[horses["horse_id"].isin(readings["horse_id"])]
    return {
        "owners": count_owners(present["owner_id"]),
        "yards": present["yard_id"].nunique(),
        "horses": len(present),
        "feet": len(readings[["horse_id", "foot"]].drop_duplicates()),
        "readings": len(readings),
    }


def rejected_rows(ledger: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Return file, reason and number of the rejected rows, in the ledger's order."""
    return [
        {"file": name, "reason": code, "sentence": ledger["reasons"].get(code, code), "rows": rows}
        for name, account in ledger["files"].items()
        for code, rows in account["reasons"].items()
    ]


def intake_sheet(ledger: Mapping[str, Any]) -> Sheet:
    """Return rows read, accepted and rejected per file."""
    records = [{"table": FILE_TITLES.get(name, name), **account} for name, account in ledger["files"].items()]
    records.append({"table": "all", "file": "", **ledger["totals"]})
    return Sheet(
        "intake",
        "Rows received, accepted and rejected, per file.",
        ("table", "file", "rows_read", "accepted", "rejected", "flagged"),
        records,
        (
            Column("Table", lambda r: upper_first(r["table"]), number=False),
            Column("File", text("file"), number=False),
            *(_counted(title, key) for title, key in (("Rows read", "rows_read"), ("Accepted", "accepted"))),
            *(_counted(title, key) for title, key in (("Rejected", "rejected"), ("Values flagged, kept", "flagged"))),
        ),
        "A row with several faults counts once. A flagged value is possible but not plausible: it is kept in the data.",
        marked=lambda record: record["table"] == "all",
    )


def rejects_sheet(ledger: Mapping[str, Any]) -> Sheet:
    """Return the rejected rows by file and first reason."""
    return Sheet(
        "rejects_summary",
        "Rejected rows by file and reason; a row with several faults is counted under the first.",
        ("file", "reason", "sentence", "rows"),
        rejected_rows(ledger),
        (
            Column("Reason", text("sentence"), number=False),
            _counted("Rows", "rows"),
        ),
        "Each row, with its line, the value found and the remedy, is listed in rejects.csv beside this report.",
        group=lambda record: upper_first(FILE_TITLES.get(str(record["file"]), str(record["file"]))),
    )


def flags_sheet(run: Run) -> Sheet:
    """Return the flagged values by file and column."""
    grouped = run.flags.groupby(["file", "column", "limits"], sort=True).size().rename("values").reset_index()
    return Sheet(
        "flags_summary",
        "Values outside the plausible limits; kept in the data.",
        ("file", "column", "limits", "values"),
        [{str(key): value for key, value in row.items()} for row in grouped.to_dict("records")],
        (
            Column("File", text("file"), number=False),
            Column("Column", text("column"), number=False),
            Column("Plausible limits", text("limits"), number=False),
            _counted("Values", "values"),
        ),
        f"Each value is listed in flags.csv beside this report. {_flagged_readings(run)}".rstrip(),
    )


def _flagged_readings(run: Run) -> str:
    own = run.flags["file"] == run.ledger["files"]["feet"]["file"]
    analysed = {int(line) for frame in run.analysis.values() for line in frame["line"]}
    return flagged_sentence({int(line) for line in run.flags.loc[own, "line"]}, analysed)


def flow_records(run: Run) -> list[dict[str, Any]]:
    """Return the flow from the accepted readings to each outcome's analysis."""
    start = {"outcome": "", "step": "accepted horses", "lost": None, "reason": ""}
    everyone = {
        "owners": count_owners(run.horses["owner_id"]),
        "yards": run.horses["yard_id"].nunique(),
        "horses": len(run.horses),
        "feet": None,
        "readings": None,
    }
    records = [start | everyone]
    records.append(start | {"step": "with an accepted reading"} | counts_of(run.readings, run.horses))
    results = run.models | run.refused
    for name in run.plan.outcomes:
        model = results[name]
        for row in model["flow"]:
            records.append({"outcome": name, "title": model["outcome"]["title"], **row})
    return records


def flow_sheet(run: Run) -> Sheet:
    """Return the flow as a table, one row per step."""
    return Sheet(
        "flow",
        "Flow of owners, yards, horses, feet and readings into each outcome's analysis.",
        ("outcome", "step", *COUNTS, "lost", "reason"),
        flow_records(run),
        (
            Column("Step", text("step"), number=False),
            *(_counted(name.capitalize(), name) for name in COUNTS),
            _counted("Readings lost", "lost"),
            Column("Why", text("reason"), number=False),
        ),
        "Steps of an outcome follow one another. Owners and animals are counted apart (STROBE-Vet).",
        group=lambda record: upper_first(record["title"]) if record["outcome"] else "All outcomes",
    )


def _counted(title: str, key: str) -> Column:
    return Column(title, lambda record: NOTHING if record.get(key) is None else count(int(record[key])))

"""Ask the study's intake about the rows that are left, and send back what it would reject."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable
from functools import cache, partial

import numpy as np
import pandas as pd

from hoofcohort.inbox import rounds
from hoofcohort.inbox.names import round_order
from hoofcohort.inbox.packed import numbered_texts
from hoofcohort.inbox.pool import ANOTHERS, Pool
from hoofcohort.inbox.registry import Registered
from hoofcohort.inbox.replaced import followed_parts
from hoofcohort.intake.reading import RawColumn, RawTable
from hoofcohort.intake.run import check_tables, in_order
from hoofcohort.sheets.told import names_said
from hoofcohort.tables import TABLES

_SLIPS = ("decimal_slip", "likely_unit")
_LINE = re.compile(r"\bline (\d+)( of \w+\.csv)?")


def accepted(pool: Pool, table: str) -> pd.DataFrame:
    """Return the rows of a table that nothing has been found against, horses with what earlier registrations told."""
    return rounds.fill_from_earlier(pool) if table == "horses" else pool.live(table)


def ask_intake(pool: Pool, as_of: dt.date | None) -> None:
    """Send back what the study's intake rejects; it accepts the rest whole.

    Notes
    -----
    Once is enough: each of the intake's rules looks at one row, at rows with the same key, or at stretches and readings
    of an accepted horse, so that no row comes to be at fault because others are taken out with their horse.
    """
    frames = {table: accepted(pool, table) for table in TABLES}
    frames["management"] = _later_first(pool, frames["management"])
    checked = check_tables({table: _raw(table, frame) for table, frame in frames.items()}, as_of)
    back, known = _rejected_horses(pool), Registered(pool)
    unused_of = cache(partial(_unused, pool))
    for table, found in checked.items():
        rows = []
        for fault in in_order(found.faults):
            row = int(frames[table].index[fault.line - 2])
            told = _reworded(pool, table, row, fault.reason, fault.remedy, frames, back, known, unused_of)
            pool.tell(table, row, fault.column, *told)
            rows.append(row)
        pool.mark(table, sorted(set(rows)), "rejected")


def _later_first(pool: Pool, frame: pd.DataFrame) -> pd.DataFrame:
    """Return rows, those of a member's later files before earlier ones of the same name: of overlaps they stand."""
    rank = np.arange(len(pool.parts))
    for number, later in followed_parts(pool.parts):
        rank[number] = max(later) + 1
    order = np.lexsort((-frame["part"].to_numpy(), rank[frame["part"].to_numpy()]))
    return frame.iloc[order] if pool.followed else frame


def _raw(table: str, frame: pd.DataFrame) -> RawTable:
    """Return rows as the intake would have read them from a file without the columns that are empty and may be."""
    columns = {}
    for name in TABLES[table].names:
        codes, texts = numbered_texts(frame[name])
        if not any(texts) and not TABLES[table].by_name[name].required:
            continue
        columns[name] = RawColumn(codes, pd.Series(texts, dtype="str"))
    lines = np.arange(2, len(frame) + 2)
    return RawTable(TABLES[table], f"{table}.csv", tuple(columns), columns, lines, rows_read=len(frame))


def _rejected_horses(pool: Pool) -> dict[tuple[str, str], int]:
    """Return the horses that come back: member and code to the first such row; of any member, under an empty name."""
    horses = pool.frames["horses"]
    rejected = horses[horses["status"] == "rejected"]
    found: dict[tuple[str, str], int] = {}
    for row, code, part in zip(rejected.index.tolist(), rejected["horse_id"], rejected["part"], strict=True):
        found.setdefault((pool.parts[part].member, code), row)
        found.setdefault(("", code), row)
    return found


def _reworded(
    pool: Pool,
    table: str,
    row: int,
    reason: str,
    remedy: str,
    frames: dict[str, pd.DataFrame],
    back: dict[tuple[str, str], int],
    known: Registered,
    unused_of: Callable[[int], str],
) -> tuple[str, str]:
    """Return the intake's reason and remedy with the member's own lines, and nothing of another member's."""
    part = pool.frames[table]["part"].iloc[row]
    if reason == "horse_not_registered":
        code = pool.frames[table]["horse_id"].iloc[row]
        if ("", code) in back:
            own = back.get((pool.parts[part].member, code), back["", code])
            return "horse_rejected", _first(pool.place("horses", own, part))
        near = known.nearest(pool.parts[part].member, code)
        unused = unused_of(int(part))
        first = (
            f"{unused} could not be used: put that right first when the horse's row is in it; else " if unused else ""
        )
        return reason, f"{first}send the horse's row for the table of horses, or correct the code{near}"

    if reason in ("cells_exchanged", "impossible_pair"):
        line = pool.frames[table]["line"].iloc[row]
        slips = (one for one in pool.parts[part].findings if one.line == line and one.reason in _SLIPS)
        join = "; or else: " if reason == "cells_exchanged" else "; "
        return reason, join.join([remedy, *(f"{one.header}: {one.remedy}" for one in slips)])

    def named(match: re.Match[str]) -> tuple[str, int, int]:
        other = "horses" if match.group(2) else table
        return other, int(frames[other].index[int(match.group(1)) - 2]), part

    if any(pool.is_anothers(*named(match)) for match in _LINE.finditer(remedy)):
        return reason, f"{ANOTHERS} about the same horse does not go with it; ask the coordinator"
    reworded = _LINE.sub(lambda match: pool.place(*named(match)), remedy)
    return reason, reworded.replace("horses.csv", "the table of horses")


def _unused(pool: Pool, part: int) -> str:
    """Name what the member of a part sent in the same or an earlier round that cannot be used."""
    here, latest = pool.parts[part], round_order(pool.parts[part].round)
    unused = [one for one in pool.parts if one.asked and one.member == here.member and round_order(one.round) <= latest]
    return names_said([one.name if one.round == here.round else f"{one.name} ({one.round})" for one in unused])


def _first(place: str) -> str:
    return f"put the horse's own row right first: {place}; nothing is known to be wrong with this row"

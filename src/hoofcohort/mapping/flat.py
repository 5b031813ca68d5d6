"""Split a flat sheet, one row a foot with the horse's and management details repeated, into the three tables."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from hoofcohort.mapping.contradictions import find_contradictions
from hoofcohort.mapping.converted import Converted, as_objects
from hoofcohort.mapping.robust import numbered
from hoofcohort.sheets.told import lines_said
from hoofcohort.tables import TABLES


def split(converted: Converted, days_before: int = 0) -> dict[str, Converted]:
    """Split a converted flat sheet.

    Parameters
    ----------
    converted : Converted
        Of table ``flat``; its contradictions are added to its faults, its changes to its notes.
    days_before : int
        For how many days before a visit its management details held, as the mapping vouches.

    Returns
    -------
    dict of Converted
        ``horses``, ``management`` and ``feet`` with all their columns, of the rows that do not come back. A horse and a
        stretch carry the line of the first row that names them. Faults and notes stay with the flat sheet.

    Notes
    -----
    Management stretches follow from ``from_date`` where the sheet has it; one without ``to_date`` ends on the day
    before the horse's next ``from_date``. Where the sheet has no ``from_date``, the details are known for the day of
    the visit alone, and a stretch is that day: nothing is assumed of other days unless the mapping says so.
    """
    find_contradictions(converted)
    good = np.flatnonzero(~converted.bad)
    feet = _rows(converted, "feet", good)
    horses = _horses(converted, good)
    management, said = _management(converted, good, days_before)
    feet.understood = ("one row a foot: split into horses, management and feet",)
    management.understood = said
    return {"horses": horses, "management": management, "feet": feet}


def feet_of(converted: Converted) -> Converted:
    """Return every row of a flat sheet, those that come back too, as the table of feet."""
    return _rows(converted, "feet", np.arange(len(converted.frame)))


def _has(converted: Converted, column: str) -> bool:
    return column in converted.frame.columns


def _rows(converted: Converted, table: str, rows: np.ndarray) -> Converted:
    """Return rows of the flat sheet as a table with all its columns."""
    frame, original = ({name: cells[rows] for name, cells in own.items()} for own in _cells(converted, table))
    return _table(converted, table, frame, original, converted.frame["line"].to_numpy(dtype=np.int64)[rows])


def _cells(converted: Converted, table: str) -> tuple[dict[str, np.ndarray], dict[str, np.ndarray]]:
    """Return the cells of the columns of a table that the sheet has: ours, and as written."""
    names = [name for name in TABLES[table].names if _has(converted, name)]
    ours, written = (
        {name: frame[name].to_numpy(dtype=object) for name in names} for frame in (converted.frame, converted.original)
    )
    return ours, written


def _table(
    converted: Converted, table: str, ours: dict[str, np.ndarray], written: dict[str, np.ndarray], lines: np.ndarray
) -> Converted:
    """Return a table with all its columns, those that are not given empty."""
    empty = np.full(len(lines), "", dtype=object)
    frame, original = (
        as_objects({name: cells.get(name, empty) for name in TABLES[table].names}, len(lines))
        for cells in (ours, written)
    )
    frame["line"] = lines
    return Converted(table, frame, original, dict(converted.headers), dict(converted.positions))


def _grouped(converted: Converted, table: str, rows: np.ndarray, groups: np.ndarray) -> Converted:
    """Return a table with one row for each group of rows.

    ``groups`` are numbers from 0 in the order of the groups' first lines. Each cell is the first filled one of its
    group in the order in which ``rows`` stand; the line is the group's first.
    """
    size = int(groups.max()) + 1 if len(groups) else 0
    ours, written = _cells(converted, table)
    for name, cells in ours.items():
        first = _first(rows, groups, size)
        filled = cells[rows] != ""
        found = _first(rows[filled], groups[filled], size)
        first[found >= 0] = found[found >= 0]
        ours[name], written[name] = cells[first], written[name][first]
    order = np.argsort(rows, kind="stable")
    lines = converted.frame["line"].to_numpy(dtype=np.int64)[_first(rows[order], groups[order], size)]
    return _table(converted, table, ours, written, lines)


def _first(rows: np.ndarray, groups: np.ndarray, size: int) -> np.ndarray:
    """Return the first row of each group; -1 for a group without one."""
    first = np.full(size, -1, dtype=np.int64)
    first[groups[::-1]] = rows[::-1]
    return first


def _horses(converted: Converted, good: np.ndarray) -> Converted:
    """Return the horses: of each, every detail as on its latest visit that gives it."""
    groups = numbered(converted.frame["horse_id"].to_numpy(dtype=object)[good])
    latest = np.arange(len(good))
    if _has(converted, "visit_date"):
        days = converted.frame["visit_date"].iloc[good].reset_index(drop=True)
        latest = days.sort_values(ascending=False, kind="stable").index.to_numpy()
    return _grouped(converted, "horses", good[latest], groups[latest])


def _management(converted: Converted, good: np.ndarray, days_before: int) -> tuple[Converted, tuple[str, ...]]:
    details = [name for name in TABLES["management"].names[3:] if _has(converted, name)]
    start = "from_date" if _has(converted, "from_date") else "visit_date"
    none = np.empty(0, dtype=np.int64)
    if not details or not _has(converted, start):
        return _grouped(converted, "management", none, none), ("no management details in the sheet",)
    frame = converted.frame.iloc[good]
    filled = frame[(frame[details] != "").any(axis=1) & (frame[start] != "")]
    groups = numbered(*(filled[name].to_numpy(dtype=object) for name in ("horse_id", start)))
    stretches = _grouped(converted, "management", filled.index.to_numpy(), groups)
    if start == "from_date":
        return stretches, ("management stretches from the sheet's own first and last days", *_close(stretches.frame))
    days = filled["visit_date"].iloc[_first(np.arange(len(groups)), groups, len(stretches.frame))].tolist()
    stretches.frame["from_date"] = _starts(stretches.frame["horse_id"], days, days_before)
    stretches.frame["to_date"] = days
    if days_before:
        said = (
            f"management details hold for {days_before} days before each visit, or from the day after the visit before"
        )
        return stretches, (f"{said}, as the mapping says",)
    return stretches, (
        "management details are taken as known for the day of each visit alone, as the sheet has no first day; "
        "if they held for longer, say management_days_before in the mapping",
    )


def _close(stretches: pd.DataFrame) -> tuple[str, ...]:
    """Close each stretch without a last day on the day before the same horse's next first day, and say so."""
    ordered = stretches.sort_values(["horse_id", "from_date"], kind="stable")
    following = ordered.groupby("horse_id", sort=False)["from_date"].shift(-1)
    open_ended = following[following.notna() & (ordered["to_date"] == "")]
    if open_ended.empty:
        return ()
    days = open_ended.to_numpy().astype("datetime64[D]") - 1
    stretches.loc[open_ended.index, "to_date"] = np.datetime_as_string(days)
    return (
        "a stretch without a last day ends on the day before the same horse's next first day: "
        f"{lines_said(sorted(stretches.loc[open_ended.index, 'line']))}",
    )


def _starts(horses: pd.Series, days: Sequence[str], days_before: int) -> list[str]:
    """Return the first day of each visit's stretch: so many days before it, but after the horse's visit before."""
    visits = np.array(days, dtype="datetime64[D]")
    codes = numbered(horses.to_numpy(dtype=object)) if len(visits) else np.empty(0, dtype=np.int64)
    order = np.lexsort((visits, codes))
    starts = visits - days_before
    same = codes[order[1:]] == codes[order[:-1]]
    starts[order[1:][same]] = np.maximum(starts[order[1:]], visits[order[:-1]] + 1)[same]
    return np.datetime_as_string(starts).tolist()

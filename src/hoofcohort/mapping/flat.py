"""Split a flat sheet, one row a foot with the horse's and management details repeated, into the three tables."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
import pandas as pd

from hoofcohort.mapping.convert import Converted
from hoofcohort.mapping.robust import numbered
from hoofcohort.tables import TABLES

CHANGING = ("yard_id", "owner_id", "body_mass_kg", "body_mass_method", "height_cm", "breed_group")
"""Details of a horse that may be another on another day; of these the latest is taken, with a warning."""
_SHOWN = 6


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
    Management stretches follow from ``from_date`` where the sheet has it. Where it has not, the details are known for
    the day of the visit alone, and a stretch is that day: nothing is assumed of other days unless the mapping says so.
    """
    _contradictions(converted)
    good = np.flatnonzero(~converted.bad)
    feet = _rows(converted, "feet", good)
    horses = _horses(converted, good)
    management, said = _management(converted, good, days_before)
    feet.understood = ("one row a foot: split into horses, management and feet",)
    management.understood = said
    return {"horses": horses, "management": management, "feet": feet}


def _has(converted: Converted, column: str) -> bool:
    return column in converted.frame.columns


def _contradictions(converted: Converted) -> None:
    """Find the details that differ between rows about the same horse, or about the same horse on the same day."""
    if not _has(converted, "horse_id"):
        return
    dated = _has(converted, "visit_date")
    day = ["horse_id", "visit_date"] if dated else ["horse_id"]
    for column in TABLES["horses"].names[1:]:
        if not _has(converted, column):
            continue
        if column in CHANGING and dated:
            _check(converted, day, column)
            _tell_changes(converted, column)
        elif column == "sex" and dated:
            _check_sex(converted)
        else:
            _check(converted, ["horse_id"], column)
    stretch = ["horse_id", "from_date"] if _has(converted, "from_date") else day
    for column in TABLES["management"].names[1:]:
        if _has(converted, column) and column not in stretch:
            _check(converted, stretch, column)


def _check(converted: Converted, keys: Sequence[str], column: str) -> None:
    for _, rows in _differing(converted.frame, keys, column).groupby(list(keys), sort=False):
        _blame(converted, rows, keys, column)


def _differing(frame: pd.DataFrame, keys: Sequence[str], column: str) -> pd.DataFrame:
    """Return the rows, among those filled in, of groups in which a column differs."""
    cells = [frame[name].to_numpy(dtype=object) for name in (*keys, column)]
    rows = np.flatnonzero(np.logical_and.reduce([one != "" for one in cells]))
    groups = numbered(*(one[rows] for one in cells[:-1]))
    values = numbered(groups, cells[-1][rows])
    kinds = np.zeros(int(values.max()) + 1 if len(rows) else 0, dtype=np.int64)
    kinds[values] = groups
    return frame.iloc[rows[np.bincount(kinds)[groups] > 1]] if len(rows) else frame.iloc[rows]


def _blame(converted: Converted, rows: pd.DataFrame, keys: Sequence[str], column: str) -> None:
    told = " and ".join(f"{value} on {_lines(part['line'])}" for value, part in rows.groupby(column, sort=False))
    first = rows.iloc[0]
    who = f"horse {first['horse_id']}" + (f" on {first[keys[1]]}" if len(keys) > 1 else "")
    title = TABLES["horses"].by_name.get(column) or TABLES["management"].by_name[column]
    remedy = f"{who}: {title.title} is {told}; write the right one on every row"
    for row in rows.index.tolist():
        converted.tell(row, column, "contradiction", remedy)


def _lines(lines: Iterable[int]) -> str:
    numbers = [str(line) for line in lines]
    shown = ", ".join(numbers[:_SHOWN]) + (f" and {len(numbers) - _SHOWN} more" if len(numbers) > _SHOWN else "")
    return f"line{'s' if len(numbers) > 1 else ''} {shown}"


def _check_sex(converted: Converted) -> None:
    """Check the sex of each horse: the same on all rows, or a stallion first and a gelding from some day on."""
    frame = converted.frame
    for horse, rows in _differing(frame, ["horse_id"], "sex").groupby("horse_id", sort=False):
        entire, cut = rows[rows["sex"] == "stallion"], rows[rows["sex"] == "gelding"]
        dated = (rows["visit_date"] != "").all()
        if dated and len(entire) + len(cut) == len(rows) and entire["visit_date"].max() < cut["visit_date"].min():
            first = int(cut.index[0])
            converted.tell(first, "sex", "changed_over_time", f"horse {horse}: stallion before, gelding from then on")
        else:
            _blame(converted, rows, ["horse_id"], "sex")


def _tell_changes(converted: Converted, column: str) -> None:
    """Warn at the first row of each day on which a detail is another than at the horse's visit before."""
    frame = converted.frame
    differing = _differing(frame, ["horse_id"], column)
    changing = differing[differing["visit_date"] != ""].sort_values(["horse_id", "visit_date", "line"], kind="stable")
    days = changing.drop_duplicates(["horse_id", "visit_date"])
    before = days.groupby("horse_id", sort=False)[column].shift()
    title = TABLES["horses"].by_name[column].title
    for row in days.index[before.notna() & (before != days[column])].tolist():
        told = f"horse {frame['horse_id'].iloc[row]}: {title} was {before[row]}, is {days[column][row]}"
        converted.tell(row, column, "changed_over_time", f"{told} from this visit on; correct it if that is wrong")


def _rows(converted: Converted, table: str, rows: np.ndarray) -> Converted:
    """Return rows of the flat sheet as a table with all its columns."""
    names = TABLES[table].names
    frame = converted.frame.iloc[rows].reindex(columns=[*names, "line"], fill_value="").reset_index(drop=True)
    original = converted.original.iloc[rows].reindex(columns=list(names), fill_value="").reset_index(drop=True)
    return Converted(table, frame, original, dict(converted.headers), dict(converted.positions))


def _grouped(converted: Converted, table: str, rows: np.ndarray, groups: np.ndarray) -> Converted:
    """Return a table with one row for each group of rows.

    ``groups`` are numbers from 0 in the order of the groups' first lines. Each cell is the first filled one of its
    group in the order in which ``rows`` stand; the line is the group's first.
    """
    size = int(groups.max()) + 1 if len(groups) else 0
    frame, original = {}, {}
    for name in TABLES[table].names:
        if _has(converted, name):
            cells = converted.frame[name].to_numpy(dtype=object)
            first = _first(rows, groups, size)
            filled = cells[rows] != ""
            found = _first(rows[filled], groups[filled], size)
            first[found >= 0] = found[found >= 0]
            frame[name], original[name] = cells[first], converted.original[name].to_numpy(dtype=object)[first]
        else:
            frame[name] = original[name] = np.full(size, "", dtype=object)
    order = np.argsort(rows, kind="stable")
    lines = converted.frame["line"].to_numpy(dtype=np.int64)[_first(rows[order], groups[order], size)]
    told = dict(converted.headers), dict(converted.positions)
    return Converted(
        table, pd.DataFrame(frame, dtype=object).assign(line=lines), pd.DataFrame(original, dtype=object), *told
    )


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
        return stretches, ("management stretches from the sheet's own first and last days",)
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


def _starts(horses: pd.Series, days: Sequence[str], days_before: int) -> list[str]:
    """Return the first day of each visit's stretch: so many days before it, but after the horse's visit before."""
    visits = pd.DataFrame({"horse": horses.to_numpy(), "day": pd.to_datetime(pd.Series(days, dtype=object))})
    ordered = visits.sort_values(["horse", "day"])
    after = ordered.groupby("horse")["day"].shift() + pd.Timedelta(days=1)
    starts = pd.concat([ordered["day"] - pd.Timedelta(days=days_before), after], axis=1).max(axis=1).sort_index()
    return starts.dt.strftime("%Y-%m-%d").tolist()

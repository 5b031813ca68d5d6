"""Find the details of a flat sheet that differ between rows about the same horse, or on the same day."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import pandas as pd

from hoofcohort.mapping.converted import Converted
from hoofcohort.mapping.robust import numbered
from hoofcohort.tables import TABLES

CHANGING = ("yard_id", "owner_id", "body_mass_kg", "body_mass_method", "height_cm", "breed_group")
"""Details of a horse that may be another on another day; of these the latest is taken, with a warning."""
_SHOWN = 6


@dataclass(frozen=True)
class _Groups:
    """Rows in which all of some columns are filled, numbered by their different combinations."""

    keys: tuple[str, ...]
    rows: np.ndarray
    numbers: np.ndarray

    @classmethod
    def of(cls, frame: pd.DataFrame, *keys: str) -> _Groups:
        cells = [frame[name].to_numpy(dtype=object) for name in keys]
        rows = np.flatnonzero(np.logical_and.reduce([one != "" for one in cells]))
        return cls(keys, rows, numbered(*(one[rows] for one in cells)))

    def differing(self, frame: pd.DataFrame, column: str) -> pd.DataFrame | None:
        """Return the rows, filled in themselves, of groups in which a column differs; None when there are none."""
        cells = frame[column].to_numpy(dtype=object)[self.rows]
        filled = cells != ""
        groups = self.numbers[filled]
        values = numbered(groups, cells[filled])
        kinds = np.zeros(int(values.max(initial=-1)) + 1, dtype=np.int64)
        kinds[values] = groups
        several = np.bincount(kinds) > 1
        return frame.iloc[self.rows[filled][several[groups]]] if several.any() else None


def find_contradictions(converted: Converted) -> None:
    """Add to a flat sheet's faults what differs but cannot, to its notes what changes from one visit to another."""
    if "horse_id" not in converted.frame.columns:
        return
    columns = set(converted.frame.columns)
    dated = "visit_date" in columns
    horse = _Groups.of(converted.frame, "horse_id")
    day = _Groups.of(converted.frame, "horse_id", "visit_date") if dated else horse
    for column in [name for name in TABLES["horses"].names[1:] if name in columns]:
        if column in CHANGING and dated:
            _check(converted, day, column)
            _tell_changes(converted, horse, column)
        elif column == "sex" and dated:
            _check_sex(converted, horse)
        else:
            _check(converted, horse, column)
    stretch = _Groups.of(converted.frame, "horse_id", "from_date") if "from_date" in columns else day
    for column in [name for name in TABLES["management"].names[1:] if name in columns]:
        if column not in stretch.keys:
            _check(converted, stretch, column)


def _check(converted: Converted, groups: _Groups, column: str) -> None:
    differing = groups.differing(converted.frame, column)
    if differing is not None:
        for _, rows in differing.groupby(list(groups.keys), sort=False):
            _blame(converted, rows, groups.keys, column)


def _blame(converted: Converted, rows: pd.DataFrame, keys: tuple[str, ...], column: str) -> None:
    values = [f"{value} on {_lines(part['line'])}" for value, part in rows.groupby(column, sort=False)]
    more = [f"{len(values) - _SHOWN} other values on other lines"] if len(values) > _SHOWN else []
    told = " and ".join([*values[:_SHOWN], *more])
    first = rows.iloc[0]
    changed = keys[1:] == ("from_date",)
    since = " kept in one way since " if changed else " on "
    who = f"horse {first['horse_id']}" + (f"{since}{first[keys[1]]}" if len(keys) > 1 else "")
    title = TABLES["horses"].by_name.get(column) or TABLES["management"].by_name[column]
    remedy = f"{who}: {title.title} is {told}; write the right one on every row"
    if changed:
        header = converted.headers.get("from_date", "from_date")
        remedy += f"; if it changed, write in '{header}' of the later rows the day from which it was so"
        if "to_date" in rows.columns and (rows["to_date"] != "").any():
            remedy += f", and in '{converted.headers.get('to_date', 'to_date')}' of the earlier ones the day before"
    for row in rows.index.tolist():
        converted.tell(row, column, "contradiction", remedy)


def _lines(lines: Iterable[int]) -> str:
    numbers = [str(line) for line in lines]
    shown = ", ".join(numbers[:_SHOWN]) + (f" and {len(numbers) - _SHOWN} more" if len(numbers) > _SHOWN else "")
    return f"line{'s' if len(numbers) > 1 else ''} {shown}"


def _check_sex(converted: Converted, horse: _Groups) -> None:
    """Check the sex of each horse: the same on all rows, or a stallion first and a gelding from some day on."""
    differing = horse.differing(converted.frame, "sex")
    if differing is None:
        return
    for code, rows in differing.groupby("horse_id", sort=False):
        entire, cut = rows[rows["sex"] == "stallion"], rows[rows["sex"] == "gelding"]
        dated = (rows["visit_date"] != "").all()
        if dated and len(entire) + len(cut) == len(rows) and entire["visit_date"].max() < cut["visit_date"].min():
            first = int(cut.index[0])
            converted.tell(first, "sex", "changed_over_time", f"horse {code}: stallion before, gelding from then on")
        else:
            _blame(converted, rows, ("horse_id",), "sex")


def _tell_changes(converted: Converted, horse: _Groups, column: str) -> None:
    """Warn at the first row of each day on which a detail is another than at the horse's visit before."""
    frame = converted.frame
    differing = horse.differing(frame, column)
    if differing is None:
        return
    changing = differing[differing["visit_date"] != ""].sort_values(["horse_id", "visit_date", "line"], kind="stable")
    days = changing.drop_duplicates(["horse_id", "visit_date"])
    before = days.groupby("horse_id", sort=False)[column].shift()
    title = TABLES["horses"].by_name[column].title
    for row in days.index[before.notna() & (before != days[column])].tolist():
        told = f"horse {frame['horse_id'].iloc[row]}: {title} was {before[row]}, is {days[column][row]}"
        converted.tell(row, column, "changed_over_time", f"{told} from this visit on; correct it if that is wrong")

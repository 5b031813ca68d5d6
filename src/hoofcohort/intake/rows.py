"""Check what must hold between the cells of a row, between the rows of a table, and between tables."""

from __future__ import annotations

import datetime as dt
import re
from bisect import bisect_left, insort
from collections.abc import Mapping

import numpy as np
import pandas as pd

from hoofcohort.intake.cells import outside
from hoofcohort.intake.checked import CheckedTable, rows_where
from hoofcohort.tables import Column, Relation
from hoofcohort.tables.dictionary import limits_text

_LAST = pd.Timestamp.max.floor("D")


def related(frame: pd.DataFrame, relation: Relation) -> np.ndarray:
    """Return a relation's value for every row, missing where a cell is missing or a divisor is zero."""
    first, second = frame[relation.first].to_numpy(), frame[relation.second].to_numpy()
    if relation.kind == "difference":
        return first - second
    return np.divide(first, second, out=np.full(len(first), np.nan), where=second != 0)


def check_relations(table: CheckedTable) -> None:
    """Reject rows in which two cells together are not possible."""
    for relation in table.raw.table.relations:
        if relation.possible is None:
            continue
        values = related(table.frame, relation)
        first, second = (table.frame[name].to_numpy(dtype=float) for name in (relation.first, relation.second))
        usual = exchange_usual(relation, table.raw.table.by_name, first, second)
        for row in rows_where(outside(values, relation.possible)):
            one, other = table.raw.text(row, relation.first), table.raw.text(row, relation.second)
            value = f"{relation.name} is {values[row]:g} {relation.unit}"
            if usual[row]:
                remedy = f"{relation.likely}: {value}; "
                remedy += f"if so, write {relation.first} {other.strip()} and {relation.second} {one.strip()}"
                table.reject(row, relation.first, "cells_exchanged", remedy)
            else:
                possible = limits_text(relation.possible, relation.unit)
                remedy = f"{value} but must be {possible}; correct the one that is wrong"
                table.reject(row, relation.first, "impossible_pair", remedy)


def exchange_usual(
    relation: Relation, columns: Mapping[str, Column], first: np.ndarray, second: np.ndarray
) -> np.ndarray:
    """Tell where both cells of a relation would be usual if they were exchanged, shape (n,)."""
    found = np.ones(len(first), dtype=bool)
    for name, values in ((relation.first, second), (relation.second, first)):
        if (plausible := columns[name].plausible) is not None:
            found &= ~outside(values, plausible)
    return found


def check_births(horses: CheckedTable, as_of: dt.date | None) -> None:
    """Reject horses born after the day that the data cannot be later than."""
    if as_of is None:
        return
    for row in rows_where((horses.frame["birth_year"] > as_of.year).fillna(False)):
        horses.reject(row, "birth_year", "future_date", f"write a year no later than {as_of.year}")


def check_horses_known(table: CheckedTable, horses: CheckedTable) -> None:
    """Reject rows of a horse that is not among the accepted horses; tell a rejected horse from an unknown one."""
    ids = table.frame["horse_id"]
    accepted = horses.accepted["horse_id"]
    unknown = rows_where(ids.notna() & ~ids.isin(accepted))
    if not unknown:
        return
    fallen = _rejected_horses(horses)
    alike = {looks(known): known for known in accepted.iloc[::-1]}
    for row in unknown:
        horse = str(ids.iloc[row])
        if horse in fallen:
            line, reason = fallen[horse]
            remedy = (
                f"put line {line} of {horses.raw.file} right ({reason}); nothing is known to be wrong with this row"
            )
            table.reject(row, "horse_id", "horse_rejected", remedy)
        else:
            meant = alike.get(looks(horse))
            hint = f"; did you mean '{meant}'?" if meant else ""
            remedy = f"add the horse to {horses.raw.file}, or correct the code{hint}"
            table.reject(row, "horse_id", "horse_not_registered", remedy)


def _rejected_horses(horses: CheckedTable) -> dict[str, tuple[int, str]]:
    """Return the rejected horses: code to the line and the first reason of the first row it was rejected on."""
    first: dict[int, tuple[int, str]] = {}
    for fault in horses.faults:
        if fault.line not in first or fault.position < first[fault.line][0]:
            first[fault.line] = (fault.position, fault.reason)
    names = {
        row.line: dict(zip(horses.raw.header, row.cells, strict=False)).get("horse_id", "") for row in horses.raw.ragged
    }
    names |= {int(horses.raw.lines[row]): horses.raw.text(row, "horse_id") for row in rows_where(horses.bad)}
    return {name.strip(): (line, first[line][1]) for line, name in sorted(names.items(), reverse=True)}


def looks(code: str) -> str:
    """Return a code without what is easily mistaken: case, blanks and signs, O and 0, I, L and 1."""
    return re.sub(r"[\W_]", "", code.upper()).translate(str.maketrans("OIL", "011"))


def check_visits_after_birth(feet: CheckedTable, horses: CheckedTable) -> None:
    """Reject readings earlier than the horse's year of birth."""
    known = horses.accepted.set_index("horse_id")["birth_year"]
    births = feet.frame["horse_id"].map(known).astype("float64")
    early = feet.frame["visit_date"].dt.year < births
    for row in rows_where(early):
        remedy = f"correct the date, or the birth year {births.iloc[row]:.0f} in {horses.raw.file}"
        feet.reject(row, "visit_date", "before_birth", remedy)


def check_intervals(management: CheckedTable) -> None:
    """Reject stretches of days that end before they start."""
    frame = management.frame
    for row in rows_where(frame["to_date"] < frame["from_date"]):
        remedy = f"write a last day no earlier than the first, {frame['from_date'].iloc[row].date()}"
        management.reject(row, "to_date", "ends_before_start", f"{remedy}, or leave it empty when it is still so")


def check_duplicates(table: CheckedTable) -> None:
    """Among rows without a fault, reject those whose key an earlier one has."""
    key = list(table.raw.table.key)
    good = table.frame.loc[~table.bad, key]
    twice = good[good.duplicated(key, keep=False)]
    if twice.empty:
        return
    firsts: dict[tuple, int] = {}
    for row, name in zip(twice.index.tolist(), twice[key].itertuples(index=False, name=None), strict=True):
        first = firsts.setdefault(name, row)
        if first != row:
            table.reject(row, key[0], "duplicate_row", _duplicate_remedy(table, first, row))


def _duplicate_remedy(table: CheckedTable, first: int, row: int) -> str:
    line = table.raw.lines[first]
    one, other = table.frame.iloc[first], table.frame.iloc[row]
    differ = [
        column.name
        for column in table.raw.table.columns
        if one[column.name] is not other[column.name]
        and not (pd.isna(one[column.name]) and pd.isna(other[column.name]))
        and (pd.isna(one[column.name]) or pd.isna(other[column.name]) or one[column.name] != other[column.name])
    ]
    if not differ:
        return f"same as line {line}: delete one of the two"
    repeat = ", or give each repeat its own number in replicate" if "replicate" in table.raw.table.key else ""
    return f"names the same as line {line} but differs in {', '.join(differ)}: keep the right one{repeat}"


def check_overlaps(management: CheckedTable) -> None:
    """Among rows without a fault, reject a stretch that overlaps an accepted one on an earlier line."""
    good = management.frame.loc[~management.bad, ["horse_id", "from_date", "to_date"]]
    good = good.assign(to_date=good["to_date"].fillna(_LAST)).sort_values(["horse_id", "from_date", "to_date"])
    latest = good.groupby("horse_id")["to_date"].cummax().groupby(good["horse_id"]).shift()
    clash = set(good.loc[good["from_date"] <= latest, "horse_id"])
    involved = good[good["horse_id"].isin(clash)].sort_index()
    taken: dict[str, list[tuple[pd.Timestamp, pd.Timestamp, int]]] = {}
    for row, horse, start, end in involved.itertuples(name=None):
        stretches = taken.setdefault(horse, [])
        place = bisect_left(stretches, (start, end, row))
        near = [other for other in stretches[max(place - 1, 0) : place + 1] if start <= other[1] and other[0] <= end]
        if near:
            management.reject(row, "from_date", "overlap", _overlap_remedy(management, near[0], start, end))
        else:
            insort(stretches, (start, end, row))


def _overlap_remedy(
    management: CheckedTable, other: tuple[pd.Timestamp, pd.Timestamp, int], start: pd.Timestamp, end: pd.Timestamp
) -> str:
    first, last, row = other
    line = management.raw.lines[row]
    if last == _LAST and start > first:
        return f"line {line} is still open: close it on {(start - pd.Timedelta(days=1)).date()}, or correct the dates"
    if end == _LAST and start < first:
        return f"the row is still open: close it on {(first - pd.Timedelta(days=1)).date()}, or correct the dates"
    until = "still so" if last == _LAST else str(last.date())
    return f"correct the dates: line {line} covers {first.date()} to {until}"

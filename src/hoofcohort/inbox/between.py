"""Warnings that only the other members' rows give: a horse that is theirs, a date far after all of theirs."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterator
from statistics import median_low

from hoofcohort.inbox.pool import Pool

DATES = {"feet": "visit_date", "management": "from_date"}
_YEAR = dt.timedelta(days=366)


def tell_of_others_horses(pool: Pool) -> None:
    """Warn a member once a file and horse about accepted rows of a horse that only another member registered."""
    horses = pool.frames["horses"]
    known = horses[horses["status"] != "withdrawn"]
    members = [part.member for part in pool.parts]
    registered: dict[str, set[str]] = {}
    for code, part in zip(known["horse_id"].tolist(), known["part"].tolist(), strict=True):
        registered.setdefault(code, set()).add(members[part])
    for table in DATES:
        live = pool.live(table)
        live = live[~live["derived"].to_numpy()]
        sizes = live.groupby(["part", "horse_id"], sort=False).size()
        firsts = live.drop_duplicates(["part", "horse_id"])
        for row, part, code in zip(firsts.index, firsts["part"], firsts["horse_id"], strict=True):
            if members[part] not in registered.get(code, {members[part]}):
                count = int(sizes[part, code])
                rows = f"{count} row{'' if count == 1 else 's'} of this file"
                remedy = f"{rows} went to it; if yours is another horse, give it another code in all your files"
                pool.tell(table, int(row), "horse_id", "others_horse", remedy)
                pool.others.append((table, int(row), count))


def tell_of_dates_ahead(pool: Pool) -> None:
    """Warn about accepted dates that lie more than a year after half of the members' newest, and nobody else's near.

    Only for an inbox without a day that no date can be later than; no clock is asked.
    """
    members = [part.member for part in pool.parts]
    newest: dict[str, str] = {}
    for date, part in _newest(pool):
        newest[members[part]] = max(date, newest.get(members[part], ""))
    if len(newest) < 2:
        return
    limit = _shifted(median_low(newest.values()), _YEAR)
    late = sorted(_dated(pool, limit))
    alone = _alone({(date, members[part]) for date, part, *_ in late})
    for date, part, table, row in late:
        if (date, members[part]) in alone:
            pool.tell(table, row, DATES[table], "far_ahead", "look at the year")
            pool.ahead.append((table, row))


def _alone(dates: Collection[tuple[str, str]]) -> set[tuple[str, str]]:
    """Return those of dates with their members that no other member's date is within a year of."""
    alone = set()
    for date, member in dates:
        first, last = _shifted(date, -_YEAR), _shifted(date, _YEAR)
        if not any(first <= other <= last and own != member for other, own in dates):
            alone.add((date, member))
    return alone


def _newest(pool: Pool) -> Iterator[tuple[str, int]]:
    """Yield the newest accepted date of each part and table."""
    for table, column in DATES.items():
        live = pool.live(table)
        for part, date in live[live[column] != ""].groupby("part")[column].max().items():
            yield str(date), int(str(part))


def _dated(pool: Pool, after: str) -> Iterator[tuple[str, int, str, int]]:
    """Yield the accepted rows with a date after one: the date, the part, the table and the row."""
    for table, column in DATES.items():
        live = pool.live(table)
        late = live[(live[column] > after).to_numpy() & ~live["derived"].to_numpy()]
        for row, part, date in zip(late.index, late["part"], late[column], strict=True):
            yield str(date), int(part), table, int(row)


def _shifted(date: str, by: dt.timedelta) -> str:
    """Return a day earlier or later as text, within the years that dates have."""
    try:
        return str(dt.date.fromisoformat(date) + by)
    except OverflowError:
        return str(dt.date.max if by > dt.timedelta(0) else dt.date.min)

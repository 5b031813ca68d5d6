"""What later rounds and repeated rows make of the rows that came."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import pandas as pd

from hoofcohort.inbox.names import round_order
from hoofcohort.inbox.pool import LIVE, Pool
from hoofcohort.inbox.registry import LASTING, NUMBERS
from hoofcohort.sheets.told import MOST_SHOWN
from hoofcohort.tables import TABLES


def settle_repeats(pool: Pool) -> None:
    """Decide about rows with the same key: said twice, replaced by a later round, or contradicting each other."""
    for table in TABLES:
        frame = pool.frames[table]
        key = list(TABLES[table].key)
        keys = frame[key]
        if "replicate" in key:
            keys = keys.assign(replicate=keys["replicate"].replace("", "1"))
        whole = (keys != "").all(axis=1) & frame["status"].isin([LIVE, "rejected"])
        several = keys[whole]
        several = several[several.duplicated(keep=False)]
        for _, rows in several.groupby(key, sort=False):
            _settle(pool, table, rows.index.tolist())


def _settle(pool: Pool, table: str, rows: list[int]) -> None:
    """Settle the rows of one key, in the order in which they came."""
    frame = pool.frames[table]
    cells, sent = _compared(pool, table, rows), _sent(pool, table, rows)
    status = dict(zip(rows, frame["status"].iloc[rows].tolist(), strict=True))
    kept: list[int] = []
    for row in [row for row in rows if status[row] == LIVE]:
        member, number = sent[row]
        for one in rows if len(set(sent.values())) > 1 else ():
            earlier = one < row and sent[one][0] == member and sent[one][1] < number
            if not earlier or status[one] not in (LIVE, "rejected"):
                continue
            if status[one] == "rejected" or not _agree(table, cells[one], cells[row]):
                _replace(pool, table, one, row)
                status[one] = "superseded"
        kept = [one for one in kept if status[one] == LIVE]
        same = next((one for one in kept if _agree(table, cells[one], cells[row])), None)
        if same is None:
            kept.append(row)
            continue
        pool.mark(table, [row], "duplicate")
        status[row] = "duplicate"
        if not frame["derived"].iloc[row]:
            told = f"the same as {pool.place(table, same, frame['part'].iloc[row])}; nothing to do"
            pool.tell(table, row, "", "said_twice", told)
    if len(kept) > 1:
        (_register if table == "horses" else _contradict)(pool, table, kept)


def _sent(pool: Pool, table: str, rows: list[int]) -> dict[int, tuple[str, Any]]:
    """Return of each row the member, and the place of its round in the order of rounds."""
    numbers = pool.frames[table]["part"].to_numpy()[rows].tolist()
    parts = {number: pool.parts[number] for number in set(numbers)}
    known = {number: (part.member, round_order(part.round)) for number, part in parts.items()}
    return {row: known[number] for row, number in zip(rows, numbers, strict=True)}


def _replace(pool: Pool, table: str, one: int, row: int) -> None:
    """Let a row take the place of an earlier one, and say so."""
    frame = pool.frames[table]
    changed = different(pool, table, one, row)
    if table == "horses" and frame["status"].iloc[one] == LIVE:
        pool.tell(table, row, "horse_id", "moved", _taken(changed))
    elif not frame["derived"].iloc[row]:
        pool.tell(table, row, "", "replaces_row", _instead(pool, table, one, row, changed))
        pool.corrected.append((table, one, row))
    pool.mark(table, [one], "superseded")
    _forget(pool, table, one)


def _instead(pool: Pool, table: str, one: int, row: int, changed: list[str]) -> str:
    frame = pool.frames[table]
    place = pool.place(table, one, frame["part"].iloc[row])
    if frame["status"].iloc[one] == "rejected":
        return f"{place}, which had come back; nothing to do"
    return f"{place}: {changes(pool, table, one, row, changed)}; nothing to do if that was meant"


def changes(pool: Pool, table: str, one: int, row: int, names: Iterable[str]) -> str:
    """Say what the cells of two rows held and hold: ``toe_angle_deg 50, now 52``."""
    first, second = (pool.frames[table].iloc[place] for place in (one, row))
    return "; ".join(f"{name} {first[name] or 'empty'}, now {second[name] or 'empty'}" for name in names)


def _compared(pool: Pool, table: str, rows: list[int]) -> dict[int, tuple[str, ...]]:
    """Return the cells by which rows are the same or differ."""
    names = [name for name in TABLES[table].names if name != "replicate"]
    cells = pool.frames[table][names].iloc[rows].to_numpy(dtype=object)
    return dict(zip(rows, map(tuple, cells), strict=True))


def _agree(table: str, one: tuple[str, ...], other: tuple[str, ...]) -> bool:
    """Tell whether rows say the same; of horses, where both say something."""
    if table != "horses":
        return one == other
    return not any(first and second and first != second for first, second in zip(one, other, strict=True))


def different(pool: Pool, table: str, one: int, other: int) -> list[str]:
    """Return the columns in which two rows differ; of horses, only those that both fill."""
    first, second = (pool.frames[table].iloc[row] for row in (one, other))
    names = [name for name in TABLES[table].names if name != "replicate"]
    return [
        name for name in names if first[name] != second[name] and (table != "horses" or (first[name] and second[name]))
    ]


def _forget(pool: Pool, table: str, row: int) -> None:
    """Drop the findings of a row that no longer stands; not of a row that was only derived from a line."""
    held = pool.frames[table].iloc[row]
    if not held["derived"]:
        part = pool.parts[held["part"]]
        part.findings = [one for one in part.findings if one.line != held["line"]]


def _register(pool: Pool, table: str, rows: list[int]) -> None:
    """Accept the latest of a horse's registrations when it can have moved; else all of them come back.

    Of registrations in one round by different members that share a number, that of the latest reading's member counts.
    """
    frame = pool.frames[table]
    *earlier, last = rows
    twice = _of_one_round(pool, rows)
    for one in earlier:
        differ = different(pool, table, one, last)
        gelded = frame["sex"].iloc[one] == "stallion" and frame["sex"].iloc[last] == "gelding"
        lasting = [name for name in differ if name in LASTING and not (name == "sex" and gelded)]
        same_round = pool.parts[frame["part"].iloc[one]].round == pool.parts[frame["part"].iloc[last]].round
        if lasting or (same_round and not twice):
            _contradict(pool, table, rows)
            return
    if twice:
        last = max(twice, key=lambda row: (_latest_reading(pool, row), -row))
        _tell_twice(pool, twice, last)
    earlier = [row for row in rows if row != last]
    pool.mark(table, earlier, "superseded")
    for one in (one for one in earlier if one not in twice):
        pool.tell(table, last, "horse_id", "moved", _taken(different(pool, table, one, last)))


def _of_one_round(pool: Pool, rows: list[int]) -> list[int]:
    """Return the registrations of the last round, when different members sent them and a number is the same."""
    frame = pool.frames["horses"]
    parts = {row: pool.parts[frame["part"].iloc[row]] for row in rows}
    last = [row for row in rows if parts[row].round == parts[rows[-1]].round]
    numbers = ({frame[name].iloc[row] for row in last} for name in NUMBERS)
    shared = any(len(texts) == 1 and texts != {""} for texts in numbers)
    return last if len({parts[row].member for row in last}) == len(last) > 1 and shared else []


def _latest_reading(pool: Pool, row: int) -> str:
    """Return the latest date on which the member who registered a horse measured it; empty without one."""
    horses, feet = pool.frames["horses"], pool.live("feet")
    member = pool.parts[horses["part"].iloc[row]].member
    dates = feet.loc[feet["horse_id"] == horses["horse_id"].iloc[row], ["part", "visit_date"]]
    own = (date for part, date in dates.itertuples(index=False) if pool.parts[part].member == member)
    return max(own, default="")


def _tell_twice(pool: Pool, rows: list[int], taken: int) -> None:
    for row in rows:
        names = sorted({name for one in rows if one != row for name in different(pool, "horses", one, row)})
        whose = "yours is" if row == taken else "the other is"
        remedy = (
            f"{', '.join(names)} differs; {whose} taken, as of the latest reading; ask the coordinator if not right"
        )
        pool.tell("horses", row, "horse_id", "registered_twice", remedy)


def _taken(changed: list[str]) -> str:
    return f"{', '.join(changed)} differs from an earlier registration; the latest is taken"


def _contradict(pool: Pool, table: str, rows: list[int]) -> None:
    """Send rows back that say different things under one key; each is told of the others."""
    differing, sent = _differing(pool, table, rows), _sent(pool, table, rows)
    several = len({member for member, _ in sent.values()}) > 1
    for row in rows:
        shown = [one for one in rows[: MOST_SHOWN + 1] if one != row][:MOST_SHOWN]
        part = pool.frames[table]["part"].iloc[row]
        places = ", ".join(sorted({pool.place(table, one, part) for one in shown}))
        places += f" and {len(rows) - 1 - len(shown)} more" if len(rows) - 1 > len(shown) else ""
        thing = "horse" if table == "horses" else "thing"
        remedy = f"{places} is about the same {thing} but differs in {', '.join(differing[row])}; "
        repeat = ", or number a repeated reading in replicate" if table == "feet" else ""
        agree = f"write the right values{repeat}"
        if several:
            agree = "look whether yours are right; if they are, the coordinator asks the other member"
        if table == "horses":
            agree += "; if it is another horse, give it another code in all your files"
        pool.tell(table, row, differing[row][0], "contradiction", remedy + agree)
    pool.mark(table, rows, "rejected")


def _differing(pool: Pool, table: str, rows: list[int]) -> dict[int, list[str]]:
    """Return for each row the columns in which another of the rows says something else."""
    names = [name for name in TABLES[table].names if name != "replicate"]
    cells = _compared(pool, table, rows)
    said = [{own[place] for own in cells.values() if own[place] or table != "horses"} for place in range(len(names))]
    return {
        row: sorted(
            name
            for name, cell, texts in zip(names, own, said, strict=True)
            if len(texts) > 1 and (cell or table != "horses")
        )
        for row, own in cells.items()
    }


def fill_from_earlier(pool: Pool) -> pd.DataFrame:
    """Return the accepted horses, each empty cell filled from the same horse's registrations that were not rejected."""
    horses = pool.frames["horses"]
    usable = horses[horses["status"].isin([LIVE, "superseded", "duplicate"])]
    names = list(TABLES["horses"].names)
    latest = usable[names].mask(usable[names] == "").iloc[::-1].groupby("horse_id", sort=False).first().fillna("")
    live = pool.live("horses")
    filled = live.set_index("horse_id")[names[1:]]
    taken = filled.mask(filled == "").fillna(latest.reindex(filled.index)).fillna("")
    return live.assign(**{name: taken[name].to_numpy(dtype=object) for name in names[1:]})

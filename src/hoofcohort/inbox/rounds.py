"""What later rounds and repeated rows make of the rows that came."""

from __future__ import annotations

import pandas as pd

from hoofcohort.inbox.names import round_order
from hoofcohort.inbox.pool import LIVE, Pool
from hoofcohort.inbox.registry import LASTING
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
    kept: list[int] = []
    for row in rows:
        part = pool.parts[frame["part"].iloc[row]]
        if frame["status"].iloc[row] != LIVE:
            continue
        before = [one for one in rows if one < row and frame["status"].iloc[one] in (LIVE, "rejected")]
        for one in before:
            other = pool.parts[frame["part"].iloc[one]]
            later = other.member == part.member and round_order(other.round) < round_order(part.round)
            changed = different(pool, table, one, row)
            if later and (frame["status"].iloc[one] == "rejected" or changed):
                if table == "horses" and frame["status"].iloc[one] == LIVE:
                    pool.tell(table, row, "horse_id", "moved", _taken(changed))
                pool.mark(table, [one], "superseded")
                _forget(pool, table, one)
        kept = [one for one in kept if frame["status"].iloc[one] == LIVE]
        same = next((one for one in kept if not different(pool, table, one, row)), None)
        if same is None:
            kept.append(row)
        else:
            pool.mark(table, [row], "duplicate")
            if not frame["derived"].iloc[row]:
                pool.tell(
                    table,
                    row,
                    "",
                    "said_twice",
                    f"the same as {pool.place(table, same, frame['part'].iloc[row])}; nothing to do",
                )
    if len(kept) > 1:
        (_register if table == "horses" else _contradict)(pool, table, kept)


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
    """Accept the latest of a horse's registrations when it can have moved; else all of them come back."""
    frame = pool.frames[table]
    *earlier, last = rows
    for one in earlier:
        differ = different(pool, table, one, last)
        gelded = frame["sex"].iloc[one] == "stallion" and frame["sex"].iloc[last] == "gelding"
        lasting = [name for name in differ if name in LASTING and not (name == "sex" and gelded)]
        same_round = pool.parts[frame["part"].iloc[one]].round == pool.parts[frame["part"].iloc[last]].round
        if lasting or same_round:
            _contradict(pool, table, rows)
            return
    pool.mark(table, earlier, "superseded")
    for one in earlier:
        pool.tell(table, last, "horse_id", "moved", _taken(different(pool, table, one, last)))


def _taken(changed: list[str]) -> str:
    return f"{', '.join(changed)} differs from an earlier registration; the latest is taken"


def _contradict(pool: Pool, table: str, rows: list[int]) -> None:
    """Send rows back that say different things under one key; each is told of the others."""
    for row in rows:
        others = [one for one in rows if one != row]
        differ = sorted({name for one in others for name in different(pool, table, one, row)})
        places = ", ".join(sorted({pool.place(table, one, pool.frames[table]["part"].iloc[row]) for one in others}))
        thing = "horse" if table == "horses" else "thing"
        remedy = f"{places} is about the same {thing} but differs in {', '.join(differ)}; "
        repeat = ", or number a repeated reading in replicate" if table == "feet" else ""
        agree = f"write the right values{repeat}"
        if "a row of another member" in places:
            agree = "look whether yours are right; if they are, the coordinator asks the other member"
        pool.tell(table, row, differ[0], "contradiction", remedy + agree)
    pool.mark(table, rows, "rejected")


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

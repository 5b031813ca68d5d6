"""Withdrawals of consent, followed to every row of every horse that they reach."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from difflib import get_close_matches
from typing import Any

import numpy as np
import pandas as pd

from hoofcohort.inbox.consent import NAMES, Withdrawal
from hoofcohort.inbox.names import folded
from hoofcohort.inbox.part import IDENTITY
from hoofcohort.inbox.pool import Pool

_OF_A_HORSE = tuple(name for name in IDENTITY if name != "owner_id")


def withdraw(pool: Pool, withdrawals: Sequence[Withdrawal]) -> list[dict[str, Any]]:
    """Take every row out of every horse whose consent was withdrawn, superseded and rejected rows among them.

    A withdrawal reaches the horses that any registration, rejected ones and those in rejected rows of a flat sheet too,
    ever named with its owner, code or number; and whatever other code stands with their UELN or microchip.

    Names are compared without case and blanks; ``pool.missed`` gets the withdrawals that name nothing.

    Returns
    -------
    list of dict
        Of each withdrawal: its line in the file, its day, whether it is in force, how many rows it took out and of
        which members. It names no horse and no owner; a row that two reach counts for the first.
    """
    account: list[dict[str, Any]] = []
    gone: dict[tuple[int, int], int] = {}
    codes: dict[str, int] = {}
    told: dict[str, int] = {}
    known: set[int] = set()
    for number, one in enumerate(withdrawals):
        if one.in_force:
            own_codes, own_lines, own_texts, own_known = _reach(pool, one)
            codes |= {code: number for code in own_codes if code not in codes}
            known |= {number} if own_known else set()
            gone |= {place: number for place in own_lines if place not in gone}
            told |= {text: number for text in own_texts if text not in told}
        account.append({"line": one.line, "withdrawn": one.day, "in_force": one.in_force, "rows": 0, "members": []})
    if codes or gone or told:
        _take_out(pool, codes, gone, told, account)
    for entry in account:
        entry["members"] = sorted(set(entry["members"]))
    for number, one in enumerate(withdrawals):
        first = min((codes.get(code, number) for code in _codes_of(one)), default=number)
        if one.in_force and number not in known and not account[number]["rows"] and not account[first]["rows"]:
            pool.missed[one.line] = _nearest(pool, one)
    return account


def _codes_of(one: Withdrawal) -> set[str]:
    return {folded(text) for name, text in one.names if name == "horse_id"}


def _nearest(pool: Pool, one: Withdrawal) -> str:
    """Name what in the rows that stay is nearest to what a withdrawal names; nothing is joined by it."""
    near = []
    for name, text in one.names:
        frames = pool.frames.values() if name == "horse_id" else (pool.frames["horses"],)
        texts = {text for frame in frames for text in frame.loc[frame["status"] != "withdrawn", name].unique()}
        if found := get_close_matches(folded(text), known := {folded(other): other for other in sorted(texts)}, n=1):
            near.append(f"{name} '{known[found[0]]}'")
    return ", ".join(near)


def _reach(pool: Pool, one: Withdrawal) -> tuple[set[str], set[tuple[int, int]], set[str], bool]:
    """Return what a withdrawal reaches, names folded.

    That is the horses' codes, rows of horses without a code, texts that name them, and whether any registration does.
    """
    sent = pool.registrations
    known = sent.assign(**{name: _folded(sent[name]) for name in NAMES})
    codes = {(folded(old), folded(new)) for old, new in pool.codes.items()}
    wanted = {name: {folded(text) for kind, text in one.names if kind == name} for name in NAMES}
    wanted["horse_id"] |= {new for old, new in codes if old in wanted["horse_id"]}
    while True:
        named = pd.concat([known[name].isin(wanted[name]) for name in NAMES], axis=1).any(axis=1)
        grown = {name: wanted[name] | (set(known.loc[named, name]) - {""}) for name in _OF_A_HORSE}
        if grown == {name: wanted[name] for name in grown}:
            break
        wanted |= grown
    bare = known[named & (known["horse_id"] == "")]
    lines = set(zip(bare["part"].tolist(), bare["line"].tolist(), strict=True))
    texts = set().union(*wanted.values()) | {old for old, new in codes if new in wanted["horse_id"]}
    return wanted["horse_id"], lines, texts, bool(named.any())


def _folded(column: pd.Series) -> pd.Series:
    """Return a column of text folded, each different text once."""
    codes, texts = pd.factorize(column.to_numpy(dtype=object))
    return pd.Series(np.array([folded(text) for text in texts], dtype=object)[codes], index=column.index, dtype=object)


def _take_out(
    pool: Pool,
    codes: dict[str, int],
    gone: dict[tuple[int, int], int],
    told: dict[str, int],
    account: list[dict[str, Any]],
) -> None:
    for frame in pool.frames.values():
        by_code = _folded(frame["horse_id"]).map(codes)
        places = pd.MultiIndex.from_arrays([frame["part"], frame["line"]])
        by_line = pd.Series(places.map(gone) if gone else float("nan"), index=frame.index, dtype=float)
        reached = by_code.astype(float).fillna(by_line)
        out = frame[reached.notna()]
        frame.loc[out.index, "status"] = "withdrawn"
        for part, line, derived, number in zip(
            out["part"], out["line"], out["derived"], reached[out.index], strict=True
        ):
            gone.setdefault((int(part), int(line)), int(number))
            if not derived:
                _count(pool, account[int(number)], int(part))
    for number, part in enumerate(pool.parts):
        for place, row in enumerate(part.ragged):
            named = [told[cell] for cell in map(folded, row.cells) if cell in told]
            if named:
                pool.ragged[number][place] = "withdrawn"
                gone[number, row.line] = min(named)
                _count(pool, account[min(named)], number)
    _forget(pool, gone, told)


def _count(pool: Pool, entry: dict[str, Any], part: int) -> None:
    entry["rows"] += 1
    entry["members"].append(pool.parts[part].member)


def _forget(pool: Pool, gone: Iterable[tuple[int, int]], told: Iterable[str]) -> None:
    """Drop what is said of the rows, and what is said of a file in words that name a withdrawn owner or horse."""
    lines, quoted = set(gone), [f"'{text}'" for text in told]
    for number, part in enumerate(pool.parts):
        part.findings = [one for one in part.findings if (number, one.line) not in lines]
        part.understood = tuple(said for said in part.understood if not any(text in folded(said) for text in quoted))

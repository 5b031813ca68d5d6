"""Which registrations are the same horse: UELN and microchip decide; what is merely near is only suggested."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from typing import Any

import pandas as pd

from hoofcohort.errors import nearest
from hoofcohort.inbox.pool import Pool
from hoofcohort.intake.rows import looks

NUMBERS = ("ueln", "microchip")
LASTING = ("birth_year", "sex", "ueln", "microchip")
"""Details in which two registrations of a horse cannot differ. A stallion may become a gelding."""
NEAR_NAMES = "the names are one slip apart, birth year and sex the same"
_LETTERS = 4
_COMPARED = 100
SUGGESTION_COLUMNS = (
    "why",
    "horse_id",
    "member",
    "file",
    "line",
    "other_horse_id",
    "other_member",
    "other_file",
    "other_line",
)


def same_horses(pool: Pool) -> dict[str, str]:
    """Return the codes that stand for a horse known by another code: code to the first code sent.

    A code under which two different UELNs or microchips stand proves nothing and is left alone.
    """
    horses = pool.live("horses")
    clear = horses[~horses["horse_id"].isin(_contradicted(horses))]
    parent = {code: code for code in clear["horse_id"].tolist()}

    def root(code: str) -> str:
        while parent[code] != code:
            code = parent[code]
        return code

    order = {code: place for place, code in enumerate(parent)}
    for column in NUMBERS:
        known = clear[clear[column] != ""]
        for _, codes in known[known.duplicated(column, keep=False)].groupby(column, sort=False)["horse_id"]:
            first, *others = sorted({root(code) for code in codes}, key=order.__getitem__)
            for other in others:
                parent[other] = first
    return {code: root(code) for code in parent if root(code) != code}


def _contradicted(horses: pd.DataFrame) -> set[str]:
    found: set[str] = set()
    for column in NUMBERS:
        known = horses[horses[column] != ""]
        different = known.groupby("horse_id")[column].nunique()
        found |= set(different.index[different > 1])
    return found


def unite(pool: Pool) -> None:
    """Give every horse one code in all tables, and tell each member whose code was another."""
    codes = same_horses(pool)
    if not codes:
        return
    pool.codes.update(codes)
    for table, frame in pool.frames.items():
        renamed = frame["horse_id"].isin(codes)
        if table == "horses":
            for row in frame.index[renamed].tolist():
                pool.tell(
                    table, row, "horse_id", "same_horse", f"the study's code for it is {codes[frame['horse_id'][row]]}"
                )
        frame.loc[renamed, "horse_id"] = frame.loc[renamed, "horse_id"].map(codes)


class Registered:
    """The codes of each member's accepted horses, to name the one that a code without a horse is nearest to."""

    def __init__(self, pool: Pool) -> None:
        horses = pool.live("horses")
        self._codes: dict[str, list[str]] = {}
        for part, codes in horses.groupby("part", sort=True)["horse_id"]:
            self._codes.setdefault(pool.parts[int(str(part))].member, []).extend(codes.tolist())
        self._told: dict[tuple[str, str], str] = {}

    def nearest(self, member: str, code: str) -> str:
        """Return ``'; did you mean ...?'``, or nothing when none is near or there are too many to compare."""
        if (member, code) not in self._told:
            codes = self._codes.get(member, [])
            alike = next((own for own in codes if _plain(own) == _plain(code)), "")
            near = f"; did you mean '{alike}'?" if alike else ""
            self._told[member, code] = near or (nearest(code, codes) if len(codes) <= _COMPARED else "")
        return self._told[member, code]


def _plain(code: str) -> str:
    """Return a code as ``looks`` has it, without zeros before numbers, nor those that a program put after a point."""
    whole = code.partition(".")[0] if re.fullmatch(r"[0-9]+\.0+", code) else code
    return re.sub(r"(?<![0-9])0+(?=[0-9])", "", looks(whole))


def near(pool: Pool) -> list[tuple[str, int, int]]:
    """Return pairs of rows of accepted horses that may be the same horse, each with the reason, in order."""
    horses = pool.live("horses").drop_duplicates("horse_id")
    groups: dict[tuple[str, str], list[int]] = {}
    for row, record in zip(horses.index.tolist(), horses.to_dict("records"), strict=True):
        groups.setdefault(("the codes look alike", looks(record["horse_id"])), []).append(row)
        for name in _near_names(record):
            groups.setdefault((NEAR_NAMES, name), []).append(row)
        for column in NUMBERS:
            number = record[column]
            for place in range(len(number)):
                masked = f"{column} {number[:place]}*{number[place + 1 :]} {record['birth_year']} {record['sex']}"
                groups.setdefault((f"the {column} differs in one sign", masked), []).append(row)
    found = {(why, *pair) for (why, _), rows in groups.items() for pair in _pairs(rows)}
    alike = {one[1:] for one in found if one[0] != NEAR_NAMES}
    return sorted(one for one in found if one[0] != NEAR_NAMES or one[1:] not in alike)


def suggestions(pool: Pool) -> list[tuple[str, ...]]:
    """Return ``pool.near`` for a person to decide; cells as ``SUGGESTION_COLUMNS``."""
    return [(why, *_where(pool, one), *_where(pool, other)) for why, one, other in pool.near]


def _near_names(record: dict[Any, str]) -> set[str]:
    """Return keys of which two horses share one when their names are one slip apart and nothing else speaks against it.

    A slip is a letter too many, too few or another, or two exchanged. Horses told apart by a number alone are never
    near, nor those without a birth year and a sex, or with names of fewer than four letters.
    """
    plain = unicodedata.normalize("NFKD", record["horse_id"]).casefold()
    letters = "".join(sign for sign in plain if sign.isalpha())
    digits = "".join(sign for sign in plain if sign.isdigit())
    if len(letters) < _LETTERS or not (record["birth_year"] and record["sex"]):
        return set()
    kept = f" {digits} {record['birth_year']} {record['sex']}"
    return {letters[:place] + letters[place + 1 :] + kept for place in range(len(letters))} | {letters + kept}


def _pairs(rows: list[int]) -> Iterator[tuple[int, int]]:
    return ((rows[0], other) for other in rows[1:])


def _where(pool: Pool, row: int) -> tuple[str, str, str, str]:
    held = pool.frames["horses"].iloc[row]
    part = pool.parts[held["part"]]
    return str(held["horse_id"]), part.member, part.file, str(held["line"])

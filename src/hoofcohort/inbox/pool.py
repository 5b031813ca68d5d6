"""All parts' rows in one table each, every row with its fate so far."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from hoofcohort.inbox.listing import Unread
from hoofcohort.inbox.packed import NAMED, Packed, unpack
from hoofcohort.inbox.part import IDENTITY, Finding, Part
from hoofcohort.mapping.reasons import SEVERITY
from hoofcohort.sheets.sheet import HIDDEN
from hoofcohort.tables import TABLES

LIVE = ""
"""The status of a row that nothing has been found against."""
ANOTHERS = "a row of another member"
"""All that a letter says of another member's row."""


@dataclass
class Pool:
    """The parts in the order of rounds, members and files, and their rows.

    Attributes
    ----------
    parts : list of Part
    frames : dict of DataFrame
        By table: its columns as text, ``line``, ``status``, ``derived``, and ``part``, the number of its part.
    ragged : list of list of str
        For each part, the fates of its ragged rows.
    named : DataFrame
        What flat sheets pair, rejected rows included: ``IDENTITY``, ``part`` and ``line``.
    codes : dict
        The codes under which a horse was sent that is known by another, to that other.
    followed : dict
        The parts of which rows stay although a later file has the same name, to the latest such file's round.
    unread : list of Unread
        What lies in the inbox but in no member's folder.
    corrected : list of tuple
        Table, and the earlier and the later row, where a later file of another name replaced a row.
    others : list of tuple
        Table, first row and number of rows, where a file has rows of a horse that only another member registered.
    ahead : list of tuple
        Table and row of each date far after those of the other members.
    near : list of tuple
        A reason and two rows of horses that may be the same horse.
    answered : dict
        Part and line of rows that came back, to those of the later rows that correct them.
    missed : dict
        The lines of withdrawals in force that name nothing in the inbox, to what is nearest to it, if anything.
    """

    parts: list[Part]
    frames: dict[str, pd.DataFrame]
    ragged: list[list[str]]
    named: pd.DataFrame
    codes: dict[str, str] = field(default_factory=dict)
    followed: dict[int, str] = field(default_factory=dict)
    answered: dict[tuple[int, int], tuple[int, int]] = field(default_factory=dict)
    missed: dict[int, str] = field(default_factory=dict)
    unread: list[Unread] = field(default_factory=list)
    corrected: list[tuple[str, int, int]] = field(default_factory=list)
    others: list[tuple[str, int, int]] = field(default_factory=list)
    ahead: list[tuple[str, int]] = field(default_factory=list)
    near: list[tuple[str, int, int]] = field(default_factory=list)
    _told: dict[int, tuple[list[Finding], set[Finding]]] = field(default_factory=dict, repr=False)

    @property
    def registrations(self) -> pd.DataFrame:
        """Every pairing of horse, owner and numbers that was ever sent: ``IDENTITY``, ``part`` and ``line``."""
        columns = [*IDENTITY, "part", "line"]
        named = pd.concat([self.frames["horses"][columns], self.named[columns]], ignore_index=True)
        renamed = named["horse_id"].isin(self.codes)
        return named.assign(horse_id=named["horse_id"].mask(renamed, named["horse_id"].map(self.codes)))

    def live(self, table: str) -> pd.DataFrame:
        """The rows of a table that nothing has been found against."""
        frame = self.frames[table]
        return frame[frame["status"] == LIVE]

    def mark(self, table: str, rows: Iterable[int], status: str) -> None:
        """Set the status of rows of a table."""
        self.frames[table].loc[list(rows), "status"] = status

    def tell(self, table: str, row: int, column: str, reason: str, remedy: str) -> None:
        """Add a finding about a row; about a row that a flat sheet was split into, a warning at most."""
        held = {name: self.frames[table][name].iloc[row] for name in ("derived", "part", "line", column) if name}
        severity = SEVERITY[reason]
        if held["derived"] and severity == "error":
            severity = "warning"
            remedy += f"; the {table} row made from this line is left out"
        value = str(held[column]) if column else ""
        part = self.parts[held["part"]]
        position, header = part.places.get(column, (0, column))
        finding = Finding(int(held["line"]), position, header, value, severity, reason, remedy)
        known = self._known(held["part"])
        if finding not in known:
            known.add(finding)
            part.findings.append(finding)

    def _known(self, number: int) -> set[Finding]:
        """Return the findings of a part as a set, kept as long as their list is: a file may have very many."""
        findings = self.parts[number].findings
        if number not in self._told or self._told[number][0] is not findings:
            self._told[number] = findings, set(findings)
        return self._told[number][1]

    def is_anothers(self, table: str, row: int, part: int) -> bool:
        """Tell whether another member than that of a part sent a row."""
        return self.parts[self.frames[table]["part"].iloc[row]].member != self.parts[part].member

    def place(self, table: str, row: int, part: int) -> str:
        """Name a row for the member of a part; of another member's row nothing is told."""
        if self.is_anothers(table, row, part):
            return ANOTHERS
        here, there = self.parts[part], self.parts[self.frames[table]["part"].iloc[row]]
        line = f"line {self.frames[table]['line'].iloc[row]}"
        same = (here.round, here.file, here.sheet) == (there.round, there.file, there.sheet)
        if same:
            return line
        hidden = ", which is hidden" if HIDDEN in there.understood else ""
        return f"{line} of {there.name}{hidden}" + (f" ({there.round})" if there.round else "")

    def counts(self) -> list[dict[str, int]]:
        """Return, for each part, how many rows met each fate."""
        counted: list[Counter[str]] = [Counter() for _ in self.parts]
        for frame in self.frames.values():
            codes, fates = pd.factorize(frame["status"].to_numpy(dtype=object))
            own = ~frame["derived"].to_numpy()
            cells = frame["part"].to_numpy()[own] * len(fates) + codes[own]
            sizes = np.bincount(cells, minlength=len(self.parts) * len(fates))
            for cell in np.flatnonzero(sizes).tolist():
                counted[cell // len(fates)][fates[cell % len(fates)] or "accepted"] += int(sizes[cell])
        for source, one, ragged in zip(self.parts, counted, self.ragged, strict=True):
            one.update(ragged)
            one["aside"] += len(source.aside)
            one["superseded" if source.taken_over else "rejected"] += source.unused
        return [{fate: size for fate, size in one.items() if size} for one in counted]


def pool(packed: Packed) -> Pool:
    """Unpack the rows of parts."""
    frames = {table: unpack(packed.tables[table], table) for table in TABLES}
    ragged = [["rejected"] * len(part.ragged) for part in packed.parts]
    return Pool(packed.parts, frames, ragged, unpack(packed.tables[NAMED], NAMED))

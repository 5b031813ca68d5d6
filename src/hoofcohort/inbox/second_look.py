"""Look again at the readings of horses that came in several files, or whose body mass is known; nothing is removed."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from hoofcohort.inbox.asked import accepted
from hoofcohort.inbox.packed import numbered_texts
from hoofcohort.inbox.pool import Pool
from hoofcohort.mapping import within_horse
from hoofcohort.mapping.converted import numbers_of
from hoofcohort.mapping.index_limits import check_indices
from hoofcohort.mapping.reasons import SEVERITY
from hoofcohort.tables import TABLES, Column

_LINES = 1 << 32
"""More than a file has lines."""
_AT_A_TIME = 200_000
"""About how many readings are looked at in one go, to bound the memory."""
_SIZED = ("toe_length_mm", "coronet_circumference_mm")


@dataclass
class _Rows:
    """Rows of the pool's feet; what is told of them goes to the letter of the file that each came from."""

    pool: Pool
    frame: pd.DataFrame
    rows: np.ndarray
    known: set[tuple[int, int, str, str]]

    def tell(self, row: int, column: str, reason: str, remedy: str) -> None:
        """Add a warning or a note, unless the file alone gave the same one.

        What is an error is decided before: an accepted row never comes to have one, whose letter would call it unused.
        """
        if SEVERITY[reason] == "error":
            return
        part, line = int(self.frame["part"].iloc[row]), int(self.frame["line"].iloc[row])
        header = self.pool.parts[part].places.get(column, (0, column))[1]
        if (part, line, header, reason) not in self.known:
            self.pool.tell("feet", int(self.rows[row]), column, reason, remedy)


def look_again(pool: Pool, masses: dict[str, float]) -> None:
    """Add warnings about accepted readings that only other files, rounds or the table of horses make doubtful.

    Parameters
    ----------
    pool : Pool
        Settled: every row has its fate.
    masses : dict
        Body mass in kg by horse.
    """
    feet = pool.live("feet")
    if feet.empty:
        return
    horses = feet["horse_id"].to_numpy(dtype=object)
    parts = feet["part"].to_numpy()
    codes, different = pd.factorize(horses)
    first = np.full(len(different), -1)
    first[codes[::-1]] = parts[::-1]
    several = np.zeros(len(different), dtype=bool)
    several[codes[parts != first[codes]]] = True
    mass = np.array([masses.get(horse, np.nan) for horse in different], dtype=float)[codes]
    within = several[codes]
    batches = codes % (len(feet) // _AT_A_TIME + 1)
    for batch in range(int(batches.max()) + 1):
        own = batches == batch
        _look(pool, feet, own & within, mass, TABLES["feet"].measurements)
        _look(pool, feet, own & ~within & np.isfinite(mass), mass, ())


def _look(pool: Pool, feet: pd.DataFrame, chosen: np.ndarray, mass: np.ndarray, columns: Sequence[Column]) -> None:
    """Look at whole horses' readings; without columns, at their size alone."""
    if not chosen.any():
        return
    rows, values, told = _rows(pool, feet[chosen], columns or [TABLES["feet"].by_name[name] for name in _SIZED])
    values["body_mass_kg"] = mass[chosen]
    if columns:
        within_horse.check_feet(rows, values, told)
    else:
        within_horse.check_size(rows, values, told)
    check_indices(rows, values, told)


def body_masses(pool: Pool) -> dict[str, float]:
    """Return the body mass in kg of each accepted horse that has one."""
    horses = accepted(pool, "horses")
    weighed = horses[horses["body_mass_kg"] != ""]
    return dict(zip(weighed["horse_id"].tolist(), numbers_of(weighed["body_mass_kg"]).tolist(), strict=True))


def _rows(
    pool: Pool, feet: pd.DataFrame, columns: Iterable[Column]
) -> tuple[_Rows, dict[str, np.ndarray], dict[str, np.ndarray]]:
    """Return rows with their numbers, and which cells were told of when their file was read."""
    numbers = {column.name: _numbers(feet[column.name]) for column in columns if column.kind in ("number", "integer")}
    values = {name: own for name, own in numbers.items() if not np.isnan(own).all()}
    told = {name: np.zeros(len(feet), dtype=bool) for name in values}
    known: set[tuple[int, int, str, str]] = set()
    doubted = [(number, one) for number, part in enumerate(pool.parts) for one in part.findings
               if one.severity == "warning"]  # fmt: skip
    places = feet["part"].to_numpy() * _LINES + feet["line"].to_numpy()
    asked = np.array([number * _LINES + one.line for number, one in doubted], dtype=np.int64)
    rows = np.flatnonzero(np.isin(places, asked)).tolist()
    where = dict(zip(places[rows].tolist(), rows, strict=True))
    for number, one in doubted:
        row = where.get(number * _LINES + one.line)
        if row is not None:
            known.add((number, one.line, one.header, one.reason))
            name = next((name for name, (_, header) in pool.parts[number].places.items() if header == one.header), "")
            if name in told:
                told[name][row] = True
    return _Rows(pool, feet.reset_index(drop=True), feet.index.to_numpy(), known), values, told


def _numbers(column: pd.Series) -> np.ndarray:
    codes, texts = numbered_texts(column)
    return numbers_of(texts)[codes]

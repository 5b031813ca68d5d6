"""Find left and right, or medial and lateral, exchanged beside the horse's other readings; nothing is removed."""

from __future__ import annotations

import numpy as np

from hoofcohort.intake.checked import rows_where
from hoofcohort.mapping import limits
from hoofcohort.mapping.looked import Looked
from hoofcohort.mapping.robust import group_medians, numbered
from hoofcohort.tables import TABLES

_PAIRS = {"LF": "RF", "LH": "RH", "RF": "LF", "RH": "LH"}


def check_sides(converted: Looked, values: dict[str, np.ndarray]) -> None:
    """Find visits at which the differences between left and right are those of the horse's other visits, reversed."""
    columns = [column for column in TABLES["feet"].measurements if column.unit and column.name in values]
    horse, day, foot = (converted.frame[name].to_numpy(dtype=object) for name in ("horse_id", "visit_date", "foot"))
    used = np.flatnonzero((horse != "") & (day != "") & (foot != ""))
    if len(columns) < 2 or not len(used):
        return
    end = np.array([text[1] for text in foot[used]], dtype=object)
    left = np.array([text[0] == "L" for text in foot[used]])
    pairs = numbered(horse[used], end)
    visits = numbered(pairs, day[used])
    table = np.column_stack([values[column.name][used] for column in columns])
    scale = np.array([limits.SIDE_SCALE[column.unit] for column in columns])
    differences = (_means(table, visits, left) - _means(table, visits, ~left)) / scale
    pair_of_visit = np.zeros(len(differences), dtype=np.int64)
    pair_of_visit[visits] = pairs
    found = _reversed(differences, pair_of_visit)
    days = np.empty(len(differences), dtype=object)
    days[visits] = day[used]
    before = _turned_since(differences, pair_of_visit, days)
    for where in rows_where(found[visits] | (before[visits] != "")):
        row, visit = int(used[where]), visits[where]
        if found[visit]:
            remedy = "at the horse's other visits the differences between left and right are the other way round; "
        else:
            remedy = f"on {before[visit]} the differences between left and right were the other way round; "
        remedy += f"if the feet were exchanged, this row is {_PAIRS[foot[row]]}"
        remedy += "" if found[visit] else ", or else that visit's rows are exchanged"
        converted.tell(row, "foot", "sides_exchanged", remedy)


def check_halves(converted: Looked, groups: np.ndarray, values: dict[str, np.ndarray]) -> None:
    """Find readings whose differences between lateral and medial are those of the foot's others, reversed."""
    pairs = [(name, name.replace("lateral", "medial")) for name in values if "lateral" in name]
    pairs = [(lateral, medial) for lateral, medial in pairs if medial in values]
    used = np.flatnonzero(groups >= 0)
    if not pairs or not len(used):
        return
    differences = np.column_stack([values[lateral][used] - values[medial][used] for lateral, medial in pairs])
    for where in rows_where(_reversed(differences / limits.SIDE_SCALE["mm"], groups[used], least=1)):
        remedy = (
            "in the foot's other readings the differences between lateral and medial are the other way round; "
            "look again, and exchange them if they were exchanged"
        )
        given = next(place for place in range(len(pairs)) if np.isfinite(differences[where, place]))
        converted.tell(int(used[where]), pairs[given][0], "medial_lateral_exchanged", remedy)


def _means(table: np.ndarray, groups: np.ndarray, mask: np.ndarray) -> np.ndarray:
    """Return the groups' means over the rows of a mask, column by column; NaN where there is no value."""
    shape = (int(groups.max()) + 1, table.shape[1])
    here, own = table[mask], groups[mask]
    given = ~np.isnan(here)
    sums, counts = np.empty(shape), np.empty(shape)
    for place in range(shape[1]):
        sums[:, place] = np.bincount(own, np.nan_to_num(here[:, place]), shape[0])
        counts[:, place] = np.bincount(own, given[:, place], shape[0])
    return np.divide(sums, counts, out=np.full(shape, np.nan), where=counts > 0)


def _reversed(scaled: np.ndarray, pairs: np.ndarray, least: int = 2) -> np.ndarray:
    """Return which rows of differences are nearer to their group's median when turned; ``least``: measures needed.

    Only measures count in which the group is uneven: in the others turning changes nothing.
    """
    medians, counts = group_medians(scaled, pairs)
    visits = counts.max(axis=1)
    needed = np.where(visits >= limits.SIDES_VISITS, least, limits.SIDES_MEASURES)
    return (visits >= limits.SIDES_VISITS - 1) & _nearer_turned(scaled, medians, needed, 2)


def _nearer_turned(scaled: np.ndarray, usual: np.ndarray, needed: np.ndarray | int, far: float) -> np.ndarray:
    """Return which rows lie ``far`` from the usual differences on average, and much nearer to them when turned."""
    used = ~np.isnan(scaled) & (np.abs(usual) >= limits.SIDES_UNEVEN)
    straight = np.where(used, np.abs(scaled - usual), 0).sum(axis=1)
    turned = np.where(used, np.abs(scaled + usual), 0).sum(axis=1)
    measured = used.sum(axis=1)
    found = (measured >= needed) & (straight > far * measured) & (turned * limits.SIDES_SUPPORT < straight)
    return np.asarray(found, dtype=bool)


def _turned_since(scaled: np.ndarray, pairs: np.ndarray, days: np.ndarray) -> np.ndarray:
    """Return, for the later of a pair's two visits, the day of the earlier when it is nearer to that turned round.

    Empty where it is not, and where a pair has more visits, which tell more.
    """
    before = np.full(len(scaled), "", dtype=object)
    order = np.lexsort((days.astype(str), pairs))
    sizes = np.bincount(pairs)[pairs[order]]
    later = np.flatnonzero((sizes[1:] == 2) & (pairs[order][1:] == pairs[order][:-1])) + 1
    now, then = order[later], order[later - 1]
    found = _nearer_turned(scaled[now], scaled[then], limits.SIDES_MEASURES, 4)
    before[now[found]] = days[then[found]]
    return before

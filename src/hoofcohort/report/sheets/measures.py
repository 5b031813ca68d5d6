"""Measurements and indices: their distributions in numbers, their cut-offs, their definitions."""

from __future__ import annotations

from collections.abc import Callable, Collection
from typing import Any

import numpy as np
import pandas as pd

from hoofcohort.indices import CATALOGUE
from hoofcohort.planning.cutoffs import Cutoff
from hoofcohort.privacy.joint import few, withhold
from hoofcohort.privacy.small_numbers import WITHHELD, withheld_note
from hoofcohort.report.numbers import NOTHING, count, percent, significant, unit_words
from hoofcohort.report.run_folder import Run
from hoofcohort.report.sheet import Column, Record, Sheet, text
from hoofcohort.report.text.words import measure, upper_first
from hoofcohort.study.cutoffs import beyond_cutoff, beyond_cutoffs
from hoofcohort.tables import TABLES

BEYOND = ("readings_beyond", "horses_beyond", "readings_in_grey_zone")
MEASURED = ("readings_with_value", "horses_with_value")
STATISTICS = ("mean", "sd", "min", "q1", "median", "q3", "max")


def number_columns(readings: pd.DataFrame) -> list[str]:
    """Return the measurements, scores and indices that are numbers and were measured at least once."""
    measured = [column.name for column in TABLES["feet"].measurements if column.kind in ("number", "integer")]
    names = measured + [index.name for index in CATALOGUE.values() if index.kind == "number"]
    return [name for name in names if name in readings and readings[name].notna().any()]


def measured_by_few(run: Run) -> list[str]:
    """Return the columns of numbers that were measured of too few owners' horses to be described."""
    owners = _owners(run, run.readings)
    fewest = run.plan.fewest_owners
    return [
        name
        for name in number_columns(run.readings)
        if few(owners[run.readings[name].notna().to_numpy()].tolist(), fewest)
    ]


def means_apart(run: Run) -> list[str]:
    """Return the differences whose means, with those of their parts, would tell a mean of too few owners' horses.

    Where one part of a difference is missing, the sum of the other over all of its rows less the sum over those of the
    difference is left: a mean of the rows between.
    """
    owners, fewest = _owners(run, run.readings), run.plan.fewest_owners
    known = {name: run.readings[name].notna().to_numpy() for name in number_columns(run.readings)}
    linear = [index for index in CATALOGUE.values() if index.linear and index.name in known]
    found = set()
    for part in {part for index in linear for part in index.needs}:
        sets = {name: known[name] for name in (part, *(i.name for i in linear if part in i.needs)) if name in known}
        for name, rows in sets.items():
            between = [other & ~rows for other in sets.values() if not (rows & ~other).any()]
            if name != part and any(few(owners[one].tolist(), fewest) for one in between):
                found.add(name)
    return sorted(found)


def _owners(run: Run, readings: pd.DataFrame) -> np.ndarray:
    """Return the owner of each reading."""
    owner = run.horses.drop_duplicates("horse_id").set_index("horse_id")["owner_id"]
    return readings["horse_id"].map(owner).to_numpy(dtype=object)


def describe(
    readings: pd.DataFrame, withheld: Collection[str] = (), apart: Collection[str] = ()
) -> list[dict[str, Any]]:
    """Return one record per measurement and index: n, missing, mean, SD, quartiles, extremes.

    A pair's index can only stand on a left foot's reading, so only those count for its missing values. One that is
    withheld has no numbers, one in ``apart`` no mean.
    """
    names = number_columns(readings)
    values = readings[names].astype("float64")
    quartiles = values.quantile([0.25, 0.5, 0.75])
    left = int(readings["foot"].isin(["LF", "LH"]).sum())
    records: list[dict[str, Any]] = []
    for name in names:
        series = values[name]
        known = int(series.notna().sum())
        of = left if name in CATALOGUE and CATALOGUE[name].level == "pair" else len(series)
        title, unit = measure(name)
        quarter = dict(zip(("q1", "median", "q3"), quartiles[name], strict=True))
        extremes = {"min": float(series.min()), "max": float(series.max())}
        sd = float(series.std()) if known > 1 else None
        if name in withheld:
            nothing: dict[str, Any] = dict.fromkeys(("n", "missing", *STATISTICS), WITHHELD)
            records.append({"name": name, "title": title, "unit": unit} | nothing)
            continue
        records.append(
            {
                "name": name,
                "title": title,
                "unit": unit,
                "n": known,
                "missing": of - known,
                "mean": WITHHELD if name in apart else float(series.mean()),
            }
            | {"sd": sd}
            | quarter
            | extremes
        )
    return records


def measures_sheet(run: Run) -> Sheet:
    """Return the distributions in numbers."""
    readings, withheld, apart = run.readings, measured_by_few(run), means_apart(run)
    never = [name for name in _declared() if name not in number_columns(readings)]
    note = "Readings, not horses, are counted; readings of one horse are not independent, so the SD mixes all levels."
    if withheld:
        note += f" {WITHHELD.capitalize()}: measured of the horses of fewer than {run.plan.fewest_owners} owners."
    if apart:
        note += (
            f" Of the mean alone: beside the means of its parts it would tell that of readings of fewer than "
            f"{run.plan.fewest_owners} owners' horses, in which one part is missing."
        )
    if never:
        note += f" Never measured in this study, and not listed: {', '.join(measure(name)[0] for name in never)}."
    return Sheet(
        "measures",
        "Measurements, scores and indices of the accepted readings.",
        ("name", "title", "unit", "n", "missing", *STATISTICS),
        describe(readings, withheld, apart),
        (
            Column("Measurement or index", _titled, number=False),
            *(Column(title, _counted(key)) for title, key in (("n", "n"), ("Missing", "missing"))),
            *(Column(title, _shown(key)) for title, key in zip(_HEADS, STATISTICS, strict=True)),
        ),
        note,
    )


_HEADS = ("Mean", "SD", "Min", "Lower quartile", "Median", "Upper quartile", "Max")


def _declared() -> list[str]:
    measured = [column.name for column in TABLES["feet"].measurements if column.kind in ("number", "integer")]
    return measured + [index.name for index in CATALOGUE.values() if index.kind == "number"]


def _titled(record: Record) -> str:
    return f"{upper_first(record['title'])}, {unit_words(record['unit'])}"


def _shown(key: str) -> Callable[[Record], str]:
    return lambda record: WITHHELD if record[key] == WITHHELD else significant(record[key], 3)


def _counted(key: str) -> Callable[[Record], str]:
    return lambda record: WITHHELD if record[key] == WITHHELD else count(record[key])


def cutoffs_sheet(run: Run) -> Sheet:
    """Return how many readings and horses lie beyond each cut-off."""
    counted = beyond_cutoffs(run.readings, run.cutoffs)
    rows = counted.astype(object).where(counted.notna(), None).to_dict("records")
    withheld = _withheld(run)
    records = [
        {str(key): value for key, value in row.items()}
        | (dict.fromkeys(BEYOND, WITHHELD) if gone else {})
        | (dict.fromkeys((*BEYOND, *MEASURED), WITHHELD) if _rests_on_few(run, cutoff) else {})
        for cutoff, row, gone in zip(run.cutoffs, rows, withheld, strict=True)
    ]
    return Sheet(
        "cutoffs",
        "Readings and horses beyond the trade's cut-offs. They describe; no outcome is defined by them.",
        tuple(counted.columns),
        records,
        (
            Column("Called", text("title"), number=False),
            Column("Rule", _rule, number=False),
            Column("Readings beyond", lambda r: _part(r["readings_beyond"], r["readings_with_value"])),
            Column("Horses with one", lambda r: _part(r["horses_beyond"], r["horses_with_value"])),
            Column("In the grey zone", _grey),
            Column("Source", lambda r: f"{r['source']} [{r['status']}]", number=False),
        ),
        "Horses with one: at least one reading beyond. Grey zone: readings nearer to the limit than the smallest "
        f"detectable change, where one is set in the file of cut-offs. {withheld_note(run.plan.fewest_owners)}",
    )


def _rests_on_few(run: Run, cutoff: Cutoff) -> bool:
    """Tell whether the readings that a cut-off applies to are of too few owners' horses to be counted at all."""
    known, _, _ = beyond_cutoff(run.readings, cutoff)
    return few(_owners(run, known).tolist(), run.plan.fewest_owners)


def _withheld(run: Run) -> list[bool]:
    """Tell of each cut-off whether what is counted beyond it is withheld: all cut-offs of an index together.

    They are looked at by readings, beyond and in the grey zone, and by horses with a reading beyond.
    """
    gone = [False] * len(run.cutoffs)
    for index in dict.fromkeys(cutoff.index for cutoff in run.cutoffs):
        places = [at for at, cutoff in enumerate(run.cutoffs) if cutoff.index == index]
        if index not in run.readings:
            continue
        readings = run.readings[run.readings[index].notna()]
        found = [beyond_cutoff(readings, run.cutoffs[at]) for at in places]
        fixed = [_among(readings, known.index) for known, _, _ in found]
        ways = [
            {str(at): _read(readings, run.cutoffs[at], *own) for at, own in zip(places, found, strict=True)},
            {
                str(at): [readings["horse_id"].isin(known.loc[beyond, "horse_id"]).to_numpy() & whole]
                for at, (known, _, beyond), whole in zip(places, found, fixed, strict=True)
            },
        ]
        owners = _owners(run, readings).tolist()
        for sets in ways:
            out = withhold(sets, owners, run.plan.fewest_owners, overlap=True, fixed=fixed)
            for at in places:
                gone[at] |= any(out[str(at)])
    return gone


def _read(
    readings: pd.DataFrame, cutoff: Cutoff, known: pd.DataFrame, value: pd.Series, beyond: pd.Series
) -> list[np.ndarray]:
    """Return the readings beyond a cut-off, and those in its grey zone where there is one."""
    sets = [_among(readings, known.index[beyond])]
    if cutoff.smallest_detectable_change is not None:
        near = (value - cutoff.value).abs().lt(cutoff.smallest_detectable_change)
        sets.append(_among(readings, known.index[near]))
    return sets


def _among(readings: pd.DataFrame, chosen: pd.Index) -> np.ndarray:
    return readings.index.isin(chosen)


def _rule(record: Record) -> str:
    return str(record["rule"]).replace(">=", "\N{GREATER-THAN OR EQUAL TO}").replace("<=", "\N{LESS-THAN OR EQUAL TO}")


def _part(part: int | str, whole: int | str) -> str:
    if isinstance(part, str) or isinstance(whole, str):
        return WITHHELD
    return f"{count(part)} of {count(whole)} ({percent(part, whole)})" if whole else NOTHING


def _grey(record: Record) -> str:
    known = record["readings_in_grey_zone"]
    if known == WITHHELD:
        return WITHHELD
    return "none set" if known is None else count(int(known))


def definitions_sheet() -> Sheet:
    """Return the catalogue of indices: formula and source of each."""
    records = [
        {"name": i.name, "title": i.title, "unit": i.unit, "formula": i.formula, "source": i.source}
        for i in CATALOGUE.values()
    ]
    return Sheet(
        "indices",
        "Indices: definitions and sources.",
        ("name", "title", "unit", "formula", "source"),
        records,
        (
            Column("Index", lambda r: upper_first(r["title"]), number=False),
            Column("Unit", lambda r: unit_words(r["unit"]), number=False),
            Column("Formula, in the tables' column names", text("formula"), number=False),
            Column("Source", text("source"), number=False),
        ),
        "A value missing in any column that an index needs makes the index missing.",
    )

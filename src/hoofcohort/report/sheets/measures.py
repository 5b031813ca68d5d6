"""Measurements and indices: their distributions in numbers, their cut-offs, their definitions."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pandas as pd

from hoofcohort.indices import CATALOGUE
from hoofcohort.planning.cutoffs import Cutoff
from hoofcohort.privacy.owners import owners_of
from hoofcohort.privacy.small_numbers import WITHHELD, suppress, withheld_note
from hoofcohort.report.numbers import NOTHING, count, percent, significant, unit_words
from hoofcohort.report.run_folder import Run
from hoofcohort.report.sheet import Column, Record, Sheet, text
from hoofcohort.report.text.words import measure, upper_first
from hoofcohort.study.cutoffs import beyond_cutoff, beyond_cutoffs
from hoofcohort.tables import TABLES

BEYOND = ("readings_beyond", "horses_beyond", "readings_in_grey_zone")
STATISTICS = ("mean", "sd", "min", "q1", "median", "q3", "max")


def number_columns(readings: pd.DataFrame) -> list[str]:
    """Return the measurements, scores and indices that are numbers and were measured at least once."""
    measured = [column.name for column in TABLES["feet"].measurements if column.kind in ("number", "integer")]
    names = measured + [index.name for index in CATALOGUE.values() if index.kind == "number"]
    return [name for name in names if name in readings and readings[name].notna().any()]


def describe(readings: pd.DataFrame) -> list[dict[str, Any]]:
    """Return one record per measurement and index: n, missing, mean, SD, quartiles, extremes.

    A pair's index can only stand on a left foot's reading, so only those count for its missing values.
    """
    names = number_columns(readings)
    values = readings[names].astype("float64")
    quartiles = values.quantile([0.25, 0.5, 0.75])
    left = int(readings["foot"].isin(["LF", "LH"]).sum())
    records = []
    for name in names:
        series = values[name]
        known = int(series.notna().sum())
        of = left if name in CATALOGUE and CATALOGUE[name].level == "pair" else len(series)
        title, unit = measure(name)
        quarter = dict(zip(("q1", "median", "q3"), quartiles[name], strict=True))
        extremes = {"min": float(series.min()), "max": float(series.max())}
        sd = float(series.std()) if known > 1 else None
        records.append(
            {
                "name": name,
                "title": title,
                "unit": unit,
                "n": known,
                "missing": of - known,
                "mean": float(series.mean()),
            }
            | {"sd": sd}
            | quarter
            | extremes
        )
    return records


def measures_sheet(readings: pd.DataFrame) -> Sheet:
    """Return the distributions in numbers."""
    never = [name for name in _declared() if name not in number_columns(readings)]
    note = "Readings, not horses, are counted; readings of one horse are not independent, so the SD mixes all levels."
    if never:
        note += f" Never measured in this study, and not listed: {', '.join(measure(name)[0] for name in never)}."
    return Sheet(
        "measures",
        "Measurements, scores and indices of the accepted readings.",
        ("name", "title", "unit", "n", "missing", *STATISTICS),
        describe(readings),
        (
            Column("Measurement or index", _titled, number=False),
            Column("n", lambda r: count(r["n"])),
            Column("Missing", lambda r: count(r["missing"])),
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
    return lambda record: significant(record[key], 3)


def cutoffs_sheet(run: Run) -> Sheet:
    """Return how many readings and horses lie beyond each cut-off."""
    counted = beyond_cutoffs(run.readings, run.cutoffs)
    rows = counted.astype(object).where(counted.notna(), None).to_dict("records")
    records = [
        {str(key): value for key, value in row.items()} | _withheld(run, cutoff)
        for row, cutoff in zip(rows, run.cutoffs, strict=True)
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


def _withheld(run: Run, cutoff: Cutoff) -> dict[str, str]:
    """Return the counts of a cut-off that are withheld: those beyond it, where they or the others have few owners."""
    known, _, beyond = beyond_cutoff(run.readings, cutoff)
    owner = run.horses.set_index("horse_id")["owner_id"]
    with_one = known["horse_id"].isin(known.loc[beyond, "horse_id"])
    parts = [known.loc[rows, "horse_id"].unique() for rows in (with_one, ~with_one)]
    owners = [owners_of(owner.reindex(horses)) for horses in parts]
    out, whole = suppress([len(horses) for horses in parts], owners, run.plan.fewest_owners)
    return dict.fromkeys(BEYOND, WITHHELD) if whole or any(out) else {}


def _rule(record: Record) -> str:
    return str(record["rule"]).replace(">=", "\N{GREATER-THAN OR EQUAL TO}").replace("<=", "\N{LESS-THAN OR EQUAL TO}")


def _part(part: int | str, whole: int) -> str:
    if isinstance(part, str):
        return part
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

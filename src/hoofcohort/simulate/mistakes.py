"""The kinds of mistakes people make in such files; each function plants up to ``count`` of one kind."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta

import numpy as np
import pandas as pd

from hoofcohort.simulate.planting import FLAGGED, REJECTED, Planted, Planting

HORSES_PER_SET, MOST_SETS = 64, 20
HORSES, MANAGEMENT, FEET = "horses.csv", "management.csv", "feet.csv"
Slip = Callable[[Planting, int], None]


def _divided(divisor: float) -> Callable[[str], str]:
    return lambda text: f"{float(text) / divisor:.1f}"


def _in_cell(file: str, column: str, kind: str, wrong: Callable[[str], str]) -> Slip:
    """Return a slip that rewrites one filled cell of a row."""

    def plant(planting: Planting, count: int) -> None:
        for row in planting.pick(file, _filled(planting, file, column), count):
            planting.change(file, row, {column: wrong(planting.text(file, row, column))}, kind, REJECTED)

    return plant


def _filled(planting: Planting, file: str, *columns: str) -> np.ndarray:
    return planting.frames[file][list(columns)].notna().all(axis=1).to_numpy()


def _exchange_day_and_month(planting: Planting, count: int) -> None:
    late_in_month = (planting.frames[FEET]["visit_date"].dt.day > 12).to_numpy()
    for row in planting.pick(FEET, late_in_month, count):
        year, month, day = planting.text(FEET, row, "visit_date").split("-")
        planting.change(FEET, row, {"visit_date": f"{year}-{day}-{month}"}, "day and month exchanged", REJECTED)


def _visit_before_birth(planting: Planting, count: int) -> None:
    born = planting.frames[HORSES]["birth_year"].to_numpy(dtype=np.int64)[planting.codes[FEET]]
    for row in planting.pick(FEET, born > 2006, count):
        text = "2006" + planting.text(FEET, row, "visit_date")[4:]
        planting.change(FEET, row, {"visit_date": text}, "visit before birth year", REJECTED)


def _exchange_angles(planting: Planting, count: int) -> None:
    note = (
        "This foot was severely under-run: toe 60.5, heel 32.5 deg. Exchanged angles of an ordinary foot differ by "
        "a few degrees the other way, which is possible, and no check can find them."
    )
    for row in planting.pick(FEET, _filled(planting, FEET, "toe_angle_deg", "heel_angle_deg"), count):
        cells = {"toe_angle_deg": "32.5", "heel_angle_deg": "60.5"}
        planting.change(FEET, row, cells, "toe and heel angle exchanged", REJECTED, intended="60.5", note=note)


def _enter_twice(planting: Planting, count: int) -> None:
    for row in planting.pick(FEET, np.ones(len(planting.frames[FEET]), dtype=bool), count):
        note = f"same reading as line {row + 2}"
        planting.add(FEET, planting.row_text(FEET, row), "horse_id", "duplicate reading", REJECTED, note=note)


def _enter_horse_twice(planting: Planting, count: int) -> None:
    for row in planting.pick(HORSES, np.ones(len(planting.frames[HORSES]), dtype=bool), count):
        note = f"same horse as line {row + 2}"
        planting.add(HORSES, planting.row_text(HORSES, row), "horse_id", "horse listed twice", REJECTED, note=note)


def _mistype_horse(planting: Planting, count: int) -> None:
    for row in planting.pick(FEET, np.ones(len(planting.frames[FEET]), dtype=bool), count):
        text = planting.text(FEET, row, "horse_id").replace("0", "O", 1)
        planting.change(
            FEET, row, {"horse_id": text}, "horse not registered", REJECTED, note="letter O for the figure 0"
        )


def _manage_a_stranger(planting: Planting, count: int) -> None:
    for number, row in enumerate(planting.pick(MANAGEMENT, _only_row(planting), count), start=1):
        cells = planting.row_text(MANAGEMENT, row) | {"horse_id": f"H-GUEST-{number}"}
        planting.add(MANAGEMENT, cells, "horse_id", "horse not registered", REJECTED)


def _unknown_sex(planting: Planting, count: int) -> None:
    """Plant a horse whose row falls, and with it everything else about the horse."""
    recorded = np.isin(np.arange(len(planting.frames[HORSES])), planting.codes[MANAGEMENT])
    for row in planting.pick(HORSES, recorded & np.isin(np.arange(len(recorded)), planting.codes[FEET]), min(count, 1)):
        fall = [
            {"file": file, "line": int(line) + 2}
            for file in (FEET, MANAGEMENT)
            for line in np.flatnonzero(planting.codes[file] == row)
        ]
        planting.change(HORSES, row, {"sex": "filly"}, "unknown word", REJECTED, consequences=fall)


def _only_row(planting: Planting) -> np.ndarray:
    """Mark the management rows of horses that have just one, open to the end."""
    rows_of_horse = np.bincount(planting.codes[MANAGEMENT], minlength=len(planting.used))
    return (rows_of_horse[planting.codes[MANAGEMENT]] == 1) & planting.frames[MANAGEMENT]["to_date"].isna().to_numpy()


def _unknown_diet(planting: Planting, count: int) -> None:
    eligible = _only_row(planting) & _filled(planting, MANAGEMENT, "diet")
    note = "the horse's only row: its readings stay, with no management on record"
    for row in planting.pick(MANAGEMENT, eligible, count):
        planting.change(MANAGEMENT, row, {"diet": "haylege"}, "unknown word", REJECTED, note=note)


def _overlap(planting: Planting, count: int) -> None:
    for row in planting.pick(MANAGEMENT, _only_row(planting), count):
        start = planting.frames[MANAGEMENT]["from_date"].iloc[row].date()
        cells = planting.row_text(MANAGEMENT, row)
        cells |= {"from_date": str(start + timedelta(days=31)), "to_date": str(start + timedelta(days=61))}
        note = f"lies inside the open interval of line {row + 2}"
        planting.add(MANAGEMENT, cells, "from_date", "overlapping management interval", REJECTED, note=note)


def _end_before_start(planting: Planting, count: int) -> None:
    for row in planting.pick(MANAGEMENT, _only_row(planting), count):
        cells = planting.row_text(MANAGEMENT, row) | {"from_date": "2024-06-01", "to_date": "2024-03-01"}
        planting.add(MANAGEMENT, cells, "to_date", "interval ends before it starts", REJECTED)


def _long_untrimmed(planting: Planting, count: int) -> None:
    for row in planting.pick(MANAGEMENT, _only_row(planting), count):
        cells = planting.row_text(MANAGEMENT, row)
        cells |= {"from_date": "2022-10-01", "to_date": "2024-03-31", "trim_interval_days": "420"}
        note = "an earlier interval, outside every window"
        planting.add(MANAGEMENT, cells, "trim_interval_days", "implausible but possible", FLAGGED, note=note)


def _upright_foot(planting: Planting, count: int) -> None:
    frame = planting.frames[FEET]
    underrun = (frame["toe_angle_deg"] - frame["heel_angle_deg"]).to_numpy()
    for row in planting.pick(FEET, underrun > 4, count):
        cells = {"toe_angle_deg": "77.5", "heel_angle_deg": f"{77.5 - underrun[row]:.1f}"}
        note = "a very upright foot: both angles raised, so that the under-run is as it was"
        planting.change(FEET, row, cells, "implausible but possible", FLAGGED, note=note)


def _possible_value(column: str, text: str, note: str) -> Slip:
    def plant(planting: Planting, count: int) -> None:
        for row in planting.pick(FEET, _filled(planting, FEET, column), count):
            planting.change(FEET, row, {column: text}, "implausible but possible", FLAGGED, note=note)

    return plant


AS_OF_NOTE = "found only when the intake is given a date that the data cannot be later than"


def _year_ahead(planting: Planting, count: int) -> None:
    last: date = planting.frames[FEET]["visit_date"].max().date()
    for row in planting.pick(FEET, np.ones(len(planting.frames[FEET]), dtype=bool), count):
        text = f"{last.year + 1}" + planting.text(FEET, row, "visit_date")[4:]
        planting.change(FEET, row, {"visit_date": text}, "date in the future", REJECTED, note=AS_OF_NOTE)


SLIPS: tuple[Slip, ...] = (
    _unknown_sex,
    _enter_horse_twice,
    _unknown_diet,
    _overlap,
    _end_before_start,
    _manage_a_stranger,
    _long_untrimmed,
    _in_cell(FEET, "toe_length_mm", "typed in cm", _divided(10)),
    _in_cell(FEET, "frog_length_mm", "typed in cm", _divided(10)),
    _in_cell(FEET, "hoof_length_mm", "typed in inches", _divided(25.4)),
    _exchange_angles,
    _in_cell(FEET, "foot", "unknown foot code", lambda code: {"LF": "FL", "RF": "FR", "LH": "HL", "RH": "HR"}[code]),
    _enter_twice,
    _mistype_horse,
    _in_cell(FEET, "visit_date", "impossible date", lambda text: f"{text[:4]}-02-30"),
    _exchange_day_and_month,
    _year_ahead,
    _visit_before_birth,
    _in_cell(FEET, "toe_angle_deg", "decimal comma", lambda text: f"{float(text):.1f}".replace(".", ",")),
    _in_cell(FEET, "heel_angle_deg", "text in a number cell", lambda text: f"{text} approx"),
    _in_cell(FEET, "lateral_heel_length_mm", "negative length", lambda text: f"-{text}"),
    _in_cell(FEET, "method", "unknown word", lambda _: "guage"),
    _upright_foot,
    _possible_value("coronet_circumference_mm", "532", "a very large foot"),
    _possible_value("medial_heel_length_mm", "4", "a heel worn almost away"),
)


def plant_mistakes(rng: np.random.Generator, frames: dict[str, pd.DataFrame]) -> list[Planted]:
    """Plant one set of mistakes per 64 horses, at most 20 sets; a kind that finds no fitting row is left out.

    Parameters
    ----------
    rng : Generator
    frames : dict
        Clean typed frames by file name: horses.csv, management.csv, feet.csv.

    Returns
    -------
    list of Planted
        Sorted by file and line.
    """
    planting = Planting(rng, frames)
    sets = int(np.clip(len(frames["horses.csv"]) // HORSES_PER_SET, 1, MOST_SETS))
    for slip in SLIPS:
        slip(planting, sets)
    return sorted(planting.planted, key=lambda mistake: (mistake.file, mistake.line))

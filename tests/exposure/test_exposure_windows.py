"""Exposure windows: worked cases by hand, and any intervals against a count day by day."""

from __future__ import annotations

import math
from datetime import date, timedelta

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hoofcohort.errors import InputError
from hoofcohort.exposure import exposure_windows

DIETS = ("hay", "pasture", "concentrate")
START = date(2026, 1, 1)


def management(*rows: tuple) -> pd.DataFrame:
    frame = pd.DataFrame(rows, columns=["horse_id", "from_date", "to_date", "diet", "trim_interval_days"])
    frame["from_date"] = pd.to_datetime(frame["from_date"])
    frame["to_date"] = pd.to_datetime(frame["to_date"])
    return frame.astype({"horse_id": "str", "diet": "str", "trim_interval_days": "float64"})


def readings(*rows: tuple) -> pd.DataFrame:
    frame = pd.DataFrame(rows, columns=["horse_id", "visit_date"]).astype({"horse_id": "str"})
    return frame.assign(visit_date=pd.to_datetime(frame["visit_date"]))


def one(visit: str, window: int, *rows: tuple) -> pd.Series:
    return exposure_windows(readings(("A", visit)), management(*rows), window).iloc[0]


def test_shares_and_mean_of_a_change_within_the_window():
    # 10 days ending on 10 January: 6 on hay, trimmed every 42 days, then 4 on pasture, every 56 days.
    got = one(
        "2026-01-10",
        10,
        ("A", "2025-06-01", "2026-01-06", "hay", 42),
        ("A", "2026-01-07", None, "pasture", 56),
    )
    assert got["diet"] == "pasture"
    assert [got[f"diet__{word}"] for word in DIETS] == [0.6, 0.4, 0.0]
    assert got["trim_interval_days"] == 56
    assert got["trim_interval_days__mean"] == pytest.approx((6 * 42 + 4 * 56) / 10, rel=1e-15)
    assert got["coverage"] == got["diet__coverage"] == got["trim_interval_days__coverage"] == 1


def test_the_visits_day_is_the_windows_last_day():
    rows = ("A", "2026-01-01", "2026-01-09", "hay", 42), ("A", "2026-01-10", None, "pasture", 42)
    assert one("2026-01-10", 1, *rows)["diet__pasture"] == 1
    assert one("2026-01-09", 1, *rows)["diet__hay"] == 1
    assert one("2026-01-10", 2, *rows)["diet__pasture"] == 0.5


def test_a_gap_is_not_covered_and_shares_are_of_the_covered_days():
    got = one("2026-01-10", 10, ("A", "2026-01-01", "2026-01-03", "hay", 42), ("A", "2026-01-10", None, "pasture", 56))
    assert got["coverage"] == 0.4
    assert got["diet__hay"] == 0.75
    assert got["diet__pasture"] == 0.25


def test_an_empty_cell_is_not_covered_for_its_column_alone():
    got = one("2026-01-10", 10, ("A", "2026-01-01", "2026-01-05", None, 42), ("A", "2026-01-06", None, "hay", None))
    assert got["coverage"] == 1
    assert got["diet__coverage"] == got["trim_interval_days__coverage"] == 0.5
    assert got["diet__hay"] == 1
    assert got["trim_interval_days__mean"] == 42
    assert math.isnan(got["trim_interval_days"])


@pytest.mark.parametrize("visit", ["2025-12-31", "2024-01-01"])
def test_a_visit_before_any_interval_is_kept_with_nothing_on_record(visit):
    got = one(visit, 120, ("A", "2026-01-01", None, "hay", 42))
    assert got["coverage"] == got["diet__coverage"] == 0
    assert got.drop(["coverage", *(name for name in got.index if name.endswith("__coverage"))]).isna().all()


def test_a_horse_without_management_is_kept():
    got = exposure_windows(
        readings(("B", "2026-01-10"), ("A", "2026-01-10")), management(("A", "2026-01-01", None, "hay", 42)), 5
    )
    assert list(got["coverage"]) == [0, 1]
    assert got["diet"].isna().tolist() == [True, False]


def test_without_any_management_or_any_reading():
    empty = management()
    assert exposure_windows(readings(("A", "2026-01-10")), empty, 5)["coverage"].tolist() == [0]
    assert len(exposure_windows(readings(), management(("A", "2026-01-01", None, "hay", 42)), 5)) == 0


def test_order_and_index_are_the_readings():
    table = readings(("A", "2026-03-01"), ("A", "2026-01-02"), ("A", "2026-03-01")).set_axis([7, 3, 5])
    got = exposure_windows(
        table, management(("A", "2026-01-01", "2026-01-31", "hay", 42), ("A", "2026-02-01", None, "pasture", 42)), 1
    )
    assert list(got.index) == [7, 3, 5]
    assert list(got["diet"]) == ["pasture", "hay", "pasture"]


def test_overlapping_intervals_and_strange_words_are_refused():
    with pytest.raises(InputError, match="two intervals of horse 'A' overlap"):
        one("2026-01-10", 5, ("A", "2026-01-01", "2026-01-05", "hay", 42), ("A", "2026-01-05", None, "hay", 42))
    with pytest.raises(InputError, match="two intervals of horse 'A' overlap"):
        one("2026-01-10", 5, ("A", "2026-01-01", None, "hay", 42), ("A", "2026-02-05", None, "hay", 42))
    with pytest.raises(InputError, match="interval of horse 'A' ends before it begins"):
        one("2026-01-10", 5, ("A", "2026-01-05", "2026-01-04", "hay", 42))
    with pytest.raises(InputError, match="diet: 'oats' is none of hay, pasture, concentrate"):
        one("2026-01-10", 5, ("A", "2026-01-05", None, "oats", 42))
    with pytest.raises(ValueError, match="at least 1"):
        one("2026-01-10", 0, ("A", "2026-01-05", None, "hay", 42))


@st.composite
def kept(draw) -> tuple[list[tuple], list[tuple[str, date]], int]:
    """Intervals (some one day long, with gaps, the last perhaps open), visits and a window."""
    intervals: list[tuple] = []
    for horse in draw(st.lists(st.sampled_from("ABC"), unique=True, max_size=3)):
        day = draw(st.integers(-20, 40))
        pieces = draw(st.integers(1, 4))
        for piece in range(pieces):
            last = day + draw(st.integers(0, 25))
            is_open = piece == pieces - 1 and draw(st.booleans())
            diet = draw(st.sampled_from([*DIETS, None]))
            trim = draw(st.one_of(st.none(), st.floats(1, 730, width=32)))
            to = None if is_open else START + timedelta(last)
            intervals.append((horse, START + timedelta(day), to, diet, trim))
            day = last + 1 + draw(st.sampled_from([0, 0, 1, 9]))
    visits = draw(st.lists(st.tuples(st.sampled_from("ABCD"), st.integers(-30, 120)), max_size=8))
    shuffled = draw(st.permutations(intervals))
    return shuffled, [(horse, START + timedelta(day)) for horse, day in visits], draw(st.integers(1, 60))


def day_by_day(intervals: list[tuple], horse: str, visit: date, window: int) -> dict[str, object]:
    """Count each day of the window on its own."""
    kept_on = []
    for back in range(window):
        day = visit - timedelta(back)
        kept_on.append(
            next((row for row in intervals if row[0] == horse and row[1] <= day <= (row[2] or date.max)), None)
        )
    diets = [row[3] for row in kept_on if row and row[3] is not None]
    trims = [row[4] for row in kept_on if row and row[4] is not None]
    expected: dict[str, object] = {
        "coverage": sum(row is not None for row in kept_on) / window,
        "diet": kept_on[0][3] if kept_on[0] else None,
        "diet__coverage": len(diets) / window,
        "trim_interval_days": kept_on[0][4] if kept_on[0] else None,
        "trim_interval_days__coverage": len(trims) / window,
        "trim_interval_days__mean": math.fsum(trims) / len(trims) if trims else None,
    }
    return expected | {f"diet__{word}": diets.count(word) / len(diets) if diets else None for word in DIETS}


@settings(max_examples=300, deadline=None)
@given(kept())
def test_any_intervals_agree_with_a_count_day_by_day(case):
    intervals, visits, window = case
    got = exposure_windows(readings(*visits), management(*intervals), window)
    assert len(got) == len(visits)
    for place, (horse, visit) in enumerate(visits):
        for column, value in day_by_day(intervals, horse, visit, window).items():
            cell = got[column].iloc[place]
            if value is None:
                assert pd.isna(cell), column
            elif isinstance(value, str):
                assert cell == value, column
            else:
                assert cell == pytest.approx(value, rel=1e-12, abs=1e-12), column


def test_shares_sum_to_one_where_there_is_coverage():
    rng = np.random.default_rng(5)
    days = rng.integers(0, 400, 500)
    table = readings(*(("A", START + timedelta(int(day))) for day in days))
    rows = [("A", START + timedelta(40 * i), START + timedelta(40 * i + 39), DIETS[i % 3], 42) for i in range(5)]
    got = exposure_windows(table, management(*rows), 90)
    total = got[[f"diet__{word}" for word in DIETS]].sum(axis=1)
    assert np.allclose(total[got["diet__coverage"] > 0], 1, rtol=1e-12)
    assert (got["diet__coverage"] > 0).sum() > 100

"""The exposures behind the simulated effects, counted again day by day from the management on record."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from hoofcohort.exposure import exposure_windows
from hoofcohort.simulate import simulate_cohort

WINDOW_DAYS = 120


@pytest.fixture(scope="module")
def cohort():
    return simulate_cohort(150, seed=11, mistakes=False)


def days_on_record(rows, visit):
    """Return the management row in force on each day of the window, oldest first; days without one are left out."""
    found = []
    for back in range(WINDOW_DAYS):
        day = visit - dt.timedelta(days=back)
        for row in rows:
            end = row.to_date.date() if row.to_date == row.to_date else dt.date.max
            if row.from_date.date() <= day <= end:
                found.append(row)
    return found


def compare(cohort, horse):
    rows = list(cohort.management[cohort.management["horse_id"] == horse].itertuples())
    readings = cohort.feet.index[cohort.feet["horse_id"] == horse]
    full = 0
    for index in readings:
        days = days_on_record(rows, cohort.feet.at[index, "visit_date"].date())
        assert len(days) <= WINDOW_DAYS
        full += len(days) == WINDOW_DAYS
        for column, words in (("diet", ("hay", "pasture", "concentrate")), ("terrain", ("soft", "mixed", "hard"))):
            for word in words:
                share = sum(getattr(day, column) == word for day in days) / len(days)
                assert cohort.terms.at[index, f"{column}[{word}]"] == pytest.approx(share, abs=1e-12)
        mean = sum(day.trim_interval_days for day in days) / len(days)
        assert cohort.terms.at[index, "trim_interval_days"] == pytest.approx(mean, abs=1e-9)
    return full, len(readings)


def complete(management):
    return management.dropna(subset=["diet", "terrain", "trim_interval_days"])


def test_shares_and_means_of_horses_that_changed_over(cohort):
    rows = complete(cohort.management).groupby("horse_id").size()
    changed = [*rows.index[rows == 3][:6], *rows.index[rows == 2][:6]]
    assert len(changed) == 12
    for horse in changed:
        full, readings = compare(cohort, horse)
        assert full == readings
    mixed = cohort.terms["diet[hay]"].between(0.05, 0.95)
    assert mixed.sum() > 50


def test_partly_covered_horses_were_kept_before_the_record_as_on_its_first_day(cohort):
    first = complete(cohort.management).groupby("horse_id")["from_date"].min()
    late = first.index[first > "2025-11-15"]
    assert len(late) == 9
    partly = 0
    for horse in late:
        full, readings = compare(cohort, horse)
        partly += full < readings
    assert partly > 0


def test_the_analysis_sees_the_exposures_that_acted(cohort):
    windows = exposure_windows(cohort.feet, cohort.management, WINDOW_DAYS)
    for column, words in (("diet", ("hay", "pasture", "concentrate")), ("terrain", ("soft", "mixed", "hard"))):
        known = (windows[f"{column}__coverage"] > 0).to_numpy()
        assert 0.85 < known.mean() < 1
        for word in words:
            found = windows.loc[known, f"{column}__{word}"].to_numpy(dtype=float)
            np.testing.assert_allclose(found, cohort.terms.loc[known, f"{column}[{word}]"], atol=1e-9)
    known = windows["trim_interval_days__mean"].notna().to_numpy()
    assert 0.85 < known.mean() < 1
    found = windows.loc[known, "trim_interval_days__mean"].to_numpy(dtype=float)
    np.testing.assert_allclose(found, cohort.terms.loc[known, "trim_interval_days"], atol=1e-9)

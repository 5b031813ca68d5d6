"""What a letter suggests for a date: only days that are possible and not to come."""

from __future__ import annotations

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st
from mapped_sheets import one_column, told

from hoofcohort.mapping.slips import check

AS_OF = dt.date(2026, 6, 30)


def remedy(text):
    converted = one_column([text], to="visit_date")
    check(converted, AS_OF)
    return next(said for _, reason, said in told(converted) if reason != "serial_date")


@given(st.dates(dt.date(1998, 1, 1), AS_OF))
def test_a_day_counted_from_1970_is_suggested_and_never_taken(day):
    """Whole days of POSIX time, by the calendar of the standard library; a spreadsheet would have them before 1980."""
    seconds = int(dt.datetime(day.year, day.month, day.day, tzinfo=dt.UTC).timestamp())
    year = "write a date from 1980-01-01 to 2100-12-31; check the year"
    assert remedy(str(seconds // 86400)) == f"{year}; if it counts the days since 1970-01-01, write {day}"


@pytest.mark.parametrize("text", ["20635", "29000", "90000"])
def test_a_day_counted_from_1970_that_is_still_to_come_is_not_suggested(text):
    assert "1970" not in remedy(text)

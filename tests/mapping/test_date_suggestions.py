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


def days(*cells, **to):
    converted = one_column(cells, to="visit_date", **to)
    return converted.frame["visit_date"].tolist(), told(converted), converted.understood


def test_points_between_numbers_mean_that_the_day_stands_first_and_that_is_said():
    read, said, understood = days("01.11.2025", "05.05.2026")
    other = "as nothing else decides; if the month stands first, write 2025-01-11"
    assert read == ["2025-11-01", "2026-05-05"]
    assert said == [(2, "day_first", f"'01.11.2025' is read as 2025-11-01, {other}")]
    assert understood[:1] == (
        "'theirs': dates with points between the numbers and the whole year at the end are day, month, year (common "
        "practice, no source); if not, say date_order in the mapping",
    )


@pytest.mark.parametrize(
    ("cells", "order"),
    [(["01.11.2025", "03.13.2025"], "MDY"), (["01.11.2025"], "MDY"), (["01.11.2025", "13.03.2025"], "DMY")],
)
def test_points_decide_nothing_where_the_mapping_or_a_cell_does(cells, order):
    read, said, _ = days(*cells, date_order=order if len(cells) == 1 else "")
    assert read[0] == ("2025-01-11" if order == "MDY" else "2025-11-01")
    assert said == []


@pytest.mark.parametrize("other", ["02/03/2026", "02.03.26", "3/14/2026 00:00"])
def test_points_decide_nothing_beside_other_forms(other):
    read, said, _ = days("01.11.2025", other)
    assert read[0] != "2025-11-01" or not any(reason == "day_first" for _, reason, _ in said)


def test_two_orders_of_points_leave_the_others_open():
    assert days("01.11.2025", "13.03.2025", "03.13.2025")[0] == ["", "2025-03-13", "2025-03-13"]


def test_a_month_by_name_between_two_short_numbers_leaves_day_and_year_open():
    _, said, _ = days("26-Mar-14", "26-Apr-03", "26-May-20")
    assert {reason for _, reason, _ in said} == {"ambiguous_year"}
    assert said[0][2].startswith("write 2014-03-26 or 2026-03-14")

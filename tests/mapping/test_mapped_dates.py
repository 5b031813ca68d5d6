from __future__ import annotations

import pytest
from mapped_sheets import one_column, told

from hoofcohort.mapping.date_order import find_order
from hoofcohort.mapping.dates import read_date


def days(converted):
    return converted.frame["visit_date"].tolist()


@pytest.mark.parametrize(
    "text",
    [
        "2026-04-03", "2026/4/3", "20260403", "2026-04-03T00:00:00", "3 April 2026", "3. Apr. 2026",
        "3rd of April 2026", "April 3, 2026", "3 avril 2026", "03-Apr-26", "46115", "46115.6",
        "2026-04-03 14:30", "2026-04-03T14:30:00.5Z",
    ],
)  # fmt: skip
def test_forms_that_mean_one_day(text):
    assert read_date(text).iso == "2026-04-03"


def test_a_time_of_day_is_left_out_and_that_is_said():
    converted = one_column(["13/04/2026 9:05"], to="visit_date")
    assert days(converted) == ["2026-04-13"]
    assert converted.understood[1] == "'theirs': times of day are left out"


def test_serial_days_are_those_of_the_spreadsheet_systems():
    """Microsoft's documentation: 1 January 2008 is day 39448 of the 1900 system; the systems are 1462 days apart."""
    assert read_date("39448").iso == "2008-01-01"
    assert read_date(str(39448 - 1462), system=1904).iso == "2008-01-01"


def test_day_and_month_are_decided_by_another_cell_or_the_mapping_or_not_at_all():
    alone = one_column(["03/04/2026", "04/04/2026"], to="visit_date")
    assert days(alone) == ["", "2026-04-04"]
    asked = "write 2026-04-03 or 2026-03-04, or say in the mapping in which order the column's dates are"
    assert told(alone) == [(2, "ambiguous_date", asked)]

    decided = one_column(["03/04/2026", "13/04/2026"], to="visit_date")
    assert days(decided) == ["2026-04-03", "2026-04-13"]
    assert "'theirs': dates are day, month, year, because of the cell '13/04/2026'" in decided.understood

    assert days(one_column(["03/04/2026", "04/13/2026"], to="visit_date")) == ["2026-03-04", "2026-04-13"]
    assert days(one_column(["3.4.26"], to="visit_date", date_order="DMY")) == ["2026-04-03"]
    assert days(one_column(["26/04/03"], to="visit_date", date_order="YMD")) == ["2026-04-03"]
    both = one_column(["03/04/2026", "13/04/2026", "04/13/2026"], to="visit_date")
    assert days(both) == ["", "2026-04-13", "2026-04-13"]


def test_a_date_against_the_order_comes_back():
    converted = one_column(["04/13/2026"], to="visit_date", date_order="DMY")
    assert told(converted) == [
        (2, "day_month_exchanged", "write YYYY-MM-DD: 2026-04-13; the mapping says DMY"),
    ]


@pytest.mark.parametrize("text", ["30/02/2026", "2026-02-30", "31 April 2026", "29/02/2026"])
def test_a_day_that_is_not_in_the_calendar(text):
    assert told(one_column([text], to="visit_date")) == [(2, "impossible_date", "write a day that exists, YYYY-MM-DD")]


def test_serial_days_among_written_dates_are_doubted_and_a_column_of_them_is_said():
    mixed = one_column(["46115", "2026-04-04"], to="visit_date")
    assert told(mixed) == [
        (2, "serial_date", "'46115' is read as 2026-04-03 (1900 date system); correct it if it is no date")
    ]
    whole = one_column(["46115", "46116"], to="visit_date")
    assert told(whole) == []
    assert whole.understood[0] == "'theirs': numbers of days in the 1900 date system, such as '46115' for 2026-04-03"


def test_a_date_of_birth_gives_the_year():
    converted = one_column(["3/4/2010", "13/4/2011", "2012"], to="birth_year", unit="date")
    assert converted.frame["birth_year"].tolist() == ["2010", "2011", "2012"]


def test_two_digit_years_that_leave_the_order_open():
    assert find_order(["26-04-03"]).order == ""
    assert read_date("26-04-03").code == "ambiguous_date"
    assert find_order(["26-04-03", "13-05-85"]).order == "DMY"


def test_the_year_stands_last_after_points_and_strokes_unless_the_mapping_says_otherwise():
    assert days(one_column(["14.03.26", "03.04.26"], to="visit_date")) == ["2026-03-14", "2026-04-03"]
    assert days(one_column(["14/03/26"], to="visit_date")) == ["2026-03-14"]
    assert days(one_column(["14/03/26"], to="visit_date", date_order="YMD")) == ["2014-03-26"]


@pytest.mark.parametrize("text", ["31.04.26", "31.11.25", "29.02.26", "31/04/26", "26-04-31", "31-04-26", "45.03.26"])
def test_a_day_that_is_not_in_the_calendar_is_not_looked_for_in_another_order(text):
    assert told(one_column([text], to="visit_date"))[0][1] == "impossible_date"


@pytest.mark.parametrize(
    "cells",
    [
        ["26-Mar-14", "26-Apr-03", "26-May-20"],  # one day, years far apart: the year stands first
        ["2026-03-13", "26-Mar-14"],
        ["26/03/14", "26/04/03", "26/05/20"],
        ["13.03.2026", "26.03.14"],
    ],
)
def test_a_year_that_may_stand_first_comes_back(cells):
    converted = one_column(cells, to="visit_date")
    line = 1 + len(cells) if cells[0][-5:-2] != "Mar" and len(cells) == 2 else 2
    found = {row: (reason, remedy) for row, reason, remedy in told(converted)}
    assert found[line][0] == "ambiguous_year"
    assert found[line][1].startswith("write 2014-03-26 or 2026-03-14, or say")


def test_a_month_by_name_with_a_short_year():
    usual = one_column(["14-Mar-26", "03-Apr-26"], to="visit_date")
    assert days(usual) == ["2026-03-14", "2026-04-03"]
    assert "'theirs': beside a month's name the year stands last" in usual.understood
    assert days(one_column(["26-Mar-14"], to="visit_date", date_order="YMD")) == ["2026-03-14"]


def test_dates_that_a_spreadsheet_of_another_country_may_have_exchanged_come_back():
    cells = ["13/03/2026", "25/03/2026", "2026-04-03", "2026-12-03", "2026-05-05"]
    converted = one_column(cells, to="visit_date")
    assert days(converted) == ["2026-03-13", "2026-03-25", "", "", "2026-05-05"]
    assert [(line, reason) for line, reason, _ in told(converted)] == [(4, "ambiguous_date"), (5, "ambiguous_date")]
    assert "2026-04-03 or 2026-03-04" in told(converted)[0][2]
    assert "write every date of the column as YYYY-MM-DD, the others too" in told(converted)[0][2]
    american = one_column(["03/13/2026", "2026-04-03"], to="visit_date")
    assert [(line, reason) for line, reason, _ in told(american)] == [(3, "ambiguous_date")]


def test_dates_written_as_the_remedy_says_come_back_no_more():
    first = one_column(["13/03/2026", "2026-04-03", "2026-12-03"], to="visit_date")
    assert [line for line, _, _ in told(first)] == [3, 4]
    assert "write every date of the column as YYYY-MM-DD" in told(first)[0][2]
    written = ["2026-03-13", "2026-03-04", "2026-03-12"]
    second = one_column(written, to="visit_date")
    assert (days(second), told(second)) == (written, [])


def test_a_mapping_that_says_the_order_keeps_such_dates_with_a_warning():
    kept = one_column(["13/03/2026", "2026-04-03"], to="visit_date", date_order="DMY")
    assert days(kept) == ["2026-03-13", "2026-04-03"]
    ((line, reason, remedy),) = told(kept)
    assert (line, reason) == (3, "date_may_be_exchanged")
    assert "write 2026-03-04" in remedy


@pytest.mark.parametrize("other", ["2026-04-13", "03/04/2026"])
def test_one_date_that_no_spreadsheet_made_clears_the_others(other):
    assert told(one_column(["13/03/2026", "2026-04-03", other], to="visit_date")) == []


def test_a_year_is_taken_from_a_date_of_birth_whose_day_is_open():
    converted = one_column(["03/04/2012", "2011-20-02"], to="birth_year", unit="date")
    assert converted.frame["birth_year"].tolist() == ["2012", "2011"]
    assert told(converted) == []
    assert told(one_column(["12-04-11", "26-04-11"], to="birth_year", unit="date"))[-1][1] == "ambiguous_year"

from __future__ import annotations

import pytest
from mapped_sheets import one_column, told

from hoofcohort.mapping.dates import find_order, read_date


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
    assert find_order(["26/04/03"]).order == ""
    assert read_date("26/04/03").code == "ambiguous_date"
    assert find_order(["26/04/03", "13/05/85"]).order == "DMY"

"""Read a column of dates: its order, and each different text."""

from __future__ import annotations

import re
from collections import Counter

from hoofcohort.intake.remedies import PIVOT
from hoofcohort.mapping import dates, units
from hoofcohort.mapping.column_reading import Reading, take_missing
from hoofcohort.mapping.date_order import Orders, find_order
from hoofcohort.mapping.mapping import To
from hoofcohort.tables import Column


def read_dates(reading: Reading, left: list[int], to: To, column: Column, typed: bool) -> None:
    """Read a column of dates, or of years written as dates: its order first, then each text."""
    left = [place for place in left if not take_missing(reading, place, column)]
    years = to.unit == units.YEAR_OF_DATE
    order = find_order((reading.texts[place] for place in left), to.date_order)
    forms: Counter[str] = Counter()
    read: dict[int, dates.Date] = {}
    for place in left:
        text = reading.texts[place]
        if years and re.fullmatch("[0-9]{4}", text):
            reading.ours[place] = text
            continue
        date = dates.read_date(text, order.order, to.date_system)
        if text in order.year_first:
            date = dates.Date(code="ambiguous_date", meant=dates.both_ways(text))
        if date.code and not (years and len({iso[:4] for iso in date.meant}) == 1):
            one_month = date.code == "ambiguous_date" and len({iso[5:7] for iso in date.meant}) == 1
            reason = "ambiguous_year" if one_month else date.code
            reading.put(place, reason=reason, remedy=_date_remedy(date, order))
            continue
        forms[date.form] += 1
        read[place] = date
        iso = date.iso or date.meant[0]
        reading.put(place, iso[:4] if years else iso)
        open_to = dates.read_date(text).meant if order.said == "points" and not years else ()
        if other := next((day for day in open_to if day != iso), ""):
            told = f"'{text}' is read as {iso}, as nothing else decides; if the month stands first, write {other}"
            reading.put(place, iso, "day_first", told)
    serials = [place for place, date in read.items() if date.form == "serial"]
    if len(serials) < len(left):
        for place in serials:
            told = f"'{reading.texts[place]}' is read as {reading.ours[place]} ({to.date_system} date system)"
            reading.put(place, reading.ours[place], "serial_date", f"{told}; correct it if it is no date")
    if not years:
        _doubt_exchanged(reading, read, order)
    reading.understood += _dates_said(reading, order, forms, serials, to)


def _doubt_exchanged(reading: Reading, read: dict[int, dates.Date], order: Orders) -> None:
    """Doubt a spreadsheet's dates beside texts that it could not read: it may have exchanged day and month of them.

    A spreadsheet of another country leaves 13/03/2026 as text and turns 03/04/2026 into a date, of another day. So when
    every text has a number above 12 and no date has a day above 12, each of them can mean two days.
    """
    written = [place for place, date in read.items() if date.form.startswith("numbers")]
    turned = [place for place, date in read.items() if date.form in ("iso", "serial")]
    if not written or not turned:
        return
    if any(int(reading.ours[place][8:]) <= 12 for place in written) or any(
        int(reading.ours[place][8:]) > 12 for place in turned
    ):
        return
    for place in turned:
        iso = str(reading.ours[place])
        other = f"{iso[:4]}-{iso[8:]}-{iso[5:7]}"
        if other == iso:
            continue
        why = (
            f"a spreadsheet may have exchanged day and month: all dates like '{reading.texts[written[0]]}' have a day "
            "above 12, and none like this one has"
        )
        if order.said == "mapping":
            remedy = f"{why}; if so, write {other}; it is kept, because the mapping says the order of dates"
            reading.put(place, iso, "date_may_be_exchanged", remedy)
        else:
            told = f"write every date of the column as YYYY-MM-DD, the others too, and this one as {iso} or {other}"
            remedy = f"{why}; {told}, as it was, or have date_order said in the mapping"
            reading.put(place, reason="ambiguous_date", remedy=remedy)


def _dates_said(reading: Reading, order: Orders, forms: Counter[str], serials: list[int], to: To) -> list[str]:
    told = []
    words = {"DMY": "day, month, year", "MDY": "month, day, year", "YMD": "year, month, day"}
    if any(form.startswith("numbers") for form in forms):
        if order.said == "mapping":
            told.append(f"dates are {words[order.order]}, as the mapping says")
        elif order.said == "points":
            told.append(
                "dates with points between the numbers and the whole year at the end are day, month, year (common "
                "practice, no source); if not, say date_order in the mapping"
            )
        elif order.said == "cells":
            told.append(f"dates are {words[order.order]}, because of the cell '{order.example}'")
    if order.both:
        told.append("dates of more than one order occur; a date that could be read in two ways comes back")
    if any(form.endswith("year of two digits") for form in forms):
        last = PIVOT - 1
        told.append(f"years of two digits: 00 to {last} are 2000 to 20{last}, {PIVOT} to 99 are 19{PIVOT} to 1999")
    if "named, year of two digits" in forms and order.order != "YMD":
        told.append("beside a month's name the year stands last")
    if any(":" in text and ours for text, ours in zip(reading.texts, reading.ours, strict=True)):
        told.append("times of day are left out")
    if serials:
        first = serials[0]
        told.append(
            f"numbers of days in the {to.date_system} date system, such as '{reading.texts[first]}' for "
            f"{reading.ours[first]}"
        )
    return told


def _date_remedy(date: dates.Date, order: Orders) -> str:
    match date.code:
        case "ambiguous_date":
            return f"write {' or '.join(date.meant)}, or say in the mapping in which order the column's dates are"
        case "day_month_exchanged":
            who = "the mapping says" if order.said == "mapping" else "the column's other cells say"
            why = "" if not order.order else f"; {who} {order.order}"
            return f"write YYYY-MM-DD: {date.meant[0]}{why}"
        case "impossible_date":
            return "write a day that exists, YYYY-MM-DD"
        case _:
            return "write YYYY-MM-DD, such as 2026-03-14"

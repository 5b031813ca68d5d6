"""Merged cells of a workbook, as spreadsheet programs and table libraries write a code once for several rows."""

from __future__ import annotations

import openpyxl

from hoofcohort.inbox.member import read_parts

HEADER = ["horse_id", "foot", "visit_date", "observer_id", "method", "toe_angle_deg"]


def remedies(tmp_path, merged, **cells):
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.append(HEADER)
    for foot in ("LF", "RF", "LH", "RH"):
        sheet.append(["GU1", foot, "2026-03-14", "A", "gauge", 50])
    for ref in merged:
        sheet.merge_cells(ref)
    for place, value in cells.items():
        sheet[place] = value
    book.save(tmp_path / "feet.xlsx")
    (part,) = read_parts(tmp_path / "feet.xlsx")
    return {(one.line, one.position): one.remedy for one in part.findings if one.severity == "error"}


def test_the_merged_cells_and_what_they_hold_are_named_where_they_are_to_be_filled(tmp_path):
    said = "cells A2:A4 are merged, so that only the first holds 'GU1'; part them and write it in each"
    assert remedies(tmp_path, ["A2:A4"]) == {(3, 1): said, (4, 1): said}


def test_each_range_is_named_by_itself(tmp_path):
    told = remedies(tmp_path, ["A2:A3", "A4:A5", "D2:D3"])
    assert {place: text.split(" are ")[0] for place, text in told.items()} == {
        (3, 1): "cells A2:A3",
        (5, 1): "cells A4:A5",
        (3, 4): "cells D2:D3",
    }


def test_an_empty_cell_that_is_not_merged_or_merged_without_a_value_is_to_be_filled_in(tmp_path):
    told = remedies(tmp_path, ["A2:A3"], A5=None)
    assert told[5, 1].startswith("fill it in")
    assert remedies(tmp_path, ["A2:A3"], A2=None)[3, 1].startswith("fill it in")

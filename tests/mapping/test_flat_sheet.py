from __future__ import annotations

from mapped_sheets import sheet

from hoofcohort.mapping.convert import convert
from hoofcohort.mapping.flat import split
from hoofcohort.mapping.mapping import Mapping, To

HEADER = ["horse_id", "foot", "visit_date", "birth_year", "yard_id", "diet", "toe_length_mm", "sex"]
CONSTANTS = {"observer_id": "O1", "method": "gauge", "owner_id": "W1"}


def flat(rows, header=HEADER):
    mapping = Mapping(table="flat", columns={name: To(to=name) for name in header}, constants=CONSTANTS)
    return convert(sheet(header, rows), mapping)


def faults(converted):
    return [(fault.line, fault.column, fault.reason, fault.remedy) for fault in converted.faults]


def filled(frame):
    return frame.loc[:, (frame != "").any()].to_dict("records")


def test_three_tables_of_one_sheet():
    parts = split(
        flat(
            [
                ["a", "LF", "2026-01-03", "2010", "Y1", "hay", "83", "mare"],
                ["a", "RF", "2026-01-03", "", "Y1", "", "84", ""],
                ["a", "LF", "2026-03-03", "2010", "Y1", "pasture", "85", ""],
                ["b", "LF", "2026-01-03", "2012", "Y1", "", "86", ""],
            ]
        )
    )
    horse = {"yard_id": "Y1", "owner_id": "W1"}
    assert filled(parts["horses"].frame) == [
        {"horse_id": "a", **horse, "birth_year": "2010", "sex": "mare", "line": 2},
        {"horse_id": "b", **horse, "birth_year": "2012", "sex": "", "line": 5},
    ]
    assert filled(parts["management"].frame) == [
        {"horse_id": "a", "from_date": "2026-01-03", "to_date": "2026-01-03", "diet": "hay", "line": 2},
        {"horse_id": "a", "from_date": "2026-03-03", "to_date": "2026-03-03", "diet": "pasture", "line": 4},
    ]
    assert parts["feet"].frame["toe_length_mm"].tolist() == ["83", "84", "85", "86"]
    assert parts["feet"].frame["line"].tolist() == [2, 3, 4, 5]
    assert parts["management"].understood == (
        "management details are taken as known for the day of each visit alone, as the sheet has no first day; "
        "if they held for longer, say management_days_before in the mapping",
    )


def test_how_long_the_details_held_can_be_vouched_for():
    rows = [["a", "LF", day, "2010", "Y1", "hay", "83", ""] for day in ("2026-03-03", "2026-01-03")]
    stretches = split(flat(rows), days_before=90)["management"].frame
    assert stretches[["from_date", "to_date"]].to_numpy().tolist() == [
        ["2026-01-04", "2026-03-03"],
        ["2025-10-05", "2026-01-03"],
    ]


def test_the_sheets_own_stretches():
    header = ["horse_id", "foot", "visit_date", "diet", "from_date", "to_date", "yard_id"]
    rows = [["a", foot, "2026-03-03", "hay", "2026-01-01", "", "Y1"] for foot in ("LF", "RF")]
    assert filled(split(flat(rows, header))["management"].frame) == [
        {"horse_id": "a", "from_date": "2026-01-01", "diet": "hay", "line": 2}
    ]


def test_contradictions_are_faults_of_every_row_concerned():
    converted = flat(
        [
            ["a", "LF", "2026-01-03", "2010", "Y1", "hay", "83", ""],
            ["a", "RF", "2026-01-03", "2011", "Y2", "hay", "84", ""],
            ["a", "LF", "2026-03-03", "2010", "Y1", "hay", "85", "mare"],
            ["b", "LF", "2026-01-03", "2012", "Y1", "hay", "86", ""],
            ["b", "RF", "2026-01-03", "2012", "Y1", "pasture", "86", ""],
            ["c", "RF", "2026-01-03", "2012", "Y1", "pasture", "86", ""],
        ]
    )
    parts = split(converted)
    end = "write the right one on every row"
    yards = f"horse a on 2026-01-03: yard is Y1 on line 2 and Y2 on line 3; {end}"
    born = f"horse a: birth year is 2010 on lines 2, 4 and 2011 on line 3; {end}"
    diets = f"horse b on 2026-01-03: diet is hay on line 5 and pasture on line 6; {end}"
    assert sorted(faults(converted)) == [
        (2, "birth_year", "contradiction", born),
        (2, "yard_id", "contradiction", yards),
        (3, "birth_year", "contradiction", born),
        (3, "yard_id", "contradiction", yards),
        (4, "birth_year", "contradiction", born),
        (5, "diet", "contradiction", diets),
        (6, "diet", "contradiction", diets),
    ]
    assert parts["feet"].frame["line"].tolist() == [7]
    assert parts["horses"].frame["horse_id"].tolist() == ["c"]


def test_a_change_of_keeping_under_one_first_day_is_told_how_to_write():
    header = ["horse_id", "foot", "visit_date", "from_date", "diet"]
    rows = [["a", "LF", "2026-03-03", "2026-01-01", "hay"], ["a", "LF", "2026-05-03", "2026-01-01", "pasture"]]
    mapping = Mapping(table="flat", columns={name: To(to=name) for name in header}, constants=CONSTANTS)
    converted = convert(sheet(header, rows), mapping)
    split(converted)
    told = "horse a kept in one way since 2026-01-01: diet is hay on line 2 and pasture on line 3; write the right one "
    told += "on every row; if it changed, write in 'from_date' of the later rows the day from which it was so"
    assert [(fault.line, fault.remedy) for fault in converted.faults] == [(2, told), (3, told)]
    rows[1][3] = "2026-04-15"
    converted = convert(sheet(header, rows), mapping)
    management = split(converted)["management"]
    assert management.frame[["from_date", "to_date", "diet"]].to_numpy().tolist() == [
        ["2026-01-01", "2026-04-14", "hay"],
        ["2026-04-15", "", "pasture"],
    ]
    assert converted.faults == []
    ended = "a stretch without a last day ends on the day before the same horse's next first day: line 2"
    assert management.understood == ("management stretches from the sheet's own first and last days", ended)


def test_a_last_day_that_is_given_is_never_changed_and_the_remedy_asks_for_it():
    header = ["horse_id", "foot", "visit_date", "from_date", "to_date", "diet"]
    rows = [
        ["a", "LF", "2026-05-03", "2026-04-15", "", "pasture"],
        ["a", "LF", "2026-03-03", "2026-01-01", "2026-06-30", "hay"],
        ["b", "LF", "2026-03-03", "2026-01-01", "", "hay"],
        ["a", "LF", "2027-03-03", "2027-01-01", "", "hay"],
    ]
    stretches = split(flat(rows, header))["management"].frame
    assert stretches[["horse_id", "from_date", "to_date"]].to_numpy().tolist() == [
        ["a", "2026-04-15", "2026-12-31"],
        ["a", "2026-01-01", "2026-06-30"],
        ["b", "2026-01-01", ""],
        ["a", "2027-01-01", ""],
    ]
    rows[0][3:5] = rows[1][3:5]
    converted = flat(rows, header)
    split(converted)
    assert converted.faults[0].remedy.endswith(
        "write in 'from_date' of the later rows the day from which it was so, and in 'to_date' of the earlier ones the "
        "day before"
    )


def test_a_move_is_no_contradiction_and_the_latest_yard_is_taken():
    converted = flat(
        [
            ["a", "LF", "2026-03-03", "2010", "Y2", "hay", "83", "gelding"],
            ["a", "LF", "2026-01-03", "2010", "Y1", "hay", "83", "stallion"],
        ]
    )
    parts = split(converted)
    assert converted.faults == []
    assert [(note.line, note.column, note.reason, note.remedy) for note in converted.notes] == [
        (
            2,
            "yard_id",
            "changed_over_time",
            "horse a: yard was Y1, is Y2 from this visit on; correct it if that is wrong",
        ),
        (2, "sex", "changed_over_time", "horse a: stallion before, gelding from then on"),
    ]
    assert parts["horses"].frame[["yard_id", "sex"]].to_numpy().tolist() == [["Y2", "gelding"]]
    back = flat(
        [["a", "LF", "2026-03-03", "", "Y", "", "", "stallion"], ["a", "LF", "2026-01-03", "", "Y", "", "", "gelding"]]
    )
    split(back)
    assert {fault[2] for fault in faults(back)} == {"contradiction"}


def test_a_flat_sheet_without_rows():
    assert [len(part.frame) for part in split(flat([])).values()] == [0, 0, 0]


def test_very_many_values_are_named_in_part():
    rows = [["a", "LF", "2026-01-03", "2010", f"Y{number}", "hay", "83", ""] for number in range(40)]
    converted = flat(rows)
    split(converted)
    told = next(fault.remedy for fault in converted.faults if fault.column == "yard_id")
    assert "Y5 on line 7 and 34 other values on other lines; write" in told

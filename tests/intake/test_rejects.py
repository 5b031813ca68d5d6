"""Each reason, with the place, the value as written and a remedy that says what to do."""

from __future__ import annotations

import pytest
from small_files import FEET, HORSES, MANAGEMENT

from hoofcohort.intake.reasons import REASONS

FOOT = "H2,{foot},{date},A,gauge,{toe},{heel},{length},{frog_length},{frog_width},{horn}"
GOOD = {
    "foot": "LH",
    "date": "2026-03-15",
    "toe": "50",
    "heel": "45",
    "length": "90",
    "frog_length": "105",
    "frog_width": "60",
    "horn": "2",
}

CELLS = [
    ("date", "2026-02-30", "visit_date", "impossible_date", "write a day that exists, YYYY-MM-DD"),
    ("date", "2026-17-04", "visit_date", "day_month_exchanged", "write YYYY-MM-DD: 2026-04-17"),
    ("date", "15/03/2026", "visit_date", "not_a_date", "write YYYY-MM-DD: 2026-03-15"),
    ("date", "3.4.2026", "visit_date", "not_a_date", "write YYYY-MM-DD: 2026-04-03 or 2026-03-04"),
    ("date", "2026-3-5", "visit_date", "not_a_date", "write YYYY-MM-DD: 2026-03-05"),
    ("date", "20260315", "visit_date", "not_a_date", "write YYYY-MM-DD: 2026-03-15"),
    ("date", "2026-03-15 00:00", "visit_date", "not_a_date", "write YYYY-MM-DD: 2026-03-15"),
    ("date", "in spring", "visit_date", "not_a_date", "write YYYY-MM-DD, such as 2026-03-14"),
    ("date", "0026-03-15", "visit_date", "impossible_value",
     "write a date from 1980-01-01 to 2100-12-31; check the year"),
    ("date", "2026-10-01", "visit_date", "future_date", "write a date no later than 2026-09-30; check the year"),
    ("date", "2014-12-31", "visit_date", "before_birth", "correct the date, or the birth year 2015 in horses.csv"),
    ("date", " ", "visit_date", "missing_value", "fill it in: YYYY-MM-DD"),
    ("foot", "FL", "foot", "unknown_word", "write one of LF, RF, LH, RH; did you mean 'LF'?"),
    ("foot", "nh", "foot", "unknown_word", "write one of LF, RF, LH, RH; did you mean 'LH'?"),
    ("foot", "rf", "foot", "unknown_word", "write one of LF, RF, LH, RH; did you mean 'RF'?"),
    ("foot", "tail", "foot", "unknown_word", "write one of LF, RF, LH, RH"),
    ("toe", '"50,5"', "toe_angle_deg", "decimal_comma", "write 50.5"),
    ("toe", '"1,050"', "toe_angle_deg", "decimal_comma",
     "write one number with a decimal point and nothing else; leave the cell empty when the value is missing"),
    ("toe", '"1,0505"', "toe_angle_deg", "decimal_comma",
     "write one number with a decimal point and nothing else; leave the cell empty when the value is missing"),
    ("toe", "50%", "toe_angle_deg", "not_a_number",
     "write it without per cent, in deg; leave the cell empty when the value is missing"),
    ("toe", "about 50", "toe_angle_deg", "not_a_number", "write the number alone: 50"),
    ("toe", "50-52", "toe_angle_deg", "not_a_number",
     "write one number with a decimal point and nothing else; leave the cell empty when the value is missing"),
    ("toe", "n/a", "toe_angle_deg", "not_a_number", "leave the cell empty when the value is missing"),
    ("toe", "5e1", "toe_angle_deg", "not_a_number",
     "write one number with a decimal point and nothing else; leave the cell empty when the value is missing"),
    ("toe", "inf", "toe_angle_deg", "not_a_number",
     "write one number with a decimal point and nothing else; leave the cell empty when the value is missing"),
    ("toe", "505", "toe_angle_deg", "impossible_value",
     "possible are 5 to 110 deg; measure again or correct it, or leave the cell empty; "
     "if the decimal point slipped, write 50.5"),
    ("length", "-90", "toe_length_mm", "impossible_value",
     "possible are 20 to 250 mm; if the minus sign is a slip, write 90"),
    ("length", "9.1", "toe_length_mm", "wrong_unit",
     "possible are 20 to 250 mm; if it was written in centimetres, write 91"),
    ("length", "3.5", "toe_length_mm", "wrong_unit",
     "possible are 20 to 250 mm; if it was written in inches, write 88.9"),
    ("length", "5.5", "toe_length_mm", "wrong_unit",
     "possible are 20 to 250 mm; if it was written in centimetres, write 55; "
     "if it was written in inches, write 139.7"),
    ("length", "9" * 400, "toe_length_mm", "impossible_value",
     "possible are 20 to 250 mm; measure again or correct it, or leave the cell empty"),
    ("horn", "2.5", "horn_new", "not_whole", "write a whole number, 0 to 4"),
    ("horn", "5", "horn_new", "impossible_value",
     "possible are 0 to 4; measure again or correct it, or leave the cell empty"),
]  # fmt: skip


@pytest.mark.parametrize(
    ("name", "text", "column", "reason", "remedy"), CELLS, ids=[f"{c[2]}={c[1][:20]}" for c in CELLS]
)
def test_one_wrong_cell(reject, name, text, column, reason, remedy):
    value = text.strip('"')
    assert reject("feet", FOOT.format(**GOOD | {name: text})) == [(column, value, reason, remedy)]


def test_the_good_row_is_accepted(reject):
    assert reject("feet", FOOT.format(**GOOD)) == []
    assert reject("feet", FOOT.format(**GOOD | {"toe": " +50.50 ", "heel": "", "length": "90.", "foot": " LH"})) == []


def test_exchanged_angles(reject):
    ((column, value, reason, remedy),) = reject("feet", FOOT.format(**GOOD | {"toe": "32.5", "heel": "60.5"}))
    assert (column, value, reason) == ("toe_angle_deg", "32.5", "cells_exchanged")
    assert remedy == (
        "toe and heel angle look exchanged: toe angle minus heel angle is -28 deg; "
        "if so, write toe_angle_deg 60.5 and heel_angle_deg 32.5"
    )


@pytest.mark.parametrize(("toe", "heel", "value"), [("5", "46", -41), ("40", "90", -50)])
def test_an_exchange_that_would_not_be_usual_is_not_offered(reject, toe, heel, value):
    ((column, _, reason, remedy),) = reject("feet", FOOT.format(**GOOD | {"toe": toe, "heel": heel}))
    assert (column, reason) == ("toe_angle_deg", "impossible_pair")
    told = f"toe angle minus heel angle is {value} deg but must be at least -25 deg; correct the one that is wrong"
    assert remedy == told


@pytest.mark.parametrize(("column", "value", "instead"), [("toe", "505", "50.5"), ("length", "880", "88")])
def test_a_slipped_point_beyond_the_possible_is_named(reject, column, value, instead):
    ((_, _, reason, remedy),) = reject("feet", FOOT.format(**GOOD | {column: value}))
    assert reason == "impossible_value"
    assert remedy.endswith(f"; if the decimal point slipped, write {instead}")


def test_a_row_with_several_faults_counts_once_under_the_first_column(take):
    row = FOOT.format(**GOOD | {"foot": "FL", "toe": "x", "date": "2026-02-30"})
    intake = take(feet=FEET + row + "\n")
    assert [reject[2] for reject in intake.rejects] == ["foot", "visit_date", "toe_angle_deg"]
    assert intake.ledger["files"]["feet"] == {
        "file": "feet.csv",
        "rows_read": 3,
        "blank_lines": 0,
        "accepted": 2,
        "rejected": 1,
        "reasons": {"unknown_word": 1},
        "flagged": 0,
    }


HORSE_CELLS = [
    ("H3,Y1,W1,2012.5,mare,155", "birth_year", "2012.5", "not_whole", "write a whole number, 1980 to 2100"),
    ("H3,Y1,W1,2027,mare,155", "birth_year", "2027", "future_date", "write a year no later than 2026"),
    ("H3,,W1,2012,mare,155", "yard_id", "", "missing_value", "fill it in: any text on one line"),
    ('"H\t3",Y1,W1,2012,mare,155', "horse_id", "H\t3", "bad_text", "write it on one line, without tabs"),
    ("H3,Y1,W1,2012,filly,155", "sex", "filly", "unknown_word",
     "write one of mare, gelding, stallion; did you mean 'mare'?"),
    ("H3,Y1,W1,2012,mare,15.2", "height_cm", "15.2", "wrong_unit",
     "possible are 40 to 230 cm; if it was written in hands, write 157.5"),
    ("H3,Y1,W1,2012,mare,1.57", "height_cm", "1.57", "wrong_unit",
     "possible are 40 to 230 cm; if it was written in metres, write 157"),
    ("H3,Y1,W1,2012,mare,1575", "height_cm", "1575", "wrong_unit",
     "possible are 40 to 230 cm; if it was written in millimetres, write 157.5"),
    ("H1,Y1,W1,2012,mare,155", "horse_id", "H1", "duplicate_row", "same as line 2: delete one of the two"),
    ("H1,Y2,W1,2012,mare,", "horse_id", "H1", "duplicate_row",
     "names the same as line 2 but differs in yard_id, height_cm: keep the right one"),
]  # fmt: skip


@pytest.mark.parametrize(("row", "column", "value", "reason", "remedy"), HORSE_CELLS, ids=[c[3] for c in HORSE_CELLS])
def test_horses(reject, row, column, value, reason, remedy):
    assert reject("horses", row) == [(column, value, reason, remedy)]


@pytest.mark.parametrize(
    ("column", "good", "bad", "remedy"),
    [
        ("microchip", "000123456789012", "9.99E+14", "write 15 digits; see that no spreadsheet turns it into a number"),
        (
            "ueln",
            "276020000123AB9",
            "27602000012",
            "write 15 characters: 6 digits for country and database, then 9 digits or capital letters; "
            "see that no spreadsheet turns it into a number",
        ),
    ],
)
def test_identity_numbers_are_kept_as_text(take, column, good, bad, remedy):
    intake = take(horses=f"horse_id,yard_id,owner_id,{column}\nH1,Y1,W1,{good}\nH2,Y1,W2,\nH3,Y1,W2,{bad}\n")
    assert intake.frames["horses"][column].tolist()[0] == good
    assert [reject[1:6] for reject in intake.rejects] == [(4, column, bad, "bad_format", remedy)]


MANAGEMENT_ROWS = [
    ("H2,2025-03-01,2025-02-28,hay,soft", "to_date", "2025-02-28", "ends_before_start",
     "write a last day no earlier than the first, 2025-03-01, or leave it empty when it is still so"),
    ("H1,2026-02-01,,hay,soft", "from_date", "2026-02-01", "overlap",
     "line 3 is still open: close it on 2026-01-31, or correct the dates"),
    ("H1,2025-06-30,2025-06-30,hay,soft", "from_date", "2025-06-30", "overlap",
     "correct the dates: line 2 covers 2025-01-01 to 2025-06-30"),
    ("H1,2024-01-01,,hay,soft", "from_date", "2024-01-01", "overlap",
     "the row is still open: close it on 2024-12-31, or correct the dates"),
    ("H1,2025-07-01,,pasture,", "from_date", "2025-07-01", "overlap",
     "correct the dates: line 3 covers 2025-07-01 to still so"),
    ("h-1,2025-01-01,,hay,soft", "horse_id", "h-1", "horse_not_registered",
     "add the horse to horses.csv, or correct the code; did you mean 'H1'?"),
    ("K9,2025-01-01,,hay,soft", "horse_id", "K9", "horse_not_registered",
     "add the horse to horses.csv, or correct the code"),
    ("H2,2025-01-01,,haylege,soft", "diet", "haylege", "unknown_word",
     "write one of hay, pasture, concentrate; did you mean 'hay'?"),
]  # fmt: skip


@pytest.mark.parametrize(
    ("row", "column", "value", "reason", "remedy"), MANAGEMENT_ROWS, ids=[row[0] for row in MANAGEMENT_ROWS]
)
def test_management(reject, row, column, value, reason, remedy):
    assert reject("management", row) == [(column, value, reason, remedy)]


def test_stretches_that_touch_or_leave_a_gap_are_accepted(reject):
    assert reject("management", "H1,2024-12-01,2024-12-31,,") == []
    assert reject("management", "H1,2024-01-01,2024-02-01,,") == []


def test_only_accepted_stretches_can_be_overlapped(take):
    rows = ["H2,2025-01-01,2025-03-31,,", "H2,2025-03-31,2025-06-30,,", "H2,2025-06-01,2025-08-31,,"]
    intake = take(management=MANAGEMENT + "\n".join(rows))
    assert [(reject[1], reject[4]) for reject in intake.rejects] == [(5, "overlap")]
    assert intake.frames["management"]["line"].tolist() == [2, 3, 4, 6]


def test_a_rejected_row_is_no_first_of_a_pair(take):
    double = FOOT.format(**GOOD)
    intake = take(feet=FEET + "\n".join([FOOT.format(**GOOD | {"length": "9.1"}), double, double, ""]))
    assert [(reject[1], reject[4], reject[5]) for reject in intake.rejects] == [
        (4, "wrong_unit", "possible are 20 to 250 mm; if it was written in centimetres, write 91"),
        (6, "duplicate_row", "same as line 5: delete one of the two"),
    ]


def test_a_second_reading_that_differs_may_be_a_repeat(reject):
    assert reject("feet", "H1,LF,2026-03-14,A,gauge,52,46,88,105,60,3") == [
        (
            "horse_id",
            "H1",
            "duplicate_row",
            "names the same as line 2 but differs in toe_angle_deg: keep the right one, "
            "or give each repeat its own number in replicate",
        )
    ]


def test_the_rows_of_a_rejected_horse_name_its_line(take):
    intake = take(horses=HORSES.replace("mare", "mule"))
    assert intake.rejects[0][:5] == ("horses.csv", 2, "sex", "mule", "unknown_word")
    assert {reject[2:6] for reject in intake.rejects[1:]} == {
        (
            "horse_id",
            "H1",
            "horse_rejected",
            "put line 2 of horses.csv right (unknown_word); nothing is known to be wrong with this row",
        )
    }
    assert intake.ledger["totals"] == {"rows_read": 6, "blank_lines": 0, "accepted": 1, "rejected": 5, "flagged": 0}


def test_the_rows_of_a_ragged_horse_name_its_line(take):
    intake = take(horses=HORSES.replace("mare,155", "mare"))
    assert intake.rejects[0] == (
        "horses.csv",
        2,
        "",
        "",
        "ragged_row",
        "the row has 5 cells, the header 6 columns; a missing value still needs its comma",
        "H1",
    )
    assert {reject[4] for reject in intake.rejects[1:]} == {"horse_rejected"}


def test_a_row_with_too_many_cells(reject):
    assert reject("feet", "H2,LH,2026-03-15,A,gauge,50,5,45,90,105,60,2") == [
        (
            "",
            "",
            "ragged_row",
            "the row has 12 cells, the header 11 columns; "
            "write a decimal comma as a point, and put quotation marks around a cell that holds a comma",
        )
    ]


def test_without_a_date_nothing_is_too_late(take):
    feet = FEET + FOOT.format(**GOOD | {"date": "2090-01-01"}) + "\n"
    assert take(feet=feet, as_of=None).rejects == []
    assert [reject[4] for reject in take(feet=feet).rejects] == ["future_date"]


def test_every_reason_is_one_plain_sentence():
    assert all(sentence.endswith(".") and sentence.count(".") == 1 for sentence in REASONS.values())

"""What the accepted rows become, and which of their values are pointed out."""

from __future__ import annotations

import pandas as pd
import pytest
from small_files import FEET, HORSES

from hoofcohort.intake.ledger import check_sums
from hoofcohort.tables import TABLES


def test_frames_hold_every_declared_column_and_the_line(take):
    for name, frame in take().frames.items():
        assert list(frame.columns) == [*TABLES[name].names, "line"]


def test_values_are_typed(take):
    feet = take().frames["feet"]
    first = feet.iloc[0]
    assert (first["horse_id"], first["visit_date"], first["replicate"]) == ("H1", pd.Timestamp("2026-03-14"), 1)
    assert (first["toe_angle_deg"], first["horn_new"], first["line"]) == (51.5, 3, 2)
    assert feet.loc[1, ["heel_angle_deg", "horn_new", "pastern_angle_deg", "sole_pigment"]].isna().all()
    assert (
        feet.dtypes.astype(str).to_dict().items()
        >= {
            "horse_id": "str",
            "foot": "str",
            "visit_date": "datetime64[us]",
            "toe_angle_deg": "float64",
            "pastern_angle_deg": "float64",
            "replicate": "Int64",
            "horn_new": "Int64",
            "sole_pigment": "str",
            "line": "Int64",
        }.items()
    )


def test_an_empty_replicate_is_the_first(take):
    header, *rows = FEET.splitlines()
    intake = take(feet="\n".join([header + ",replicate", rows[0] + ",2", rows[1] + ", "]))
    assert intake.frames["feet"]["replicate"].tolist() == [2, 1]


def test_files_without_rows_give_empty_frames(take):
    heads = {name: text.splitlines()[0] for name, text in {"horses": HORSES, "feet": FEET}.items()}
    intake = take(**heads, management="horse_id,from_date,diet,terrain\n")
    assert [len(frame) for frame in intake.frames.values()] == [0, 0, 0]
    assert str(intake.frames["feet"]["toe_angle_deg"].dtype) == "float64"
    assert intake.ledger["totals"]["rows_read"] == 0


FLAGS = [
    ("toe_angle_deg", "77.5", "72", "88", "105", "60", "30 to 75 deg", "possible but not plausible; kept"),
    ("toe_length_mm", "50", "46", "200", "105", "60", "40 to 160 mm", "possible but not plausible; kept"),
    ("toe_length_mm", "50", "46", "25", "105", "60", "40 to 160 mm", "possible but not plausible; kept"),
    ("frog_width_mm", "50", "46", "88", "105", "12", "15 to 120 mm",
     "possible but not plausible; kept; if it was written in centimetres, write 120"),
    ("toe_angle_deg", "70", "20", "88", "105", "60", "-25 to 40 deg",
     "toe angle minus heel angle is 50 deg: possible but not plausible; kept"),
    ("frog_width_mm", "50", "46", "88", "60", "75", "0.2 to 1.2",
     "frog width divided by frog length is 1.25: possible but not plausible; kept"),
]  # fmt: skip


@pytest.mark.parametrize(
    ("column", "toe", "heel", "length", "frog", "width", "limits", "reason"), FLAGS, ids=[flag[6] for flag in FLAGS]
)
def test_implausible_values_are_kept_and_flagged(take, column, toe, heel, length, frog, width, limits, reason):
    row = f"H2,LF,2026-03-14,A,gauge,{toe},{heel},{length},{frog},{width},3"
    intake = take(feet=f"{FEET}{row}\n")
    assert intake.rejects == []
    header = FEET.splitlines()[0].split(",")
    value = row.split(",")[header.index(column)]
    assert ("feet.csv", 4, column, value, limits, reason) in intake.flags
    assert intake.ledger["files"]["feet"]["flagged"] == len(intake.flags)


def test_a_rejected_row_is_not_flagged(take):
    assert take(feet=FEET + "H2,FL,2026-03-14,A,gauge,77.5,72,88,105,60,3\n").flags == []


def test_limits_themselves_are_plausible(take):
    assert take(feet=FEET + "H2,LF,2026-03-14,A,gauge,75,35,160,100,20,0\n").flags == []


def test_rejects_come_in_the_order_of_files_lines_and_columns(take):
    intake = take(
        horses=HORSES + "H3,Y1,W1,x,mule,155\n",
        management="terrain,diet,from_date,horse_id\nmud,grass,2025-02-30,H9\n",
        feet=FEET + "H3,LF,2026-03-14,A,gauge,50,46,8,105,60,9\nH1,LF\n",
    )
    assert [reject[:3] for reject in intake.rejects] == [
        ("horses.csv", 4, "birth_year"),
        ("horses.csv", 4, "sex"),
        ("management.csv", 2, "terrain"),
        ("management.csv", 2, "diet"),
        ("management.csv", 2, "from_date"),
        ("management.csv", 2, "horse_id"),
        ("feet.csv", 4, "horse_id"),
        ("feet.csv", 4, "toe_length_mm"),
        ("feet.csv", 4, "horn_new"),
        ("feet.csv", 5, ""),
    ]
    assert intake.rejects[2][6] == "H9/2025-02-30"
    assert intake.ledger["files"]["management"]["reasons"] == {"unknown_word": 1}


@pytest.mark.parametrize(("place", "amount"), [("rejected", 1), ("accepted", -1), ("rows_read", 1)])
def test_a_broken_sum_is_a_crash(take, place, amount):
    ledger = take().ledger
    ledger["files"]["feet"][place] += amount
    with pytest.raises(RuntimeError, match="does not add up"):
        check_sums(ledger)


def test_a_broken_sum_over_reasons_is_a_crash(take):
    ledger = take().ledger
    ledger["files"]["feet"]["reasons"]["overlap"] = 1
    with pytest.raises(RuntimeError, match="reasons do not add up"):
        check_sums(ledger)


def test_a_lost_row_is_a_crash(take, monkeypatch):
    from hoofcohort.intake import run

    check = run.check_cells

    def lose_one(raw, as_of):
        table = check(raw, as_of)
        table.frame, table.bad = table.frame.iloc[1:], table.bad[1:]
        return table

    monkeypatch.setattr(run, "check_cells", lose_one)
    with pytest.raises(RuntimeError, match="does not add up"):
        take(management="horse_id,from_date,diet,terrain\n")

"""Rounds as they happen: every row is found again in the ledger each time, and the same inbox gives the same bytes."""

from __future__ import annotations

import json

import pytest

from hoofcohort.cli import main
from hoofcohort.inbox.ledger import FATES

HORSES = "horse_id,yard_id,owner_id,birth_year,sex,microchip\n"
FEET = "horse_id,foot,visit_date,observer_id,method,toe_angle_deg\n"
H1, H2 = "H1,Y1,W1,2012,mare,999000000000001\n", "H2,Y1,W2,2014,gelding,\n"
R1, R2 = "H1,LF,2026-03-17,A,gauge,50\n", "H2,LF,2026-03-17,A,gauge,51\n"
SPRING = {"1/ash/horses.csv": HORSES + H1 + H2, "1/ash/feet.csv": FEET + R1 + R2}


def rounds(**more):
    return SPRING | {name.replace("__", "/") + ".csv": text for name, text in more.items()}


SCENARIOS = {
    "one round": (rounds(), {"accepted": 4}),
    "a reading sent twice in one file": (
        rounds(**{"1__ash__feet": FEET + R1 + R1 + R2}),
        {"accepted": 4, "duplicate": 1},
    ),
    "the same file sent again": (rounds(**{"2__ash__feet": FEET + R1 + R2}), {"accepted": 4, "superseded": 2}),
    "the same rows in another file": (rounds(**{"2__ash__more": FEET + R1 + R2}), {"accepted": 4, "duplicate": 2}),
    "the same rows from another member": (rounds(**{"2__elm__feet": FEET + R1}), {"accepted": 4, "duplicate": 1}),
    "a corrected file": (
        rounds(**{"2__ash__feet": FEET + R1.replace("50", "52") + R2}),
        {"accepted": 4, "superseded": 2},
    ),
    "one corrected row in another file": (
        rounds(**{"2__ash__again": FEET + R1.replace("50", "52")}),
        {"accepted": 4, "superseded": 1},
    ),
    "corrected twice": (
        rounds(**{"2__ash__again": FEET + R1.replace("50", "52"), "3__ash__third": FEET + R1.replace("50", "53")}),
        {"accepted": 4, "superseded": 2},
    ),
    "a corrected file that cannot be read": (rounds(**{"2__ash__feet": "x,y\n1,2\n"}), {"accepted": 4, "rejected": 1}),
    "another member contradicts": (
        rounds(**{"2__elm__feet": FEET + R1.replace("50", "60")}),
        {"accepted": 3, "rejected": 2},
    ),
    "a move to another yard": (
        rounds(**{"2__ash__moved": HORSES + H1.replace("Y1", "Y2")}),
        {"accepted": 4, "superseded": 1},
    ),
    "a move to another member under another code": (
        rounds(
            **{
                "2__elm__horses": HORSES + H1.replace("H1", "Bella").replace("Y1", "Y2"),
                "2__elm__feet": FEET + R1.replace("H1", "Bella").replace("2026-03-17", "2026-06-17"),
            }
        ),
        {"accepted": 5, "superseded": 1},
    ),
    "a mare that was a gelding": (
        rounds(**{"2__ash__moved": HORSES + H1.replace("mare", "gelding")}),
        {"accepted": 4, "superseded": 1},
    ),
    "another member says that it is a gelding": (
        rounds(**{"2__elm__horses": HORSES + H1.replace("mare", "gelding")}),
        {"accepted": 2, "rejected": 3},
    ),
    "a withdrawal in the second round": (
        rounds(consent="owner_id,withdrawn\nW1,2026-06-30\n", **{"2__ash__feet": FEET + R1 + R2}),
        {"accepted": 2, "withdrawn": 3, "superseded": 1},
    ),
}


@pytest.mark.parametrize(("files", "fates"), SCENARIOS.values(), ids=SCENARIOS)
def test_every_row_is_found_again_and_the_bytes_are_the_same(tmp_path, files, fates):
    for name, text in files.items():
        path = tmp_path / "in" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text)
    written = []
    for out in ("one", "two"):
        assert main(["inbox", str(tmp_path / "in"), "--out", str(tmp_path / out)]) == 0
        written.append(
            {
                path.relative_to(tmp_path / out): path.read_bytes()
                for path in sorted((tmp_path / out).rglob("*"))
                if path.is_file()
            }
        )
    assert written[0] == written[1]
    total = json.loads((tmp_path / "one/ledger.json").read_text())["total"]
    assert {fate: total[fate] for fate in FATES if total[fate]} == fates
    sent = sum(text.count("\n") - 1 for name, text in files.items() if name != "consent.csv")
    assert total["rows_read"] == sent


def test_correcting_twice_keeps_the_last_value(tmp_path):
    files, _ = SCENARIOS["corrected twice"]
    for name, text in files.items():
        path = tmp_path / "in" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text)
    assert main(["inbox", str(tmp_path / "in"), "--out", str(tmp_path / "out")]) == 0
    readings = (tmp_path / "out/feet.csv").read_text().splitlines()
    assert [row.split(",")[:3] for row in readings[1:]] == [["H2", "LF", "2026-03-17"], ["H1", "LF", "2026-03-17"]]
    assert "53" in readings[2] and not any("50" in row or "52" in row for row in readings)

"""Withdrawals of consent: in which files they can come, how far they reach, and that they are accounted for."""

from __future__ import annotations

import datetime as dt
import json

import pytest
from inbox_sheets import FEET, HORSES, part

from hoofcohort.cli import main
from hoofcohort.errors import HoofcohortError
from hoofcohort.inbox.consent import Withdrawal, read_consent
from hoofcohort.inbox.run import settle, write_inbox
from hoofcohort.mapping.mapping import Mapping, To

MARE = "H1 Y1 W1 2010 mare _ _"
CHIP = "999000000000001"


def consent_file(folder, content):
    path = folder / "consent.csv"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return path


@pytest.mark.parametrize(
    "content",
    [
        "owner_id,withdrawn\nW1,2026-06-30\n",
        "Owner_ID;Withdrawn\r\nW1;30.06.2026\r\n",
        "withdrawn\towner_id\n30 June 2026\tW1\n",
        "Withdrawals so far\n\nowner_id|withdrawn\nW1|2026-06-30\n",
        "owner_id,withdrawn\nW1,2026-06-30\n".encode("utf-16"),
    ],
)
def test_a_consent_file_can_be_written_as_people_write_them(tmp_path, content):
    (one,) = read_consent(consent_file(tmp_path, content))
    assert (one.day, one.names, one.in_force) == ("2026-06-30", (("owner_id", "W1"),), True)


@pytest.mark.parametrize(
    ("content", "told"),
    [
        ("owner,withdrawn\nW1,2026-01-01\n", "line 1: found the columns owner, withdrawn"),
        ("owner_id,withdrawn\nW1,soon\n", "line 2, column 'withdrawn': found 'soon'"),
        ("owner_id,withdrawn\nW1,03/04/2026\n", "line 2, column 'withdrawn': found '03/04/2026'"),
        ("owner_id,withdrawn\n,2026-01-01\n", "line 2: names neither an owner nor a horse"),
        ("owner_id,withdrawn\nW1,2026-01-01\nW2,2026-01-01,x,y\n", "line 3: found 4 cells; write 2"),
        ("microchip,withdrawn\n12,2026-01-01\n", "line 2, column 'microchip': found '12'"),
        ("owner_id,withdrawn\nW1,2026-01-01\nTotal,1\n", "line 3: found 'Total | 1', which is no withdrawal"),
        (b"%PDF-1.7", "is a PDF"),
    ],
)
def test_a_consent_file_that_is_not_understood_stops_everything(tmp_path, capsys, content, told):
    folder = tmp_path / "in/r1/ash"
    folder.mkdir(parents=True)
    (folder / "h.csv").write_text("horse_id,yard_id,owner_id\nH1,Y1,W1\n")
    path = consent_file(tmp_path / "in", content)
    with pytest.raises(HoofcohortError, match="consent"):
        read_consent(path)
    assert main(["inbox", str(tmp_path / "in"), "--out", str(tmp_path / "out")]) == 2
    assert told in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize("name", ["Consent.csv", "consent.xlsx", "consent (2).csv"])
def test_a_file_of_withdrawals_under_another_name_is_not_passed_over(tmp_path, name):
    (tmp_path / name).write_text("owner_id,withdrawn\nW1,2026-06-30\n")
    with pytest.raises(HoofcohortError, match=r"withdrawals are read from consent\.csv alone"):
        read_consent(tmp_path / "consent.csv")


def test_a_withdrawal_counts_from_its_day_on(tmp_path):
    path = consent_file(tmp_path, "owner_id,withdrawn\nW1,2026-02-01\n")
    counts = []
    for day in (dt.date(2026, 1, 31), dt.date(2026, 2, 1)):
        inbox = settle([part("r1", "ash", HORSES, MARE)], read_consent(path, day), day)
        counts.append((inbox.ledger["total"]["withdrawn"], inbox.ledger["withdrawals"][0]["in_force"]))
    assert counts == [(0, False), (1, True)]


def test_the_account_of_withdrawals_adds_up_and_names_nobody():
    parts = [
        part("r1", "ash", HORSES, MARE, "H2 Y1 W1 2010 mare _ _", file="h.csv"),
        part("r1", "elm", FEET, "H2 LF 2026-01-01 A gauge 50 45", "H2 RF 2026-01-01 A gauge 50 45"),
    ]
    asked = [
        Withdrawal(2, "2026-06-30", (("horse_id", "H2"),)),
        Withdrawal(3, "2026-06-30", (("owner_id", "W1"),)),
        Withdrawal(4, "2026-06-30", (("owner_id", "W9"),)),
    ]
    ledger = settle(parts, asked).ledger
    assert [(one["line"], one["rows"], one["members"]) for one in ledger["withdrawals"]] == [
        (2, 3, ["ash", "elm"]),
        (3, 1, ["ash"]),
        (4, 0, []),
    ]
    assert ledger["total"]["withdrawn"] == 4
    assert not {"H1", "H2", "W1", "W9"} & set(json.dumps(ledger).replace('"', " ").split())


def test_a_withdrawal_by_a_code_that_another_member_uses_for_the_horse():
    parts = [
        part("r1", "ash", HORSES, f"H1 Y1 W1 2010 mare _ {CHIP}", file="h.csv"),
        part("r2", "elm", HORSES, f"Bella Y2 W2 2010 mare _ {CHIP}", file="h.csv"),
        part("r2", "elm", FEET, "Bella LF 2026-01-01 A gauge 50 45", ragged=("Bella RF",)),
    ]
    inbox = settle(parts, [Withdrawal(2, "2026-06-30", (("horse_id", "Bella"),))])
    assert inbox.ledger["total"]["withdrawn"] == inbox.ledger["total"]["rows_read"] == 4


def test_a_withdrawal_reaches_a_rejected_registration_by_its_microchip():
    parts = [
        part("r1", "ash", HORSES, f"H1 Y1 W1 2010 mare _ {CHIP}", file="h.csv"),
        part("r1", "elm", HORSES, f"Bella Y2 W2 1066 mare _ {CHIP}", file="h.csv"),
        part("r1", "elm", FEET, "Bella LF 2026-01-01 A gauge 50 45"),
    ]
    inbox = settle(parts, [Withdrawal(2, "2026-06-30", (("owner_id", "W1"),))])
    assert inbox.ledger["total"]["withdrawn"] == 3


FLAT = "horse_id owner_id yard_id foot visit_date observer_id method toe_angle_deg"


@pytest.mark.parametrize("code", ["H1", "_"])
def test_an_owners_withdrawal_reaches_a_horse_that_stands_in_rejected_flat_rows_alone(tmp_path, code):
    mapping = Mapping(table="flat", columns={name: To(to=name) for name in FLAT.split()})
    rows = [f"{code} W1 Y1 LF 2026-01-01 A gauge fifty", "H2 W2 Y1 LF 2026-01-01 A gauge 50"]
    parts = [
        part("r1", "ash", FLAT, *rows, mapping=mapping),
        part("r1", "elm", FEET, "H1 RF 2026-01-01 A gauge 50 45"),
    ]
    inbox = settle(parts, [Withdrawal(2, "2026-06-30", (("owner_id", "W1"),))])
    assert inbox.ledger["total"]["withdrawn"] == (2 if code == "H1" else 1)
    write_inbox(inbox, tmp_path)
    texts = [path.read_text(encoding="utf-8") for path in tmp_path.rglob("*") if path.is_file()]
    assert not any("fifty" in text or "W1" in text for text in texts)


def test_what_a_mapping_says_of_a_withdrawn_owner_is_not_told():
    header = FLAT.replace("owner_id ", "")
    mapping = Mapping(
        table="flat", columns={name: To(to=name) for name in header.split()}, constants={"owner_id": "W1"}
    )
    inbox = settle(
        [part("r1", "ash", header, "H1 Y1 LF 2026-01-01 A gauge 50", mapping=mapping)],
        [Withdrawal(2, "2026-06-30", (("owner_id", "W1"),))],
    )
    assert inbox.ledger["total"]["withdrawn"] == 1
    assert not any("W1" in said for said in inbox.pool.parts[0].understood)


@pytest.mark.parametrize("name", ["WLEE0", " w lee0 ", "wlee0"])
def test_capitals_and_blanks_do_not_hide_an_owner(tmp_path, name):
    parts = [
        part(
            "r1", "ash", HORSES, "H1 Y1 Wlee0 2010 mare _ _", "H2 Y1 W2 2010 mare _ _", ragged=("h1 Y1",), file="h.csv"
        ),
        part("r1", "elm", FEET, "h1 LF 2026-01-01 A gauge 50 45", "H1 RF 2026-01-01 A gauge 50 45"),
    ]
    inbox = settle(parts, [Withdrawal(2, "2026-06-30", (("owner_id", name),))])
    assert inbox.ledger["total"]["withdrawn"] == 4
    assert inbox.accepted("horses")["horse_id"].tolist() == ["H2"]
    assert not inbox.pool.missed
    write_inbox(inbox, tmp_path)
    texts = [path.read_text(encoding="utf-8") for path in tmp_path.rglob("*") if path.is_file()]
    assert not any("H1" in text or "h1" in text.split("<h1>")[-1].replace("</h1>", "") for text in texts)


def test_a_withdrawal_that_reaches_nothing_is_loud(tmp_path, capsys):
    folder = tmp_path / "in/r1/ash"
    folder.mkdir(parents=True)
    (folder / "h.csv").write_text("horse_id,yard_id,owner_id\nH1,Y1,W-Lee\nH2,Y1,W-Oak\n")
    path = consent_file(tmp_path / "in", "owner_id,withdrawn\nW-Oak,2026-06-30\nW-Leee,2026-06-30\n")
    told = "line 3 of consent.csv reaches no row; the nearest is owner_id 'W-Lee'"
    assert main(["inbox", str(tmp_path / "in"), "--out", str(tmp_path / "out")]) == 1
    assert f"warning: {told}" in capsys.readouterr().err
    page = (tmp_path / "out/coordinator.html").read_text(encoding="utf-8")
    assert page.index("reaches no row") == min(page.index(word) for word in ("reaches no row", "took out", "Member by"))
    path.write_text("owner_id,withdrawn\nW-Oak,2026-06-30\nw-oak,2026-07-30\n")
    assert main(["inbox", str(tmp_path / "in"), "--out", str(tmp_path / "out")]) == 0
    assert "warning" not in capsys.readouterr().err


def test_a_withdrawal_reaches_every_spelling_of_an_owner_that_only_looks_different():
    names = [
        "Anna_Bergström",
        "ANNA_BERGSTRÖM.",
        "anna_bergstro\u0308m",
        "Anna_Bergström;",
        "\uff21nna_Bergström",
        "Ben",
    ]
    rows = [f"H{number} Y1 {name} 2010 mare _ _" for number, name in enumerate(names)]
    gone = [Withdrawal(2, "2026-06-30", (("owner_id", "Anna_Bergström"),), True)]
    inbox = settle([part("r1", "ash", HORSES, *rows)], gone)
    assert inbox.accepted("horses")["horse_id"].tolist() == ["H5"]
    assert inbox.ledger["total"]["withdrawn"] == 5

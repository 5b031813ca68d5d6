"""The coordinator's page: what lies between members, each thing with its rows; nothing of it in any letter."""

from __future__ import annotations

import csv
import io

import pytest
from inbox_sheets import FEET, HORSES, part

from hoofcohort.inbox import registry
from hoofcohort.inbox.consent import Withdrawal
from hoofcohort.inbox.coordinator import csv_page, html_page
from hoofcohort.inbox.coordinator_items import COLUMNS, items
from hoofcohort.inbox.letters import csv_letter, html_letter
from hoofcohort.inbox.run import settle, write_inbox
from hoofcohort.mapping.mapping import load_mapping

CHIP = "999000000000001"


def told(inbox, kind):
    return [one[1:] for one in items(inbox.pool, inbox.ledger) if one[0] == kind]


def test_registrations_that_contradict_each_other_are_told_with_both_values():
    parts = [
        part("r1", "ash", HORSES, "H1 Y1 W1 2010 mare _ _"),
        part("r2", "elm", HORSES, "H1 Y9 W9 2011 mare _ _", file="b.csv"),
    ]
    what = "horses, H1: yard_id Y1 or Y9; owner_id W1 or W9; birth_year 2010 or 2011"
    inbox = settle(parts)
    assert told(inbox, "contradiction") == [(what, "r1", "ash", "a.csv", "2", "r2", "elm", "b.csv", "2")]
    assert inbox.ledger["total"]["rejected"] == 2


def test_a_member_who_contradicts_oneself_is_told_in_the_letter_alone():
    row = "H1 LF 2026-01-01 A gauge {} 45"
    inbox = settle([part("r1", "ash", FEET, row.format(50), row.format(60))])
    assert told(inbox, "contradiction") == []


def test_a_horse_that_moved_to_another_yard_and_member():
    parts = [
        part("r1", "ash", HORSES, f"H1 Y1 W1 2010 mare _ {CHIP}"),
        part("r2", "elm", HORSES, f"Bella Y2 W1 2010 mare _ {CHIP}", file="b.csv"),
    ]
    what = "H1: yard_id Y1, now Y2; sent by ash, now by elm"
    assert told(settle(parts), "moved") == [(what, "r1", "ash", "a.csv", "2", "r2", "elm", "b.csv", "2")]


@pytest.mark.parametrize(
    ("one", "other", "near"),
    [
        ("Belle", "Bella", True),
        ("Belle", "Bele", True),
        ("Jonqil", "Jonquil", True),
        ("Étoile", "Etoille", True),
        ("Blaze", "Balze", True),
        ("ASHE-1", "ASHE-2", False),
        ("Tom", "Tim", False),
        ("Belle", "Blaze", False),
    ],
)
def test_near_names_are_suggested_and_never_joined(one, other, near):
    parts = [part("r1", "ash", HORSES, f"{one} Y1 W1 2010 mare _ _", f"{other} Y1 W1 2010 mare _ _")]
    inbox = settle(parts)
    assert bool(told(inbox, "suggestion")) is near
    assert [row[1::4][:2] for row in inbox.suggestions] == ([(one, other)] if near else [])
    assert inbox.ledger["total"]["accepted"] == 2
    apart = [part("r1", "ash", HORSES, f"{one} Y1 W1 2010 mare _ _", f"{other} Y1 W1 2011 mare _ _")]
    assert told(settle(apart), "suggestion") == []


def test_withdrawals_refused_files_repeats_and_silent_members():
    row = "H1 LF 2026-01-01 A gauge 50 45"
    parts = [
        part("r1", "ash", HORSES, "H1 Y1 W1 2010 mare _ _", "H2 Y1 W2 2010 mare _ _", file="h.csv"),
        part("r1", "ash", FEET, row, row),
        part("r1", "elm", "x y", "1 2"),
        part("r2", "fir", HORSES, "F1 Y3 W3 2010 mare _ _"),
    ]
    asked = [Withdrawal(2, "2026-06-30", (("horse_id", "H2"),)), Withdrawal(3, "2026-07-01", (("owner_id", "W8"),))]
    inbox = settle(parts, asked)
    nowhere = ("",) * 8
    assert told(inbox, "withdrawal") == [
        ("line 2 of consent.csv, from 2026-06-30: took out 1 row of ash", *nowhere),
        ("line 3 of consent.csv, from 2026-07-01: reached nothing", *nowhere),
    ]
    assert told(inbox, "missed") == [("line 3 of consent.csv reaches no row", *nowhere)]
    assert told(inbox, "duplicate") == [("1 row", "r1", "ash", "a.csv", *nowhere[:5])]
    assert [one[2] for one in told(inbox, "refused")] == ["elm"]
    assert [one[0] for one in told(inbox, "silent")] == ["ash: last in r1", "elm: last in r1"]
    page = html_page(inbox.pool, inbox.ledger, items(inbox.pool, inbox.ledger))
    assert "H2" not in page and "W2" not in page
    assert "<h2>Members who sent nothing in the last round (2)</h2>" in page


def test_the_page_is_escaped_and_its_csv_no_formula(tmp_path):
    parts = [
        part("r1", "ash", HORSES, "=<b>X Y1 W1 2010 mare _ _", file="<i>.csv"),
        part("r1", "elm", HORSES, "=<b>X Y1 W1 2011 mare _ _", file="-b.csv"),
    ]
    inbox = settle(parts)
    write_inbox(inbox, tmp_path)
    page = (tmp_path / "coordinator.html").read_text(encoding="utf-8")
    assert "<b>" not in page and "<i>" not in page and "=&lt;b&gt;X" in page
    rows = list(csv.reader(io.StringIO((tmp_path / "coordinator.csv").read_text(encoding="utf-8"), newline="")))
    assert tuple(rows[0]) == COLUMNS
    assert not any(cell.startswith(("=", "+", "-", "@")) for row in rows for cell in row)
    assert csv_page(items(inbox.pool, inbox.ledger)) == (tmp_path / "coordinator.csv").read_bytes()
    for member, other in (("ash", "elm"), ("elm", "ash")):
        assert other not in html_letter(inbox.pool, inbox.ledger, member)
        assert other not in csv_letter(inbox.pool, member).decode()


def test_horses_that_may_be_the_same_are_looked_for_once(tmp_path, monkeypatch):
    calls, near = [], registry.near
    monkeypatch.setattr(registry, "near", lambda pool: calls.append(pool) or near(pool))
    parts = [
        part("r1", "ash", HORSES, "H-1 Y1 W1 2010 mare _ _", file="h.csv"),
        part("r1", "elm", HORSES, "h1 Y2 W2 2010 mare _ _", file="h.csv"),
    ]
    inbox = settle(parts)
    write_inbox(inbox, tmp_path)
    assert len(calls) == 1
    assert len(inbox.suggestions) == len(told(inbox, "suggestion")) == 1


def test_of_many_headers_in_doubt_a_dozen_is_named(tmp_path):
    row = FEET + "".join(f" odd{number}" for number in range(300))
    named = "".join(f"  {name}: {{to: {name}}}\n" for name in FEET.split())
    (tmp_path / "mapping.yaml").write_text(f"table: feet\ncolumns:\n{named}", encoding="utf-8")
    mapping = load_mapping(tmp_path / "mapping.yaml")
    parts = [part("r1", "ash", row), part("r1", "elm", row, mapping=mapping)]
    write_inbox(settle(parts), tmp_path)
    for name in ("letters/ash.html", "letters/ash.csv", "letters/elm.html", "letters/elm.csv", "coordinator.csv"):
        text = (tmp_path / name).read_text(encoding="utf-8")
        assert "odd11" in text and "and 288 more" in text and "odd12" not in text, name

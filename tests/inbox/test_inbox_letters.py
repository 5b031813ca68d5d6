"""Letters, word for word; nothing of a file is markup or a formula, and nothing of another member is told."""

from __future__ import annotations

import csv
import io

from inbox_sheets import FEET, HORSES, part

from hoofcohort.inbox.letters import csv_letter, html_letter
from hoofcohort.inbox.run import settle

MARE = "H1 Y1 W1 2010 mare _ _"


def letter(inbox, member):
    """Return a CSV letter's cells below its header, without the round and file."""
    text = csv_letter(inbox.pool, member)
    assert text.startswith(b"\xef\xbb\xbf")
    return [row[3:] for row in csv.reader(io.StringIO(text.decode("utf-8-sig"), newline=""))][1:]


def test_a_letter_is_short_when_nothing_is_wrong():
    inbox = settle([part("r1", "ash", HORSES, MARE)], {})
    page = html_letter(inbox.pool, inbox.ledger, "ash")
    assert "<p>Thank you for 1 file with 1 row of data. 1 was accepted. Nothing has to be put right.</p>" in page
    assert page.count("<h2>") == 1
    assert letter(inbox, "ash") == []


def test_the_letter_of_an_awkward_file_is_exact():
    parts = [
        part("r1", "ash", HORSES, MARE, file="h.csv"),
        part(
            "r1",
            "ash",
            FEET,
            "H1 LF 2026-01-01 A gauge =1+1 45",
            "H1 RF 2026-13-01 A gauge 50 45",
            "H1 LH 2026-01-01 A gauge ~50 -",
            ragged=("H1 RH",),
        ),
    ]
    inbox = settle(parts, {})
    assert letter(inbox, "ash") == [
        [
            *("2", "6", "toe_angle_deg", "'=1+1", "error", "The cell must hold a number and nothing else."),
            "write one number and nothing else; leave the cell empty when the value is missing",
        ],
        [
            *("3", "3", "visit_date", "2026-13-01", "error"),
            "There is no such month, but there is such a date with day and month exchanged.",
            "write YYYY-MM-DD: 2026-01-13",
        ],
        [
            *("5", "", "", "H1 | RH", "error"),
            "The row has more or fewer cells than the header has columns.",
            "the row has 2 cells, the header 7 columns; a missing value still needs its separator",
        ],
        [
            *("4", "6", "toe_angle_deg", "~50", "warning"),
            "The value is marked as approximate; it is kept as it stands.",
            "'~50' is kept as 50 deg; correct it if it was measured",
        ],
        [
            *("4", "7", "heel_angle_deg", "'-", "note"),
            "The cell says that there is no value; it is taken as empty.",
            "'-' is taken as empty; nothing to do if so",
        ],
    ]
    page = html_letter(inbox.pool, inbox.ledger, "ash")
    assert "Thank you for 2 files with 5 rows of data. 2 were accepted. 3 rows could not be used yet" in page


def test_text_from_a_file_is_escaped():
    row = "H1 LF 2026-01-01 A gauge <script>alert(1)</script> 45"
    inbox = settle([part("r1", "<b>ash", FEET, row, file="<i>.csv")], {})
    page = html_letter(inbox.pool, inbox.ledger, "<b>ash")
    assert "<script" not in page and "<b>" not in page and "<i>" not in page
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in page


def test_no_letter_holds_another_members_data():
    first = part("r1", "ash", HORSES, "H1 YASH WASH 2010 mare _ _", file="ash.csv")
    second = part("r1", "elm", HORSES, "H1 YELM WELM 2011 mare _ _", file="elm.csv")
    inbox = settle([first, second], {})
    for own, other in (("ash", "elm"), ("elm", "ash")):
        page = html_letter(inbox.pool, inbox.ledger, own) + csv_letter(inbox.pool, own).decode()
        assert f"{own}.csv" in page
        assert other not in page.casefold()


def test_rows_alike_stand_on_one_line_of_the_page():
    rows = [f"H1 {foot} 2026-01-01 A gauge fifty 45" for foot in ("LF", "RF", "LH")]
    inbox = settle([part("r1", "ash", HORSES, MARE, file="h.csv"), part("r1", "ash", FEET, *rows)], {})
    assert "<td>2-4</td>" in html_letter(inbox.pool, inbox.ledger, "ash")
    assert len(letter(inbox, "ash")) == 3

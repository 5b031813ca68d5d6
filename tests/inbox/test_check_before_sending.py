"""``hoofcohort check`` says before sending what the letter would say afterwards."""

from __future__ import annotations

import time

import pytest
from corpus_letters import AS_OF, CORPUS, cases

from hoofcohort.cli import main
from hoofcohort.inbox.before_sending import settle_before
from hoofcohort.inbox.member import read_parts
from hoofcohort.inbox.run import take_inbox

HORSES = "horse_id,yard_id,owner_id\nH1,Y1,W1\n"
FEET = "horse_id,foot,visit_date,observer_id,method,toe_angle_deg\n"
ROW = "H1,LF,2026-03-17,A,gauge,{}\n"


def write(folder, name, text):
    path = folder / name
    path.write_text(text)
    return str(path)


@pytest.mark.parametrize(
    ("feet", "status", "told"),
    [
        (ROW.format(50), 0, "f.csv: 1 row of data, 0 come back"),
        (ROW.format(50) + ROW.format(50), 0, "note: f.csv, line 3: The row says what another row says already."),
        (ROW.format(50) + ROW.format(60), 1, "line 3 is about the same thing but differs in toe_angle_deg"),
        (ROW.format("fifty"), 1, "What to do: write one number and nothing else"),
    ],
)
def test_one_file_of_feet_is_checked_by_itself(tmp_path, capsys, feet, status, told):
    assert main(["check", write(tmp_path, "f.csv", FEET + feet)]) == status
    said = capsys.readouterr().out
    assert told in said
    assert "table of horses" not in said


def test_files_that_belong_together_are_checked_together(tmp_path, capsys):
    files = [write(tmp_path, "h.csv", HORSES), write(tmp_path, "f.csv", FEET + ROW.format(50).replace("H1", "H01"))]
    assert main(["check", *files]) == 1
    assert "or correct the code; did you mean 'H1'?" in capsys.readouterr().out


def test_a_file_that_cannot_be_read_is_status_2_and_the_rest_is_still_checked(tmp_path, capsys):
    files = [write(tmp_path, "h.csv", ""), write(tmp_path, "f.csv", FEET + ROW.format("fifty"))]
    assert main(["check", *files]) == 2
    said = capsys.readouterr()
    assert said.err.startswith("h.csv: ")
    assert "f.csv: 1 row of data, 1 comes back" in said.out


ALONE = [
    case.name
    for case in cases()
    if {path.name for path in (case / "inbox").iterdir()} == {"1"} and not list(case.rglob("*.yaml"))
]


@pytest.mark.parametrize("case", ALONE)
def test_the_same_is_said_before_and_after(case):
    folder = CORPUS / case / "inbox"
    files = sorted((folder / "1/ash").iterdir())
    before = settle_before([part for file in files for part in read_parts(file, as_of=AS_OF)], AS_OF)
    after = take_inbox(folder, AS_OF)
    said = [
        [
            (part.file, [(one.line, one.header, one.reason) for one in part.findings])
            for part in inbox.pool.parts
            if part.file
        ]
        for inbox in (before, after)
    ]
    assert said[0] == said[1]


def test_ten_thousand_rows_take_seconds(tmp_path):
    rows = "".join(
        f"H{number},{foot},2026-03-17,A,gauge,{50 + number % 7}\n"
        for number in range(2500)
        for foot in ("LF", "RF", "LH", "RH")
    )
    path = write(tmp_path, "f.csv", FEET + rows)
    start = time.process_time()
    assert main(["check", path]) == 0
    assert time.process_time() - start < 5

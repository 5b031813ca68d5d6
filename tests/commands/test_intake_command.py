"""``hoofcohort intake`` from the command line: messages, exit status, files, and nothing left behind on failure."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pandas as pd
import pytest

from hoofcohort import cli

HORSES = "horse_id,yard_id,owner_id,sex\nH1,Y1,W1,mare\n=cmd(),Y1,W1,mule\n"
MANAGEMENT = "horse_id,from_date,diet,terrain\nH1,2025-01-01,hay,soft\n"
FEET = (
    "horse_id,foot,visit_date,observer_id,method,toe_length_mm\n"
    "H1,LF,2026-03-14,A,gauge,88\nH1,LF,2026-03-15,A,gauge,170\n"
)
OUTPUTS = [
    "data/feet.parquet",
    "data/horses.parquet",
    "data/management.parquet",
    "flags.csv",
    "ledger.json",
    "rejects.csv",
]


@pytest.fixture
def intake(tmp_path, monkeypatch):
    """Write the three files and run the command on them in an empty folder."""
    monkeypatch.chdir(tmp_path)

    def run(*more, horses=HORSES, management=MANAGEMENT, feet=FEET):
        for name, text in {"horses": horses, "management": management, "feet": feet}.items():
            Path(f"{name}.csv").write_text(text)
        named = [f"--{name}={name}.csv" for name in ("horses", "management", "feet")]
        return cli.main(["intake", *named, "--out-dir", "run", *more])

    return run


def written(folder="run"):
    return sorted(str(path.relative_to(folder)) for path in Path(folder).rglob("*") if path.is_file())


def test_the_outputs(intake, capsys):
    assert intake() == 0
    assert written() == OUTPUTS
    assert Path("run/rejects.csv").read_text() == (
        "file,line,column,value,reason,remedy,row_key\n"
        'horses.csv,3,sex,mule,unknown_word,"write one of mare, gelding, stallion",\'=cmd()\n'
    )
    assert Path("run/flags.csv").read_text() == (
        "file,line,column,value,limits,reason\n"
        "feet.csv,3,toe_length_mm,170,40 to 160 mm,possible but not plausible; kept\n"
    )
    ledger = json.loads(Path("run/ledger.json").read_text())
    assert list(ledger) == ["files", "reasons", "totals"]
    assert ledger["totals"] == {"rows_read": 5, "blank_lines": 0, "accepted": 4, "rejected": 1, "flagged": 1}
    assert pd.read_parquet("run/data/feet.parquet")["toe_length_mm"].tolist() == [88, 170]
    assert capsys.readouterr().err == (
        "reading horses.csv\nreading management.csv\nreading feet.csv\n"
        "horses.csv: 2 rows read, 1 accepted, 1 rejected, 0 values flagged\n"
        "management.csv: 1 rows read, 1 accepted, 0 rejected, 0 values flagged\n"
        "feet.csv: 2 rows read, 2 accepted, 0 rejected, 1 values flagged\n"
    )


def test_the_same_files_give_the_same_bytes(intake):
    intake()
    first = {name: Path("run", name).read_bytes() for name in OUTPUTS}
    intake("--out-dir", "again")
    assert {name: Path("again", name).read_bytes() for name in OUTPUTS} == first


def test_as_of_refuses_later_dates(intake):
    assert intake("--as-of", "2026-03-14") == 0
    with open("run/rejects.csv", newline="") as handle:
        assert [row["reason"] for row in csv.DictReader(handle)] == ["unknown_word", "future_date"]


def test_unusable_files_are_told_together_and_nothing_is_written(intake, capsys):
    assert intake(horses="horse_id,yard,owner_id\n", feet="") == 2
    assert capsys.readouterr().err == (
        "reading horses.csv\nreading management.csv\nreading feet.csv\n"
        "hoofcohort intake: 3 things must be put right first; nothing was written\n"
        "  horses.csv: unknown column 'yard'; did you mean 'yard_id'?\n"
        "  horses.csv: column 'yard_id' is missing; add it: Code of the premises where the horse is kept.\n"
        "  feet.csv: the file is empty; its first line must hold the names of the columns\n"
    )
    assert not Path("run").exists()


def test_a_missing_file(intake, capsys):
    assert intake("--feet", "foot.csv") == 2
    assert capsys.readouterr().err.endswith(
        "hoofcohort intake: a file must be put right first; nothing was written\n"
        "  foot.csv: there is no such file; check the name and the folder\n"
    )
    assert not Path("run").exists()


def test_a_date_that_is_none_is_refused_before_anything_is_read(intake, capsys):
    with pytest.raises(SystemExit) as stopped:
        intake("--as-of", "soon")
    assert stopped.value.code == 2
    assert "found 'soon'; write a date as YYYY-MM-DD, such as 2026-03-14" in capsys.readouterr().err


def test_an_output_folder_that_is_a_file(intake, capsys):
    Path("run").write_text("kept")
    assert intake() == 2
    assert "hoofcohort intake: --out-dir run: cannot write there" in capsys.readouterr().err
    assert Path("run").read_text() == "kept"


def test_a_failure_while_writing_leaves_nothing(intake, monkeypatch):
    def fail(path, frame):
        raise ZeroDivisionError

    monkeypatch.setattr("hoofcohort.intake.run.write_parquet_atomic", fail)
    with pytest.raises(ZeroDivisionError):
        intake()
    assert not Path("run").exists()


def test_a_failure_while_writing_keeps_what_was_there(intake, monkeypatch):
    intake()
    before = {name: Path("run", name).read_bytes() for name in OUTPUTS}

    def fail(columns, lines, path):
        raise ZeroDivisionError

    monkeypatch.setattr("hoofcohort.intake.run._write_csv", fail)
    with pytest.raises(ZeroDivisionError):
        intake(feet=FEET + "H1,RF,2026-03-14,A,gauge,88\n")
    assert {name: Path("run", name).read_bytes() for name in written()} == before


def test_the_dictionary_is_printed_or_written(tmp_path, capsys):
    assert cli.main(["dictionary"]) == 0
    printed = capsys.readouterr().out
    assert printed.startswith("# Data dictionary\n")
    assert cli.main(["dictionary", "--out", str(tmp_path / "d.md")]) == 0
    assert (tmp_path / "d.md").read_text() == printed


def test_a_dictionary_that_cannot_be_written(tmp_path, capsys):
    assert cli.main(["dictionary", "--out", str(tmp_path)]) == 2
    assert f"hoofcohort dictionary: --out {tmp_path}: cannot write this file" in capsys.readouterr().err

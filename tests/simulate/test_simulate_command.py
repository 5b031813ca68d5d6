"""``hoofcohort simulate`` as it is typed, and the committed demo against it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from hoofcohort.cli import main

DEMO = Path(__file__).parents[2] / "synthetic_data"
FILES = ("horses.csv", "management.csv", "feet.csv", "truth.json")


def contents(folder):
    return {file: (folder / file).read_bytes() for file in FILES}


def test_same_command_same_bytes(tmp_path):
    for name in ("a", "b"):
        assert main(["simulate", "--out", str(tmp_path / name), "--horses", "20", "--seed", "5"]) == 0
    assert contents(tmp_path / "a") == contents(tmp_path / "b")
    assert sorted(path.name for path in (tmp_path / "a").iterdir()) == sorted(FILES)


def test_committed_demo_is_what_its_readme_says_made_it(tmp_path):
    command = "simulate --out synthetic_data --horses 64 --visits 3 --seed 20260301"
    assert f"hoofcohort {command}\n" in (DEMO / "README.md").read_text(encoding="utf-8")
    assert main(command.replace("synthetic_data", str(tmp_path / "demo")).split()) == 0
    assert contents(tmp_path / "demo") == contents(DEMO)


def test_demo_is_labelled_invented():
    assert (DEMO / "README.md").read_text(encoding="utf-8").startswith("# Invented demo data\n")
    truth = json.loads((DEMO / "truth.json").read_text(encoding="utf-8"))
    assert truth["invented"] is True
    assert "do not exist" in truth["notice"]


def test_no_mistakes_is_the_same_cohort_without_them(tmp_path):
    for name, more in (("dirty", []), ("clean", ["--no-mistakes"])):
        main(["simulate", "--out", str(tmp_path / name), "--seed", "9", *more])
    dirty, clean = (contents(tmp_path / name) for name in ("dirty", "clean"))
    truth = {name: json.loads(files["truth.json"]) for name, files in (("dirty", dirty), ("clean", clean))}
    assert truth["clean"]["mistakes"] == []
    assert truth["clean"]["outcomes"] == truth["dirty"]["outcomes"]
    lines, dirty_lines = clean["feet.csv"].split(b"\n"), dirty["feet.csv"].split(b"\n")
    assert 0 < sum(a != b for a, b in zip(lines, dirty_lines, strict=False)) < 25


@pytest.mark.parametrize(
    "arguments, message",
    [
        (["--horses", "0"], "horses is 0; it must be at least 1"),
        (
            ["--horses", "4", "--yards", "9"],
            "yards is 9 but there are only 4 horses; ask for at most one yard per horse",
        ),
    ],
)
def test_impossible_numbers_exit_2_and_write_nothing(tmp_path, capsys, arguments, message):
    assert main(["simulate", "--out", str(tmp_path / "out"), *arguments]) == 2
    assert capsys.readouterr().err == f"hoofcohort simulate: {message}\n"
    assert list(tmp_path.iterdir()) == []


def test_folder_that_is_a_file_exits_2(tmp_path, capsys):
    (tmp_path / "taken").write_text("mine")
    assert main(["simulate", "--out", str(tmp_path / "taken"), "--horses", "2"]) == 2
    assert "cannot make this folder" in capsys.readouterr().err
    assert (tmp_path / "taken").read_text() == "mine"

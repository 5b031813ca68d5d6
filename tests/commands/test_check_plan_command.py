"""``hoofcohort check-plan`` as a user sees it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from hoofcohort.cli import main
from hoofcohort.plan import load_plan

CONFIG = Path(__file__).parents[2] / "config"


@pytest.fixture
def study(tmp_path, monkeypatch) -> Path:
    """Make a folder that holds the demo's plan, the cut-offs and (empty) data files."""
    monkeypatch.chdir(tmp_path)
    for folder in ("config", "synthetic_data"):
        (tmp_path / folder).mkdir()
    for name in ("demo.yaml", "cutoffs.yaml"):
        (tmp_path / "config" / name).write_bytes((CONFIG / name).read_bytes())
    for table in ("horses", "management", "feet"):
        (tmp_path / f"synthetic_data/{table}.csv").touch()
    return tmp_path


def swap(path: Path, old: str, new: str) -> None:
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")


def test_a_sound_plan_is_written_out_whole(study, capsys):
    assert main(["check-plan", "config/demo.yaml", "--out", "run/plan.json"]) == 0
    written = json.loads((study / "run/plan.json").read_text(encoding="utf-8"))
    assert written == load_plan("config/demo.yaml").model_dump(mode="json")
    assert written["exposures"]["diet"] == {"form": "share", "reference": "hay", "per": None}
    assert list(written)[:3] == ["study", "title", "question"]
    assert capsys.readouterr().out == ""


def test_the_same_plan_gives_the_same_bytes(study):
    for name in ("a.json", "b.json"):
        main(["check-plan", "config/demo.yaml", "--out", name])
    assert (study / "a.json").read_bytes() == (study / "b.json").read_bytes()


def test_all_faults_at_once_status_2_and_nothing_written(study, capsys):
    plan = study / "config/demo.yaml"
    swap(plan, "confidence: 0.95", "confidence: 0.95\nconfidnce: 0.9")
    swap(plan, "  frog_ratio:", "  frog_ration:")
    swap(plan, "form: mean", "form: share")
    swap(study / "config/cutoffs.yaml", "status: published", "status: sure")
    (study / "synthetic_data/feet.csv").unlink()
    assert main(["check-plan", "config/demo.yaml", "--out", "run/plan.json"]) == 2
    told = capsys.readouterr().err.splitlines()
    places = [line.removeprefix("hoofcohort check-plan: ").split(": ")[2] for line in told]
    assert places == [
        "data.feet",
        "outcomes.frog_ration",
        "exposures.trim_interval_days.form",
        "confidnce",
        "cutoffs",
    ]
    assert told[0].startswith(
        "hoofcohort check-plan: config/demo.yaml: line 15: data.feet: no file 'synthetic_data/feet"
    )
    assert "did you mean 'frog_ratio'?" in told[1]
    assert told[4].endswith(
        "cutoffs: config/cutoffs.yaml: line 16: cutoffs, item 1.status: found 'sure'; allowed: published, 'from "
        "memory, not verified', 'common practice, no source', study-defined"
    )
    assert not (study / "run").exists()


def test_a_plan_that_is_not_there(study, capsys):
    assert main(["check-plan", "config/none.yaml", "--out", "plan.json"]) == 2
    assert capsys.readouterr().err == (
        "hoofcohort check-plan: config/none.yaml: no such file; give the path from the folder in which you start the "
        "command\n"
    )
    assert not (study / "plan.json").exists()

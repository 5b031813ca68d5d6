"""``hoofcohort fit-outcome`` as the workflow runs it."""

from __future__ import annotations

import json
from pathlib import Path

import pandas as pd
import pytest

from hoofcohort.cli import main
from hoofcohort.indices.derive import derive
from hoofcohort.simulate import simulate_cohort

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "config" / "demo.yaml"
OUTCOME = "heel_underrun_deg"


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    folder = tmp_path_factory.mktemp("run")
    cohort = simulate_cohort(horses=20, yards=5, seed=4, mistakes=False)
    cohort.horses.to_parquet(folder / "horses.parquet")
    cohort.management.to_parquet(folder / "management.parquet")
    derive(cohort.feet, cohort.horses).to_parquet(folder / "readings.parquet")
    return folder


def arguments(folder: Path, out: Path, **changes: str) -> list[str]:
    values = {"plan": str(DEMO), "outcome": OUTCOME}
    values |= {name: str(folder / f"{name}.parquet") for name in ("readings", "horses", "management")}
    values |= {
        "out": str(out / "m/o.json"),
        "analysis-out": str(out / "a.parquet"),
        "effects-out": str(out / "e.parquet"),
    }
    values |= changes
    return ["fit-outcome", *(word for name, value in values.items() for word in (f"--{name}", value))]


def test_the_three_files_hold_the_outcome(folder, tmp_path, capsys):
    assert main(arguments(folder, tmp_path)) == 0
    record = json.loads((tmp_path / "m/o.json").read_text(encoding="utf-8"))
    assert list(record) == [
        "outcome", "settings", "flow", "variables", "adjusted", "unadjusted", "effects", "shapes", "check",
        "without_visit", "influence", "robust", "permutation", "variance_tests", "normality", "spread", "messages",
    ]  # fmt: skip
    assert record["outcome"]["name"] == OUTCOME
    assert list(record["unadjusted"]) == ["diet", "terrain", "trim_interval_days"]
    assert [effect["label"] for effect in record["effects"] if effect["of_interest"]] == [
        "concentrate v hay (all days v all days)"
    ]
    assert all(isinstance(text, str) and text.endswith(".") for text in record["messages"])

    analysis = pd.read_parquet(tmp_path / "a.parquet")
    used = record["flow"][-1]
    assert (used["step"], used["readings"], used["horses"]) == (
        "rows used", len(analysis), analysis["horse_id"].nunique(),
    )  # fmt: skip
    assert sum(step["lost"] for step in record["flow"]) == record["flow"][0]["readings"] - used["readings"]
    assert record["adjusted"]["rows_used"] == len(analysis)
    whole = (analysis["fitted"] + analysis["residual"]).to_numpy()
    assert whole == pytest.approx(analysis[OUTCOME].to_numpy())
    assert {"horse_id", "yard_id", "foot", "visit_date"} <= set(analysis)

    effects = pd.read_parquet(tmp_path / "e.parquet")
    assert list(effects) == ["level", "label", "value", "std_error"]
    counts = effects["level"].value_counts()
    assert counts["yard"] == analysis["yard_id"].nunique()
    assert counts["horse"] == analysis["horse_id"].nunique()
    assert counts["foot"] == used["feet"]
    assert f"{len(analysis)} readings" in capsys.readouterr().err


def test_the_same_tables_give_the_same_bytes(folder, tmp_path):
    files = ("m/o.json", "a.parquet", "e.parquet")
    for run in ("first", "second"):
        main(arguments(folder, tmp_path / run))
    for file in files:
        assert (tmp_path / "first" / file).read_bytes() == (tmp_path / "second" / file).read_bytes()


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"outcome": "toe_angle_deg"}, ["no outcome 'toe_angle_deg'", "heel_underrun_deg, frog_width_mm, frog_ratio"]),
        ({"readings": "none.parquet"}, ["none.parquet: cannot be read as a Parquet file", "hoofcohort derive"]),
        ({"plan": "none.yaml"}, ["none.yaml"]),
    ],
)
def test_what_the_user_can_put_right_ends_with_status_2_and_no_file(folder, tmp_path, capsys, changes, words):
    assert main(arguments(folder, tmp_path, **changes)) == 2
    said = capsys.readouterr().err
    assert said.startswith("hoofcohort fit-outcome: ")
    assert all(word in said for word in words), said
    assert list(tmp_path.iterdir()) == []


def test_an_outcome_that_cannot_be_fitted_is_recorded_with_the_reason(folder, tmp_path, capsys):
    out, changed = tmp_path / "out", tmp_path / "readings.parquet"
    pd.read_parquet(folder / "readings.parquet").assign(heel_underrun_deg=6.0).to_parquet(changed)
    assert main(arguments(folder, out, readings=str(changed))) == 0
    assert f"{OUTCOME}: not analysed: the model of diet, " in capsys.readouterr().err
    record = json.loads((out / "m/o.json").read_text())
    assert sorted(record) == ["flow", "not_analysed", "outcome", "settings"]
    assert "reproduce the outcome exactly" in record["not_analysed"]
    assert record["flow"][-1]["step"] == "rows used"


def test_a_file_that_cannot_be_written_leaves_the_others_unwritten(folder, tmp_path, capsys):
    (tmp_path / "occupied").touch()
    status = main(arguments(folder, tmp_path, **{"effects-out": str(tmp_path / "occupied" / "e.parquet")}))
    assert status == 2
    assert "occupied: cannot be used" in capsys.readouterr().err
    assert [path.name for path in tmp_path.rglob("*")] == ["occupied"]

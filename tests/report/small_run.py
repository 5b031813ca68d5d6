"""Make a small run by the stages themselves, from an invented cohort with unfriendly names."""

from __future__ import annotations

import csv
from pathlib import Path

import yaml

from hoofcohort.cli import main

ROOT = Path(__file__).parents[2]
YARD = "<i>yard</i> & co"
OBSERVER = "<script>alert(1)</script>"
HORSE_MARK = "="
"""Put before every horse's id: a spreadsheet must not take it for a formula."""
TITLE = 'Heels & "frogs" <b>kept</b>'
CONTRAST = "=<i>pasture</i> & hay v the other"
OUTCOMES = ("heel_underrun_deg", "frog_ratio")


def make_run(folder: Path, horses: int = 24, yards: int = 6, visits: int = 2) -> Path:
    """Run every stage before the report on a simulated cohort in ``folder`` and return the run's folder."""
    data, run = folder / "data_in", folder / "run"
    sizes = ["--horses", str(horses), "--yards", str(yards), "--visits", str(visits)]
    stage("simulate", "--out", data, *sizes)
    _rename(data)
    plan = _plan(data)
    (folder / "plan.yaml").write_text(yaml.safe_dump(plan, sort_keys=False), encoding="utf-8")
    stage("check-plan", folder / "plan.yaml", "--out", run / "plan.json")
    tables = [item for name in ("horses", "management", "feet") for item in (f"--{name}", data / f"{name}.csv")]
    stage("intake", *tables, "--as-of", "2026-09-30", "--out-dir", run)
    kept = run / "data"
    stage(
        "derive", "--feet", kept / "feet.parquet", "--horses", kept / "horses.parquet",
        "--out", kept / "readings.parquet",
    )  # fmt: skip
    for name in OUTCOMES:
        inputs = [
            item for key in ("readings", "horses", "management") for item in (f"--{key}", kept / f"{key}.parquet")
        ]
        outputs = [
            "--analysis-out",
            kept / f"analysis/{name}.parquet",
            "--effects-out",
            kept / f"effects/{name}.parquet",
        ]
        stage(
            "fit-outcome", "--plan", folder / "plan.yaml", "--outcome", name, *inputs,
            "--out", run / f"models/{name}.json", *outputs,
        )  # fmt: skip
    return run


def _rename(data: Path) -> None:
    """Give one yard, one observer and every horse an unfriendly name."""
    for name in ("horses", "management", "feet"):
        path = data / f"{name}.csv"
        head, *rows = csv.reader(path.read_text(encoding="utf-8").splitlines())
        for row in rows:
            if "horse_id" in head:
                row[head.index("horse_id")] = HORSE_MARK + row[head.index("horse_id")]
            for column, old, new in (("yard_id", "Y01", YARD), ("observer_id", "OBS-B", OBSERVER)):
                if column in head and row[head.index(column)] == old:
                    row[head.index(column)] = new
        with path.open("w", encoding="utf-8", newline="") as handle:
            csv.writer(handle, lineterminator="\n").writerows([head, *rows])


def stage(*words: object) -> None:
    assert main([str(word) for word in words]) == 0


def _plan(data: Path) -> dict:
    plan = yaml.safe_load((ROOT / "config" / "demo.yaml").read_text(encoding="utf-8"))
    plan["title"] = TITLE
    plan["data"] |= {name: str(data / f"{name}.csv") for name in ("horses", "management", "feet")}
    plan["outcomes"] = {name: plan["outcomes"][name] for name in OUTCOMES}
    plan["outcomes"]["frog_ratio"]["comparison"] = {"exposure": "trim_interval_days"}
    plan["adjustments"] = ["age_years", "fore_hind", "observer_id"]
    plan["shapes"] = {"age_years": {"form": "spline", "knots": 3}}
    plan["contrasts"][0]["name"] = CONTRAST
    plan["references"] = {"fore_hind": "fore", "observer_id": "OBS-A"}
    plan["minimum_coverage"] = 0.5
    plan["cutoffs"] = str(ROOT / "config" / "cutoffs.yaml")
    return plan

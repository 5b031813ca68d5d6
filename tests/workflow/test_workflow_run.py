"""The workflow, end to end: what it makes, what it makes again, and what it says when something is wrong."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import time

import pandas as pd
import pytest
import yaml

STUDIES = ["one-outcome", "two-outcomes"]
TABLES = ["horses", "management", "feet"]


@pytest.mark.parametrize("study", STUDIES)
def test_every_row_of_the_files_is_in_the_ledger(finished, study):
    run = finished.path / "reports" / study
    ledger = json.loads((run / "ledger.json").read_text())
    rejects = pd.read_csv(run / "rejects.csv", dtype=str)
    for table in TABLES:
        account = ledger["files"][table]
        lines = (finished.path / f"synthetic_data/{table}.csv").read_text().splitlines()
        accepted = len(pd.read_parquet(run / f"data/{table}.parquet"))
        rejected = rejects.loc[rejects["file"].str.endswith(f"{table}.csv"), "line"].nunique()
        assert account["rows_read"] == len(lines) - 1 == accepted + rejected
        assert (account["accepted"], account["rejected"]) == (accepted, rejected)
        assert sum(account["reasons"].values()) == rejected


def test_the_report_states_the_fitted_estimates(finished):
    run = finished.path / "reports/two-outcomes"
    page = (run / "report.html").read_text()
    models = sorted((run / "models").glob("*.json"))
    assert len(models) == 2
    for path in models:
        effect = next(effect for effect in json.loads(path.read_text())["effects"] if effect["of_interest"])
        shown = f"{effect['adjusted']['estimate']:.2f}".replace("-", "−")
        assert shown in page.replace("&minus;", "−")


def test_a_second_run_does_nothing(finished):
    done = finished.snakemake()
    assert done.returncode == 0
    assert "Nothing to be done" in done.stderr


def test_one_outcomes_settings_change_that_fit_and_the_report(finished):
    plan = finished.read_plan("two-outcomes.yaml")
    changed, kept = plan["outcomes"]
    plan["outcomes"][changed]["window_days"] += 7
    finished.write_plan("two-outcomes.yaml", plan)
    before = finished.results("two-outcomes")

    jobs = finished.jobs()

    assert jobs == [
        f"two-outcomes: fit {changed}",
        "two-outcomes: write the plan out whole",
        "two-outcomes: write the report",
    ]
    after = finished.results("two-outcomes")
    assert after[f"models/{kept}.json"] == before[f"models/{kept}.json"]
    assert after[f"models/{changed}.json"] != before[f"models/{changed}.json"]
    assert after["report.html"] != before["report.html"]
    assert finished.jobs() == []


def test_a_remark_in_a_plan_changes_no_fit(finished):
    with (finished.path / "config/one-outcome.yaml").open("a") as plan:
        plan.write("# a remark\n")
    assert finished.jobs("--dry-run") == ["one-outcome: write the plan out whole", "one-outcome: write the report"]


@pytest.mark.parametrize(
    ("module", "first"),
    [
        ("commands/intake.py", "accept or reject every row"),
        ("indices/derive.py", "compute the indices"),
        ("models/fit.py", "fit"),
        ("commands/report.py", "write the report"),
    ],
)
def test_changed_code_runs_its_stage_and_what_follows(finished, module, first):
    with (finished.path / "src/hoofcohort" / module).open("a") as source:
        source.write("\n# changed\n")
    stages = ["accept or reject every row", "compute the indices", "fit", "write the report"]

    jobs = finished.jobs("--dry-run")

    expected = stages[stages.index(first) :]
    assert {next(stage for stage in stages if f": {stage}" in job) for job in jobs} == set(expected)
    assert len(jobs) == 2 * len(expected) + ("fit" in expected)


def test_changed_data_run_everything_but_the_plan(finished):
    path = finished.path / "synthetic_data/feet.csv"
    path.write_text("\n".join(path.read_text().splitlines()[:-1]) + "\n")
    jobs = finished.jobs("--dry-run")
    assert len(jobs) == 2 * 3 + 3
    assert not [job for job in jobs if "plan" in job]


def test_faults_of_all_plans_are_reported_together_before_any_job(fresh):
    one, two = fresh.read_plan("one-outcome.yaml"), fresh.read_plan("two-outcomes.yaml")
    one["outcomse"] = one.pop("outcomes")
    two["data"]["feet"] = "synthetic_data/foot.csv"
    two["confidence"] = 95
    fresh.write_plan("one-outcome.yaml", one)
    fresh.write_plan("two-outcomes.yaml", two)

    done = fresh.snakemake()

    assert done.returncode != 0
    for words in ["config/one-outcome.yaml", "outcomse", "config/two-outcomes.yaml", "confidence", "95"]:
        assert words in done.stderr
    assert "Traceback" not in done.stderr
    assert "Snakefile" not in done.stderr
    assert not (fresh.path / "reports").exists()


def test_a_data_file_that_is_not_there_is_named(fresh):
    plan = fresh.read_plan("one-outcome.yaml")
    plan["data"]["feet"] = "synthetic_data/foot.csv"
    fresh.write_plan("one-outcome.yaml", plan)

    done = fresh.snakemake()

    assert done.returncode != 0
    assert done.stderr.splitlines() == [
        "config/one-outcome.yaml: line 11: data.feet: no file 'synthetic_data/foot.csv'; "
        "give its path from the folder in which the command is started"
    ]


def test_two_plans_cannot_share_a_study_and_settings_are_strict(fresh):
    done = fresh.snakemake("--config", 'plans=["config/demo.yaml", "config/demo.yaml"]', "plan=x")
    assert done.returncode != 0
    assert "config: unknown key 'plan'; allowed: plans, inbox, inbox_as_of; did you mean 'plans'?" in done.stderr
    assert "is also the study of config/demo.yaml" in done.stderr


def test_what_a_failing_command_says_is_on_screen_and_in_its_log(fresh):
    path = fresh.path / "synthetic_data/feet.csv"
    path.write_text(path.read_text().replace("toe_angle_deg", "toe_angel_deg", 1))

    done = fresh.snakemake("reports/one-outcome/ledger.json")

    assert done.returncode != 0
    log = (fresh.path / "reports/one-outcome/logs/intake.log").read_text()
    assert "toe_angel_deg" in log
    assert "did you mean 'toe_angle_deg'?" in log
    assert log.strip() in done.stderr
    assert not list((fresh.path / "reports/one-outcome").glob("**/*.parquet"))
    assert not (fresh.path / "reports/one-outcome/ledger.json").exists()


def test_a_killed_run_resumes_to_the_same_bytes(first_run, fresh):
    (fresh.path / "config/config.yaml").write_text("plans: config/two-outcomes.yaml\n")
    logs = fresh.path / "reports/two-outcomes/logs/fit_outcome"
    with (fresh.path / "killed.txt").open("w") as output:
        process = subprocess.Popen(
            fresh.command(), cwd=fresh.path, env=fresh.environment(), stdout=output, stderr=output
        )
        try:
            deadline = time.monotonic() + 120
            while not list(logs.glob("*.log")):
                assert process.poll() is None, (fresh.path / "killed.txt").read_text()
                assert time.monotonic() < deadline
                time.sleep(0.05)
        finally:
            os.kill(process.pid, signal.SIGKILL)
            process.wait()
    assert not (fresh.path / "reports/two-outcomes/report.html").exists()

    assert "LockException" in fresh.snakemake().stderr
    assert fresh.snakemake("--unlock").returncode == 0
    jobs = fresh.jobs("--rerun-incomplete")

    assert "two-outcomes: write the report" in jobs
    assert "two-outcomes: accept or reject every row" not in jobs
    assert fresh.results("two-outcomes") == first_run.results("two-outcomes")
    assert fresh.jobs() == []


def test_lint_finds_nothing_but_the_missing_container(fresh):
    """The software of every step is the lock file's; a container or conda environment for each rule would repeat it."""
    done = fresh.snakemake("--lint")
    found = re.findall(r"^    \* (.*)$", done.stderr, flags=re.MULTILINE)
    assert set(found) == {"Specify a conda environment or container for each rule.:"}
    rules = [re.findall(r"^(?:rule|checkpoint) ", path.read_text(), flags=re.MULTILINE)
             for path in (fresh.path / "workflow/rules").glob("*.smk")]  # fmt: skip
    assert len(found) == sum(map(len, rules))


def test_the_profiles_are_understood(fresh):
    assert fresh.snakemake("--workflow-profile", "workflow/profiles/default", "--dry-run").returncode == 0
    slurm = yaml.safe_load((fresh.path / "workflow/profiles/slurm/config.yaml").read_text())
    assert slurm["slurm-status-command"] == "squeue"
    assert slurm["default-resources"]["mem_mb"] > 0

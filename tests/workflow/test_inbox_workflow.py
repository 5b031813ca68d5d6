"""The inbox in the workflow: one job a file, the command's bytes, and a study of what comes out."""

from __future__ import annotations

import shutil
import subprocess
import sys

import pytest

MEMBERS = ("ivy", "oak", "pine")
CONFIG = ("--config", "inbox=synthetic_data/inbox", "inbox_as_of=2026-07-01", "plans=[config/one-outcome.yaml]")
ODD = "2026-1-spring/pine/2nd {visit} 'a b'.csv"
"""A name that a shell, a format or a pattern could take for something else."""


@pytest.fixture(scope="module")
def taken(template, tmp_path_factory):
    """A copy with an inbox of three members, taken in."""
    checkout = template.copy(tmp_path_factory.mktemp("inbox"))
    inbox = checkout.path / "synthetic_data/inbox"
    for folder in inbox.glob("*/*/"):
        if folder.name not in MEMBERS:
            shutil.rmtree(folder)
    feet = (inbox / "2026-1-spring/pine/feet.csv").read_text()
    (inbox / ODD).write_text(feet.replace("2026-05-21", "2026-06-21").replace("2026-03-17", "2026-06-20"))
    done = checkout.snakemake(*CONFIG, "--", "inbox")
    assert done.returncode == 0, done.stderr
    return checkout


def outputs(checkout, folder="reports/_inbox"):
    made = checkout.path / folder
    apart = ("parts", "logs", "benchmarks")
    return {
        name.as_posix(): path.read_bytes()
        for path in made.rglob("*")
        if path.is_file() and (name := path.relative_to(made)).parts[0] not in apart and name.name[0] != "."
    }


def test_the_workflow_makes_what_the_command_makes(taken):
    command = [sys.executable, "-m", "hoofcohort", "inbox", "synthetic_data/inbox", "--out", "by command"]
    subprocess.run(
        [*command, "--as-of", "2026-07-01"], cwd=taken.path, env=taken.environment(), check=True, capture_output=True
    )
    assert outputs(taken) == outputs(taken, "by command")
    assert b"2026-06-21" in outputs(taken)["feet.csv"]


def test_a_file_that_was_only_touched_is_not_read_again(taken, tmp_path):
    checkout = taken.copy(tmp_path)
    (checkout.path / "synthetic_data/inbox/2026-1-spring/oak/feet.csv").touch()
    assert checkout.jobs(*CONFIG, "--", "inbox") == []


def test_one_changed_file_is_one_job_and_the_account(taken, tmp_path):
    checkout = taken.copy(tmp_path)
    name = "synthetic_data/inbox/2026-1-spring/oak/feet.csv"
    path = checkout.path / name
    path.write_text(path.read_text().replace(",gauge,", ",photo,"))
    before = outputs(checkout)
    assert checkout.jobs(*CONFIG, "--", "inbox") == [f"inbox: read {name}", "inbox: settle and account for every row"]
    after = outputs(checkout)
    assert sorted(key for key in after if after[key] != before[key]) == ["feet.csv"]


@pytest.mark.parametrize("name", ["mapping.yaml", "horses.csv.mapping.yaml"])
def test_a_mapping_reads_the_files_again_that_it_may_be_for(taken, tmp_path, name):
    checkout = taken.copy(tmp_path)
    folder = checkout.path / "synthetic_data/inbox/2026-1-spring/oak"
    (folder / name).write_text("table: horses\ncolumns:\n  nag: {to: horse_id}\n")
    read = {job.split("/", 2)[2] for job in checkout.jobs(*CONFIG, "--dry-run", "--", "inbox") if " read " in job}
    horses = {"2026-1-spring/oak/horses.csv", "2026-2-summer/oak/horses.csv"}
    own = {f"2026-1-spring/oak/{table}.csv" for table in ("feet", "management")}
    assert read == (horses | own if name == "mapping.yaml" else horses)


def test_a_change_of_a_file_with_braces_in_its_name_is_seen(taken, tmp_path):
    checkout = taken.copy(tmp_path)
    path = checkout.path / "synthetic_data/inbox" / ODD
    path.write_text(path.read_text().replace("2026-06-21", "2026-06-22"))
    jobs = checkout.jobs(*CONFIG, "--", "inbox")
    assert jobs == [f"inbox: read synthetic_data/inbox/{ODD}", "inbox: settle and account for every row"]
    assert b"2026-06-22" in outputs(checkout)["feet.csv"]


def test_a_file_taken_out_is_taken_out_of_the_account(taken, tmp_path):
    checkout = taken.copy(tmp_path)
    (checkout.path / "synthetic_data/inbox" / ODD).unlink()
    assert checkout.jobs(*CONFIG, "--", "inbox") == ["inbox: settle and account for every row"]
    assert b"2026-06-21" not in outputs(checkout)["feet.csv"]


def test_a_study_takes_its_tables_from_the_inbox(taken, tmp_path):
    checkout = taken.copy(tmp_path)
    arguments = ("--config", "inbox=synthetic_data/inbox", "inbox_as_of=2026-07-01", "plans=[config/inbox.yaml]")
    jobs = checkout.jobs(*arguments)
    assert [job for job in jobs if job.startswith("inbox:")] == []
    assert "from-the-inbox: accept or reject every row" in jobs
    page = (checkout.path / "reports/from-the-inbox/report.html").read_text(encoding="utf-8")
    assert "Heels and diet, from members" in page
    assert (checkout.path / "reports/from-the-inbox/rejects.csv").read_text().count("\n") == 1


@pytest.mark.parametrize(
    ("config", "told"),
    [
        (["plans=[config/inbox.yaml]"], "comes from an inbox; name it for this run: --config inbox=FOLDER"),
        (["inbox=nowhere"], "nowhere: there is no such folder"),
        (["inbox=synthetic_data/inbox", "inbox_as_of=soon"], "config: inbox_as_of: found 'soon'"),
    ],
)
def test_what_is_wrong_with_the_inbox_is_said_before_any_job(taken, config, told):
    done = taken.snakemake("--config", *config, "--dry-run")
    assert done.returncode != 0
    assert told in done.stderr + done.stdout
    assert "Traceback" not in done.stderr

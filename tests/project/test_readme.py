"""The README's commands are what it says they are, and CI runs those very commands."""

from __future__ import annotations

import re
import shlex
import subprocess
import sys
from importlib import import_module
from pathlib import Path

import pytest
import yaml

from hoofcohort import cli

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text()
SETUP = [
    "python3 -m venv .venv",
    ".venv/bin/pip install --quiet --require-hashes -r {lock}",
    ".venv/bin/pip install --quiet --no-deps -e .",
]


def blocks(section: str) -> list[str]:
    part = README.split(f"\n## {section}\n", 1)[1].split("\n## ", 1)[0]
    return [block.strip() for block in re.findall(r"^ *```sh\n(.*?)^ *```$", part, flags=re.MULTILINE | re.DOTALL)]


@pytest.mark.parametrize(
    ("section", "lock", "last"),
    [
        ("Run", "requirements.lock", ".venv/bin/snakemake --cores 2"),
        ("Test", "requirements-dev.lock", ".venv/bin/python -m pytest"),
    ],
)
def test_one_command_does_all_set_up(section, lock, last):
    (command,) = blocks(section)
    assert "\n" not in command
    assert command.split(" && ") == [*(step.format(lock=lock) for step in SETUP), last]


@pytest.mark.parametrize("section", ["Run", "Test"])
def test_ci_runs_the_readmes_commands(section):
    script = (ROOT / ".ci/run").read_text()
    function = script[script.index("readme_command() {") : script.index("\n}\n") + 3]
    done = subprocess.run(
        ["bash", "-euc", f"{function}readme_command {section}"], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert [done.stdout.strip()] == blocks(section)
    assert f"{section.lower()}_command=$(readme_command {section})" in script
    assert f'bash -euo pipefail -c "${section.lower()}_command"' in script


def test_the_report_that_run_and_ci_name_is_the_demos():
    demo = yaml.safe_load((ROOT / "config/demo.yaml").read_text())
    page = f"reports/{demo['study']}/report.html"
    assert page in README
    assert page in (ROOT / ".ci/run").read_text()
    assert yaml.safe_load((ROOT / "config/config.yaml").read_text()) == {"plans": ["config/demo.yaml"]}


def shown_commands() -> list[str]:
    text = README.replace("\\\n", " ")
    return re.findall(r"^ *\.venv/bin/(hoofcohort .*)$", text, flags=re.MULTILINE)


@pytest.mark.parametrize("command", shown_commands())
def test_every_shown_command_is_accepted(command, monkeypatch):
    name, *arguments = shlex.split(command)[1:]
    seen = []
    monkeypatch.setattr(import_module(f"hoofcohort.commands.{name.replace('-', '_')}"), "run", seen.append)
    assert cli.main([name, *arguments]) == 0
    assert len(seen) == 1


def test_shown_commands_cover_what_a_reader_needs():
    assert {shlex.split(command)[1] for command in shown_commands()} == {
        "templates", "check-plan", "inbox", "pseudonymise", "release-check", "model", "statistics-make",
        "statistics-merge", "statistics-fit",
    }  # fmt: skip


def test_the_shown_study_of_an_inbox_can_be_run(tmp_path):
    """That it ends in a report is held by tests/workflow/test_inbox_workflow.py."""
    (command,) = re.findall(r"`\.venv/bin/snakemake ([^`]*inbox=[^`]*)`", README)
    for part in ("Snakefile", "workflow", "config", "synthetic_data"):
        (tmp_path / part).symlink_to(ROOT / part)
    done = subprocess.run(
        [sys.executable, "-m", "snakemake", *shlex.split(command), "--dry-run"],
        cwd=tmp_path, capture_output=True, text=True,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    jobs = re.findall(r"^Job \d+: (.*)$", done.stderr + done.stdout, flags=re.MULTILINE)
    assert "inbox: settle and account for every row" in jobs
    assert "from-the-inbox: write the report" in jobs
    assert len([job for job in jobs if job.startswith("inbox: read ")]) > 40


def test_every_file_that_the_readme_links_to_is_there():
    links = [link for link in re.findall(r"\]\(([^)]+)\)", README) if "://" not in link]
    assert len(links) >= 4
    assert [link for link in links if not (ROOT / link).exists()] == []

"""The README's way to a report that names nobody, run as it stands there."""

from __future__ import annotations

import csv
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pandas as pd
import pytest

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
SECTIONS = ("Files as members send them", "Publish without naming anyone")


def commands() -> str:
    parts = [README.split(f"\n## {section}\n", 1)[1].split("\n## ", 1)[0] for section in SECTIONS]
    return "\n".join(block for part in parts for block in re.findall(r"^```sh\n(.*?)^```$", part, re.M | re.S))


@pytest.fixture(scope="module")
def checkout(tmp_path_factory):
    folder = tmp_path_factory.mktemp("publishing") / "checkout"
    (folder / ".venv/bin").mkdir(parents=True)
    for name in ("hoofcohort", "snakemake"):
        script = folder / ".venv/bin" / name
        script.write_text(f'#!/bin/sh\nexec "{sys.executable}" -m {name} "$@"\n')
        script.chmod(0o755)
    for part in ("Snakefile", "workflow", "src", "synthetic_data"):
        (folder / part).symlink_to(ROOT / part)
    shutil.copytree(ROOT / "config", folder / "config")
    return folder


def run(checkout, script):
    environment = {"PATH": "/usr/bin:/bin", "PYTHONPATH": str(checkout / "src"), "HOME": str(checkout)}
    return subprocess.run(
        ["bash", "-euc", script], cwd=checkout, env=environment, text=True, capture_output=True, timeout=240
    )


def true_names(checkout):
    rows = list(csv.DictReader((checkout / "inbox/horses.csv").read_text(encoding="utf-8").splitlines()))
    return {row[column] for row in rows for column in ("horse_id", "yard_id", "owner_id")} - {""}


def test_the_readmes_commands_publish_a_report_that_names_nobody(checkout):
    done = run(checkout, commands())
    assert done.returncode == 0, done.stdout + done.stderr
    release = checkout / "reports/to-publish"
    assert re.search(r" 0 found, 0 places not checked, [1-9]\d* files with rows of single horses$", done.stdout)
    assert "WARNING data/horses.parquet: " in done.stdout
    horses = pd.read_parquet(release / "data/horses.parquet")
    assert len(horses) > 20
    assert not set(horses[["horse_id", "yard_id", "owner_id"]].to_numpy().ravel()) & true_names(checkout)
    last = commands().strip().splitlines()[-1]
    plant = max(true_names(checkout), key=len)
    with (release / "report.html").open("a", encoding="utf-8") as page:
        page.write(f"<p>{plant}</p>")
    assert run(checkout, last).returncode == 1

"""One finished run of a small copy of the project, shared by the tests of the workflow."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
import yaml

ROOT = Path(__file__).parents[2]
PARTS = ["Snakefile", "workflow", "config", "synthetic_data", "src"]
FOLDER = "project with a blank"


@dataclass(frozen=True)
class Checkout:
    """A copy of the project in which snakemake can be run.

    Attributes
    ----------
    path : Path
        The copy's folder.
    """

    path: Path

    def copy(self, folder: Path) -> Checkout:
        return Checkout(shutil.copytree(self.path, folder / FOLDER))

    def environment(self) -> dict[str, str]:
        """Nothing on PATH but the system, as when no environment is activated; the package is the copy's own."""
        return {"PATH": "/usr/bin:/bin", "PYTHONPATH": str(self.path / "src"), "HOME": str(self.path)}

    def command(self, *arguments: str) -> list[str]:
        return [sys.executable, "-m", "snakemake", "--cores", "2", *arguments]

    def snakemake(self, *arguments: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            self.command(*arguments), cwd=self.path, env=self.environment(), text=True, capture_output=True, timeout=240
        )

    def jobs(self, *arguments: str) -> list[str]:
        """Run snakemake and return its jobs' messages, sorted."""
        done = self.snakemake(*arguments)
        assert done.returncode == 0, done.stderr
        return sorted(re.findall(r"^Job \d+: (.*)$", done.stderr + done.stdout, flags=re.MULTILINE))

    def write_plan(self, name: str, plan: dict[str, Any]) -> None:
        (self.path / "config" / name).write_text(yaml.safe_dump(plan, sort_keys=False), encoding="utf-8")

    def read_plan(self, name: str) -> dict[str, Any]:
        return yaml.safe_load((self.path / "config" / name).read_text(encoding="utf-8"))

    def results(self, study: str) -> dict[str, bytes]:
        """Every file of a study but its logs and its benchmarks."""
        folder = self.path / "reports" / study
        return {
            name: path.read_bytes()
            for path in sorted(folder.rglob("*"))
            if path.is_file()
            and (name := path.relative_to(folder).as_posix()).split("/")[0] not in ("logs", "benchmarks")
            and path.name != ".snakemake_timestamp"
        }


def lay_out(folder: Path) -> Checkout:
    """Copy the project and put two small plans into it: `two-outcomes` and `one-outcome`."""
    folder.mkdir()
    for part in PARTS:
        source = ROOT / part
        copy = shutil.copytree if source.is_dir() else shutil.copy2
        copy(source, folder / part)
    checkout = Checkout(folder)
    demo = checkout.read_plan("demo.yaml")
    primary = [name for name, outcome in demo["outcomes"].items() if outcome["role"] == "primary"]
    for study, names in {"two-outcomes": primary[:2], "one-outcome": primary[:1]}.items():
        outcomes = {name: demo["outcomes"][name] for name in names}
        checkout.write_plan(f"{study}.yaml", {**demo, "study": study, "outcomes": outcomes})
    (folder / "config/config.yaml").write_text("plans: [config/two-outcomes.yaml, config/one-outcome.yaml]\n")
    return checkout


@pytest.fixture(scope="session")
def template(tmp_path_factory: pytest.TempPathFactory) -> Checkout:
    """The copy that all others are copies of, so that all have the same code."""
    return lay_out(tmp_path_factory.mktemp("template") / FOLDER)


@pytest.fixture(scope="session")
def first_run(template: Checkout, tmp_path_factory: pytest.TempPathFactory) -> Checkout:
    """A copy in which both studies have been run; only to be looked at."""
    checkout = template.copy(tmp_path_factory.mktemp("first"))
    done = checkout.snakemake()
    assert done.returncode == 0, done.stderr
    return checkout


@pytest.fixture
def fresh(template: Checkout, tmp_path: Path) -> Checkout:
    """A copy, the test's own, in which nothing has been run."""
    return template.copy(tmp_path)


@pytest.fixture
def finished(first_run: Checkout, tmp_path: Path) -> Checkout:
    """A copy, the test's own, in which both studies have been run."""
    return first_run.copy(tmp_path)

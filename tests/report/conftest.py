"""A small run without and with its report."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from small_run import make_run, stage


@pytest.fixture(scope="session")
def run_before_report(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of a run that has everything but its report; not to be written into."""
    return make_run(tmp_path_factory.mktemp("report"))


@pytest.fixture(scope="session")
def reported(run_before_report: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of the same run with its report."""
    folder = tmp_path_factory.mktemp("reported") / "run"
    shutil.copytree(run_before_report, folder)
    stage("report", "--run-dir", folder)
    return folder


@pytest.fixture(scope="session")
def page(reported: Path) -> str:
    """The report's page."""
    return (reported / "report.html").read_text(encoding="utf-8")

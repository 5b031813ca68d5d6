"""The digests by which a rule sees that its code or its settings have changed."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from hoofcohort.workflow import PACKAGE, digest, source_digest

ROOT = Path(__file__).parents[2]
STAGES = ["check-plan", "intake", "derive", "fit-outcome", "report"]


@pytest.fixture
def package(tmp_path):
    return Path(shutil.copytree(PACKAGE, tmp_path / "hoofcohort", ignore=shutil.ignore_patterns("__pycache__")))


@pytest.mark.parametrize(
    ("file", "stages"),
    [
        ("errors.py", STAGES),
        ("tables/__init__.py", ["check-plan", "intake", "fit-outcome", "report"]),
        ("models/fit.py", ["fit-outcome", "report"]),
        ("commands/derive.py", ["derive"]),
        ("commands/model.py", []),
    ],
)
def test_a_change_reaches_the_stages_that_use_the_file(package, file, stages):
    before = {stage: source_digest(stage, package) for stage in STAGES}
    with (package / file).open("a") as source:
        source.write("# changed\n")
    assert [stage for stage in STAGES if source_digest(stage, package) != before[stage]] == stages


@pytest.mark.parametrize("name", ["new.html", "new.csv"])
def test_a_template_or_table_belongs_to_the_stage_whose_modules_lie_beside_it(package, name):
    before = {stage: source_digest(stage, package) for stage in STAGES}
    (package / "report" / name).write_text("<p>")
    assert [stage for stage in STAGES if source_digest(stage, package) != before[stage]] == ["report"]


def test_digest_is_of_the_value_not_of_the_order_of_its_keys():
    # sha256sum of the seven bytes {"a":1}
    assert digest({"a": 1}) == "015abd7f5cc57a2dd94b7590f04ad8084273905ee33ec5cebeae62276a97f862"
    assert digest({"a": 1, "b": [1, 2]}) == digest({"b": [1, 2], "a": 1})
    assert digest({"a": [1, 2]}) != digest({"a": [2, 1]})


def test_what_the_snakefile_reads_imports_no_heavy_library():
    code = (
        "import sys; from hoofcohort.calibration.cells import cells; from hoofcohort.workflow import load_studies; "
        "print(list(load_studies({'plans': 'config/demo.yaml'}))); "
        "print({'pandas', 'numpy', 'scipy', 'matplotlib', 'pandera', 'pyarrow'} & set(sys.modules))"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert done.stdout.splitlines() == ["['heels-and-frogs']", "set()"]

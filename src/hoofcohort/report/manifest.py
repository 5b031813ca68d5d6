"""What the report was made from: versions, and the SHA-256 of every file that went in or came out."""

from __future__ import annotations

import platform
from collections.abc import Mapping, Sequence
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

from hoofcohort import __version__
from hoofcohort.files import sha256_of
from hoofcohort.plan import Plan

PACKAGES = (
    "numpy",
    "scipy",
    "pandas",
    "pyarrow",
    "pandera",
    "statsmodels",
    "matplotlib",
    "seaborn",
    "jinja2",
    "pydantic",
)


def versions() -> dict[str, str]:
    """Return the versions of this program, of Python and of the packages that numbers and drawings depend on."""
    found = {"hoofcohort": __version__, "python": platform.python_version()}
    for name in PACKAGES:
        try:
            found[name] = version(name)
        except PackageNotFoundError:
            found[name] = "not installed"
    return found


def input_hashes(folder: Path, names: Sequence[str], plan: Plan) -> list[dict[str, str]]:
    """Return name and SHA-256 of the study's own files, where they can still be read, and of the run's files used.

    A CSV file that has gone since the intake is listed without a hash.
    """
    own = [plan.data.horses, plan.data.management, plan.data.feet, plan.cutoffs]
    rows = [{"file": name, "role": "input", "sha256": _hash(Path(name))} for name in own]
    return rows + [{"file": name, "role": "run", "sha256": _hash(folder / name)} for name in names]


def _hash(path: Path) -> str:
    return sha256_of(path) if path.is_file() else "not found"


def manifest(study: str, inputs: Sequence[Mapping[str, str]], outputs: Mapping[str, str]) -> dict[str, Any]:
    """Return the manifest.

    Parameters
    ----------
    study : str
    inputs : sequence of mapping
        As from ``input_hashes``.
    outputs : mapping
        Name to SHA-256 of every file that the report wrote.
    """
    return {
        "study": study,
        "versions": versions(),
        "inputs": [dict(row) for row in inputs],
        "outputs": [{"file": name, "sha256": outputs[name]} for name in sorted(outputs)],
    }

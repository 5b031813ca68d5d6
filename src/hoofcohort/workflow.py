"""What the Snakefile needs to know before any job starts: the studies, and what each stage is made of.

Kept light on purpose: Snakemake reads it at every start, so pandas and the like are not imported here.
"""

from __future__ import annotations

import ast
import hashlib
import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from hoofcohort.errors import HoofcohortError, PlanError, nearest
from hoofcohort.inbox.configured import INBOX_TABLES
from hoofcohort.plan import Plan, load_plan

PACKAGE = Path(__file__).parent
CONFIG_KEYS = ("plans", "inbox", "inbox_as_of")
DATA_FILES = (".css", ".csv", ".html", ".yaml")


@dataclass(frozen=True)
class Study:
    """One study of a run.

    Attributes
    ----------
    path : str
        The plan's file, as the configuration names it.
    plan : Plan
        The validated plan.
    settings : dict of str to str
        For each outcome, the digest of everything that its fit takes from the plan.
    """

    path: str
    plan: Plan
    settings: Mapping[str, str]

    @property
    def outcomes(self) -> list[str]:
        """The outcomes' names, in the plan's order."""
        return list(self.plan.outcomes)

    @property
    def as_of_option(self) -> list[str]:
        """The intake's option for the day after which no date may lie, when the plan names one."""
        return ["--as-of", str(self.plan.data.as_of)] if self.plan.data.as_of else []


def load_studies(config: Mapping[str, Any]) -> dict[str, Study]:
    """Read every plan that the workflow's configuration lists.

    Parameters
    ----------
    config : mapping
        The merged configuration; ``plans`` lists the plans' files.

    Returns
    -------
    dict of str to Study
        By the study's name, in the configuration's order.

    Raises
    ------
    PlanError
        With the faults of all plans and of the configuration together.
    """
    studies: dict[str, Study] = {}
    faults = [
        f"config: unknown key '{key}'; allowed: {', '.join(CONFIG_KEYS)}{nearest(key, CONFIG_KEYS)}"
        for key in config
        if key not in CONFIG_KEYS
    ]
    for path in _plan_paths(config):
        try:
            plan = load_plan(path, check_files=True, made=INBOX_TABLES)
        except HoofcohortError as error:
            faults.append(str(error))
            continue
        if "inbox" not in config and {plan.data.horses, plan.data.management, plan.data.feet} & set(INBOX_TABLES):
            faults.append(f"{path}: data: comes from an inbox; name it for this run: --config inbox=FOLDER")
        if plan.study in studies:
            faults.append(
                f"{path}: study '{plan.study}' is also the study of {studies[plan.study].path}; "
                "two plans cannot write the same folder: give one of them another name"
            )
            continue
        settings = {name: digest(plan.for_outcome(name).model_dump(mode="json")) for name in plan.outcomes}
        studies[plan.study] = Study(path, plan, settings)
    if faults:
        raise PlanError("\n".join(faults))
    return studies


def digest(value: Any) -> str:
    """Return the SHA-256 of a JSON value in canonical form: keys sorted, no blanks."""
    return hashlib.sha256(json.dumps(value, sort_keys=True, separators=(",", ":")).encode()).hexdigest()


def source_digest(command: str, package: Path = PACKAGE) -> str:
    """Return the SHA-256 of the text of every module that a command can reach, and of the data files beside them.

    Parameters
    ----------
    command : str
        A subcommand's name, e.g. ``fit-outcome``.
    package : Path
        The folder of the package's source.

    Notes
    -----
    Snakemake does not look inside an imported package: a rule that carries this digest runs again when its code
    changes.
    """
    files = _reachable(f"{package.name}.commands.{command.replace('-', '_')}", package.parent)
    folders = {path.parent for path in files} - {package}
    files |= {path for folder in folders for path in folder.iterdir() if path.suffix in DATA_FILES}
    whole = hashlib.sha256()
    for path in sorted(files):
        whole.update(f"{path.relative_to(package).as_posix()}\n".encode())
        whole.update(hashlib.sha256(path.read_bytes()).digest())
    return whole.hexdigest()


def _plan_paths(config: Mapping[str, Any]) -> Sequence[str]:
    plans = config.get("plans")
    paths = [plans] if isinstance(plans, str) else plans
    if not isinstance(paths, list) or not paths or not all(isinstance(path, str) for path in paths):
        raise PlanError(f"config: plans: found {plans!r}; give a list of plan files, e.g. plans: [config/demo.yaml]")
    return paths


def _reachable(start: str, root: Path) -> set[Path]:
    """Follow the import statements from one module, those inside functions too, through the modules under ``root``."""
    top = start.partition(".")[0]
    found: set[Path] = set()
    waiting = [start]
    seen: set[str] = set()
    while waiting:
        name = waiting.pop()
        if name in seen or name.partition(".")[0] != top:
            continue
        seen.add(name)
        waiting.append(name.rpartition(".")[0] or top)
        path = _module_file(name, root)
        if path:
            found.add(path)
            waiting.extend(_imported(ast.parse(path.read_text(encoding="utf-8"))))
    return found


def _module_file(name: str, root: Path) -> Path | None:
    stem = root.joinpath(*name.split("."))
    candidates = (stem.with_suffix(".py"), stem / "__init__.py")
    return next((path for path in candidates if path.is_file()), None)


def _imported(tree: ast.AST) -> Iterator[str]:
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            yield node.module
            yield from (f"{node.module}.{alias.name}" for alias in node.names)

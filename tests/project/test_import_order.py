"""Packages import only those above them in DEVELOPERS.md's map, wherever in a module the import stands."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).parents[2]
SOURCE = ROOT / "src/hoofcohort"
FOR_ALL = ("errors", "files")
TOGETHER = {"plan", "planning"}
"""One step of two parts that import each other."""
ONLY_ERRORS = "models"
ENTRY = "__main__"
"""Programs started by hand, below everything."""


def mapped() -> list[str]:
    """Return the packages in the order of the map."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    table = text.split("## The map")[1].split("## ")[0]
    return [name.removesuffix(".py").rstrip("/") for name in re.findall(r"^\| `([a-z_./]+)` \|", table, flags=re.M)]


def packages() -> set[str]:
    found = {path.name for path in SOURCE.iterdir() if (path / "__init__.py").exists()}
    return found | {path.stem for path in SOURCE.glob("*.py") if not path.stem.startswith("__")}


def imported(path: Path) -> Iterator[str]:
    """Yield the packages of the project that a module imports, inside functions too."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        names: list[str] = []
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: imports in the project are absolute"
            names = [f"{node.module}.{alias.name}" for alias in node.names]
        for name in names:
            top, _, rest = name.partition(".")
            if top == SOURCE.name and rest and rest != "__version__":
                yield rest.split(".")[0]


def allowed(package: str, order: list[str]) -> set[str]:
    if package == ONLY_ERRORS:
        return {package, "errors"}
    if package in FOR_ALL:
        return {package, *FOR_ALL}
    above = set(order[: order.index(package)]) if package in order else set(order)
    return {package, *FOR_ALL} | above | (TOGETHER if package in TOGETHER else set())


def faults(modules: dict[str, set[str]], order: list[str]) -> list[str]:
    return [
        f"{name} imports {other}"
        for name, others in modules.items()
        for other in sorted(others - allowed(name.split("/")[0].removesuffix(".py"), order))
    ]


def test_the_map_names_every_package():
    order = mapped()
    assert len(order) == len(set(order))
    assert set(order) == packages() - set(FOR_ALL) - {"cli"}


def test_every_package_imports_only_those_above_it():
    modules = {
        path.relative_to(SOURCE).as_posix(): set(imported(path))
        for path in sorted(SOURCE.rglob("*.py"))
        if path.stem != ENTRY
    }
    assert sum(map(len, modules.values())) > 100
    assert faults(modules, mapped()) == []


def test_an_import_from_below_is_found():
    order = mapped()
    wrong = {
        "tables/feet.py": {"study"},
        "models/fit.py": {"tables"},
        "plan.py": {"planning"},
        "study/fits.py": {"plan"},
    }
    assert faults(wrong, order) == ["tables/feet.py imports study", "models/fit.py imports tables"]

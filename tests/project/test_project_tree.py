"""What must hold of the files in the checkout themselves."""

from __future__ import annotations

import re
import subprocess
import tomllib
from pathlib import Path

import pytest
import yaml

import hoofcohort
from hoofcohort import cli

ROOT = Path(__file__).parents[2]
TOP_LEVEL = {
    ".ci",
    ".gitignore",
    "CITATION.cff",
    "DEVELOPERS.md",
    "LICENSE",
    "README.md",
    "Snakefile",
    "config",
    "pyproject.toml",
    "reports",
    "requirements-dev.lock",
    "requirements.lock",
    "src",
    "synthetic_data",
    "tests",
    "workflow",
}
# Whose addresses may stand in a tracked file: identifiers of publications and schemas, and the projects we build on.
KNOWN_HOSTS = {
    "creativecommons.org",
    "doi.org",
    "json-schema.org",
    "snakemake.github.io",
    "specs.frictionlessdata.io",
    "www.w3.org",
}
RULE_KEYS = ["input", "output", "params", "log", "benchmark", "threads", "message", "shell"]


def tracked_files() -> list[Path]:
    done = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True)
    if done.returncode:
        pytest.skip("not a git checkout: there is no list of tracked files")
    return [path for name in done.stdout.split("\0") if name and (path := ROOT / name).is_file()]


def text_of(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8")
    except UnicodeDecodeError:
        return ""


def pins(lock: str) -> dict[str, tuple[str, int]]:
    """Read a lock file: for each requirement its version and how many hashes it carries."""
    entries = re.split(r"\n(?=[a-z0-9])", "\n" + (ROOT / lock).read_text())
    found = [re.match(r"\n?([a-z0-9._-]+)(?:\[[^]]*\])?==([^ ;\\]+)", entry) for entry in entries if entry.strip()]
    assert all(found), "every requirement is pinned with =="
    sizes = [len(re.findall(r"--hash=sha256:[0-9a-f]{64}", entry)) for entry in entries if entry.strip()]
    return {match[1]: (match[2], size) for match, size in zip(found, sizes, strict=True) if match}


@pytest.mark.parametrize("lock", ["requirements.lock", "requirements-dev.lock"])
def test_locks_carry_hashes_and_no_addresses(lock):
    assert all(size > 0 for _, size in pins(lock).values())
    text = (ROOT / lock).read_text()
    assert "://" not in text
    assert not re.search(r"^\s*-(?!-hash=)", text, flags=re.MULTILINE), "no option but --hash"


def test_the_dev_lock_extends_the_lock_and_both_cover_the_project():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    run, dev = pins("requirements.lock"), pins("requirements-dev.lock")
    assert run.items() <= dev.items()
    assert {re.split(r"[><=\[]", need)[0] for need in project["dependencies"]} <= run.keys()
    assert {re.split(r"[><=\[]", need)[0] for need in project["optional-dependencies"]["dev"]} <= dev.keys()


def test_top_level_is_as_fixed():
    assert {path.relative_to(ROOT).parts[0] for path in tracked_files()} == TOP_LEVEL


def test_tracked_files_name_no_machine_and_no_registry():
    faults = []
    for path in tracked_files():
        text = text_of(path)
        faults += [f"{path.name}: {hit[0]}" for hit in re.finditer(r"/(?:home|root|work|Users)/[\w.]+", text)]
        faults += [f"{path.name}: {hit[0]}" for hit in re.finditer(r"--(?:extra-)?index[-]url|--find[-]links", text)]
        hosts = re.findall(r"https?://([\w.-]+)", text)
        faults += [f"{path.name}: {host}" for host in hosts if host not in KNOWN_HOSTS]
    assert faults == []


def test_no_results_of_a_run_are_tracked():
    kept = {
        path.relative_to(ROOT).parts[:2] for path in tracked_files() if path.relative_to(ROOT).parts[0] == "reports"
    }
    assert kept <= {("reports", "README.md"), ("reports", "screenshots")}


def test_the_version_is_the_same_everywhere():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    citation = yaml.safe_load((ROOT / "CITATION.cff").read_text())
    assert project["version"] == citation["version"] == hoofcohort.__version__
    changes = (ROOT / "DEVELOPERS.md").read_text().split("\n## Changes\n", 1)[1]
    assert re.findall(r"^### (\S+)", changes, flags=re.MULTILINE)[0] == hoofcohort.__version__


def rules() -> dict[str, str]:
    texts = {path.stem: path.read_text() for path in sorted((ROOT / "workflow/rules").glob("*.smk"))}
    return {name: text[re.search(r"^rule ", text, flags=re.MULTILINE).start() :] for name, text in texts.items()}


def test_the_snakefile_is_short_and_only_gathers():
    text = (ROOT / "Snakefile").read_text()
    assert text.count("\n") < 60
    assert re.findall(r"^rule (\w+)", text, flags=re.MULTILINE) == ["all"]
    assert set(re.findall(r'^include: "workflow/rules/(\w+)\.smk"', text, flags=re.MULTILINE)) == set(rules())


@pytest.mark.parametrize("name", ["plan", "intake", "derive", "fit", "report"])
def test_a_rule_has_its_keys_in_order_and_drives_the_command_of_its_name(name):
    rule = rules()[name]
    assert rule.count("\nrule ") == 0
    assert re.findall(r"^    (\w+):", rule, flags=re.MULTILINE) == RULE_KEYS
    assert re.match(r'rule \w+:\n    """.+"""\n', rule)
    command = re.search(r"^rule (\w+)", rule)[1].replace("_", "-")
    shell = rule[rule.index("    shell:") :]
    assert command in cli.COMMANDS
    assert f'"hoofcohort {command} ' in shell
    assert all(value.endswith(":q") for value in re.findall(r"{([^}]*)}", shell))


def test_every_command_has_its_module():
    modules = {path.stem.replace("_", "-") for path in (ROOT / "src/hoofcohort/commands").glob("[a-z]*.py")}
    assert modules == set(cli.COMMANDS)

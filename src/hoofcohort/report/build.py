"""From a run's folder to the report: the page, its figures and tables as files, and the manifest."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path

from hoofcohort.files import write_files_atomic
from hoofcohort.report.blocks import FigureBlock, Part, TableBlock, walk
from hoofcohort.report.manifest import input_hashes, manifest, versions
from hoofcohort.report.page import render
from hoofcohort.report.run_folder import read_run
from hoofcohort.report.sections import facts, sections

OWN_FOLDERS = {"figures": "*.svg", "tables": "*.csv"}
"""Folders that hold nothing but what the report writes."""


def write_report(folder: Path, page: Path) -> list[Path]:
    """Write the report of a run: all files or none.

    Parameters
    ----------
    folder : Path
        The run's folder; figures, tables and the manifest go there.
    page : Path
        Where the page goes.

    Returns
    -------
    list of Path
        The files written, the page first. Figures and tables of an earlier report that are not among them are removed.
    """
    run = read_run(folder)
    hashes = input_hashes(folder, run.inputs, run.plan)
    parts = sections(run, hashes, versions())
    beside = attachments(parts)
    outputs = {name: hashlib.sha256(text.encode()).hexdigest() for name, text in beside.items()}
    record = manifest(run.plan.study, hashes, outputs)
    texts = {page: render(run.plan, facts(run), parts)} | {folder / name: text for name, text in beside.items()}
    texts[folder / "manifest.json"] = json.dumps(record, indent=1, ensure_ascii=False) + "\n"
    write_files_atomic({path: _writer(text) for path, text in texts.items()})
    _remove_stale(folder, list(texts))
    return list(texts)


def attachments(parts: Sequence[Part]) -> dict[str, str]:
    """Return name and text of every figure and table of the page, as files of their own."""
    found: dict[str, str] = {}
    for block in walk(parts):
        if isinstance(block, FigureBlock):
            found |= {f"figures/{panel.name}.svg": panel.svg for panel in block.figure.panels}
        elif isinstance(block, TableBlock):
            found[f"tables/{block.sheet.name}.csv"] = block.sheet.to_csv()
    return found


def _writer(text: str) -> Callable[[Path], None]:
    return partial(_write, data=text.encode())


def _write(path: Path, data: bytes) -> None:
    path.write_bytes(data)


def _remove_stale(folder: Path, written: Sequence[Path]) -> None:
    for name, pattern in OWN_FOLDERS.items():
        for path in sorted((folder / name).glob(pattern)):
            if path not in written:
                path.unlink()

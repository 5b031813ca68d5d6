"""Which files of a member's folder are mappings, and of which files.

Imports nothing heavy: the workflow reads it too.
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path, PurePath

MAPPING = "mapping.yaml"
"""A mapping for all files of a folder; ``<file>.`` goes before it for one of them, ``<file>.<sheet>.`` for a sheet."""
MISNAMED = (
    f"a mapping that belongs to no file; name it {MAPPING} for all files, <file>.{MAPPING} for one of them or "
    f"<file>.<sheet>.{MAPPING} for one of its sheets"
)


def is_mapping(path: Path) -> bool:
    """Tell whether a file is a mapping, by its name, rightly named or not: members send no such files."""
    return path.suffix.casefold() in (".yaml", ".yml")


def own_mappings(folder: Path, file: str) -> list[Path]:
    """Return a folder's mappings for one file: the file's, with or without its ending, then its sheets'."""
    if not folder.is_dir():
        return []
    names = sorted(path.name for path in folder.iterdir() if path.name.endswith(f".{MAPPING}") and path.is_file())
    whole = [f"{name}.{MAPPING}" for name in (file, PurePath(file).stem)]
    sheets = [name for name in names if name.startswith(f"{file}.") and name not in whole]
    return [folder / name for name in (*whole, *sheets) if name in names]


def belongs(mapping: str, files: Iterable[str]) -> bool:
    """Tell whether a mapping of this name is one for all files or for one of those named."""
    starts = tuple(start for file in files for start in (f"{file}.", f"{PurePath(file).stem}.{MAPPING}"))
    return mapping == MAPPING or (mapping.endswith(f".{MAPPING}") and mapping.startswith(starts))

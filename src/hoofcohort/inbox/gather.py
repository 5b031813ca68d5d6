"""Find what lies in an inbox: ``INBOX/<round>/<member>/<files>``, mappings beside the files."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from pathlib import Path

from hoofcohort.errors import HoofcohortError, InputError
from hoofcohort.inbox.member import Part, read_parts
from hoofcohort.mapping.mapping import Mapping, load_mapping

MAPPING = "mapping.yaml"


def gather(inbox: Path, as_of: dt.date | None = None) -> list[Part]:
    """Read every file of an inbox, in the order of rounds, members and files; one bad file never stops the rest.

    Raises
    ------
    InputError
        When there is no round in the folder.
    """
    if not inbox.is_dir():
        raise InputError(f"{inbox}: there is no such folder; name the folder that holds the rounds")
    rounds = _folders(inbox)
    if not rounds:
        raise InputError(f"{inbox}: holds no round; put the files into {inbox.name}/<round>/<member>/")
    parts: list[Part] = []
    for place, folder in enumerate(rounds):
        for member in _folders(folder):
            for path in _files(member):
                parts += _read(path, rounds[: place + 1], as_of)
    return parts


def _folders(folder: Path) -> list[Path]:
    return sorted(path for path in folder.iterdir() if path.is_dir() and not path.name.startswith("."))


def _files(folder: Path) -> Iterator[Path]:
    for path in sorted(folder.iterdir()):
        mapping = path.name == MAPPING or path.name.endswith("." + MAPPING)
        if path.is_file() and not mapping and not path.name.startswith((".", "~$")):
            yield path


def _read(path: Path, rounds: list[Path], as_of: dt.date | None) -> list[Part]:
    member, round_name = path.parent.name, rounds[-1].name
    try:
        mappings = find_mappings(path.name, [folder / member for folder in reversed(rounds)])
    except HoofcohortError as error:
        return [Part(round_name, member, path.name, refused=str(error).replace(f"{path.parent}/", ""))]
    return read_parts(path, mappings, round_name, member, as_of)


def find_mappings(name: str, folders: list[Path]) -> list[Mapping]:
    """Return the mappings for a file: its own before its member's, those of this round before earlier ones'."""
    paths = [folder / f"{name}.{MAPPING}" for folder in folders] + [folder / MAPPING for folder in folders]
    return [load_mapping(path) for path in paths if path.is_file()]

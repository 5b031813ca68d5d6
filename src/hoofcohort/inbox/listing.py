"""Which files lie in an inbox, and which mappings may be theirs; imports nothing heavy: the workflow reads it too."""

from __future__ import annotations

import hashlib
import os
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from hoofcohort.errors import InputError
from hoofcohort.inbox.names import round_order

MAPPING = "mapping.yaml"
_LONGEST = 80
"""Letters of a part's name before its digest."""


@dataclass(frozen=True)
class Source:
    """One file that a member sent.

    Attributes
    ----------
    path : Path
    round, member : str
    folders : tuple of Path
        The member's folders in this round and the rounds before, the latest first.
    """

    path: Path
    round: str
    member: str
    folders: tuple[Path, ...]

    @property
    def mappings(self) -> list[Path]:
        """The files of mappings for it: its own before its member's, those of this round before earlier ones'."""
        own = [folder / f"{self.path.name}.{MAPPING}" for folder in self.folders]
        return [path for path in (*own, *(folder / MAPPING for folder in self.folders)) if path.is_file()]

    @property
    def part(self) -> str:
        """A name for what is made of it: different for different files, letters and signs that any system takes."""
        whole = "/".join((self.round, self.member, self.path.name))
        readable = re.sub(r"[^A-Za-z0-9]+", "-", whole).strip("-")[:_LONGEST]
        return f"{readable}-{hashlib.sha256(os.fsencode(whole)).hexdigest()[:16]}"


def list_inbox(inbox: Path) -> list[Source]:
    """Return every file of an inbox, in the order of rounds, members and files.

    Raises
    ------
    InputError
        When there is no round in the folder.
    """
    if not inbox.is_dir():
        raise InputError(f"{inbox}: there is no such folder; name the folder that holds the rounds")
    rounds = sorted(_folders(inbox), key=lambda path: round_order(path.name))
    if not rounds:
        raise InputError(f"{inbox}: holds no round; put the files into {inbox.name}/<round>/<member>/")
    sources = []
    for place, folder in enumerate(rounds):
        for member in _folders(folder):
            folders = tuple(one / member.name for one in reversed(rounds[: place + 1]))
            sources += [Source(path, folder.name, member.name, folders) for path in _files(member)]
    return sources


def _folders(folder: Path) -> list[Path]:
    return sorted(path for path in folder.iterdir() if path.is_dir() and not path.name.startswith("."))


def _files(folder: Path) -> Iterator[Path]:
    for path in sorted(folder.iterdir()):
        mapping = path.name == MAPPING or path.name.endswith("." + MAPPING)
        if path.is_file() and not mapping and not path.name.startswith((".", "~$")):
            yield path

"""Which files lie in an inbox, and which mappings may be theirs; imports nothing heavy: the workflow reads it too."""

from __future__ import annotations

import hashlib
import os
import re
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from hoofcohort.errors import InputError
from hoofcohort.inbox.mapping_files import MAPPING, MISNAMED, belongs, is_mapping, own_mappings
from hoofcohort.inbox.names import round_order, same_name
from hoofcohort.sheets.file_bytes import plain_name

CONSENT = "consent.csv"
_OF_THE_INBOX = (CONSENT, "README.md")
_OUTSIDE = "it lies in no member's folder; put it into <round>/<member>/"
_BADLY_NAMED = "the folder's name holds signs that no name should; rename it"
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
        own = [path for folder in self.folders for path in own_mappings(folder, self.path.name)]
        return [*own, *(path for folder in self.folders if (path := folder / MAPPING).is_file())]

    @property
    def part(self) -> str:
        """A name for what is made of it: different for different files, letters and signs that any system takes."""
        whole = "/".join((self.round, self.path.parent.name, self.path.name))
        readable = re.sub(r"[^A-Za-z0-9]+", "-", whole).strip("-")[:_LONGEST]
        return f"{readable}-{hashlib.sha256(os.fsencode(whole)).hexdigest()[:16]}"


@dataclass(frozen=True)
class Unread:
    """Something in an inbox that is not read, and why; ``member`` is empty when it lies in no member's folder."""

    round: str
    member: str
    file: str
    why: str


def list_inbox(inbox: Path) -> list[Source]:
    """Return every file of an inbox, in the order of rounds, members and files.

    A member is known by the folder's name in the first round: without case, in any Unicode form.

    Raises
    ------
    InputError
        When there is no round in the folder.
    """
    sources: list[Source] = []
    seen: dict[str, tuple[str, tuple[Path, ...]]] = {}
    for folder in _rounds(inbox):
        for member in _members(folder):
            name, before = seen.get(same_name(member.name), (unicodedata.normalize("NFC", member.name), ()))
            seen[same_name(member.name)] = name, (member, *before)
            sources += [Source(path, folder.name, name, (member, *before)) for path in _files(member)]
    return sources


def list_unread(inbox: Path) -> list[Unread]:
    """Return what lies in an inbox but is not read, in order; hidden files and those of an open workbook are left out.

    Raises
    ------
    InputError
        When there is no round in the folder.
    """
    rounds = _rounds(inbox)
    found = [Unread("", "", plain_name(path), _BADLY_NAMED if path.is_dir() else _OUTSIDE)
             for path in _shown(inbox) if path not in rounds and path.name not in _OF_THE_INBOX]  # fmt: skip
    names: dict[str, str] = {}
    files: dict[str, set[str]] = {}
    for source in list_inbox(inbox):
        files.setdefault(same_name(source.member), set()).add(source.path.name)
    for folder in rounds:
        members = _members(folder)
        for path in members:
            names.setdefault(same_name(path.name), unicodedata.normalize("NFC", path.name))
            found += [Unread(folder.name, "", f"{plain_name(path)}/{plain_name(one)}", MISNAMED)
                      for one in _shown(path) if one.is_file() and is_mapping(one)
                      and not belongs(one.name, files.get(same_name(path.name), ()))]  # fmt: skip
        for path in _shown(folder):
            name = names.get(same_name(path.name), "") if path.is_dir() else ""
            if path in members:
                found += [Unread(folder.name, name, *one) for one in _unread_of(path)]
            elif name:
                why = f"a second folder of the round differs from '{name}' in capitals alone; put all files into one"
                found += [Unread(folder.name, name, f"{plain_name(path)}/{plain_name(one)}", why)
                          for one in _shown(path)]  # fmt: skip
            else:
                found.append(Unread(folder.name, "", plain_name(path), _BADLY_NAMED if path.is_dir() else _OUTSIDE))
    return found


def _unread_of(member: Path) -> Iterator[tuple[str, str]]:
    for path in _shown(member):
        if path.is_dir():
            inside = sum(1 for one in path.rglob("*") if not one.is_dir())
            said = f"it is a folder with {inside} file{'' if inside == 1 else 's'}"
            yield f"{plain_name(path)}/", f"{said}; put files into the member's folder itself"
        elif not path.exists():
            yield plain_name(path), "it is a link to nothing; put the file itself there"
        elif not path.is_file():
            yield plain_name(path), "it is no ordinary file; put a file there"


def _rounds(inbox: Path) -> list[Path]:
    if not inbox.is_dir():
        raise InputError(f"{inbox}: there is no such folder; name the folder that holds the rounds")
    rounds = [path for path in _shown(inbox) if path.is_dir() and _well_named(path)]
    if not rounds:
        raise InputError(f"{inbox}: holds no round; put the files into {inbox.name}/<round>/<member>/")
    return sorted(rounds, key=lambda path: round_order(path.name))


def _members(folder: Path) -> list[Path]:
    """Return the members' folders, of those whose names differ in capitals alone the first."""
    members: dict[str, Path] = {}
    for path in _shown(folder):
        if path.is_dir() and _well_named(path):
            members.setdefault(same_name(path.name), path)
    return list(members.values())


def _well_named(path: Path) -> bool:
    return path.name.isprintable()


def _shown(folder: Path) -> list[Path]:
    return sorted(path for path in folder.iterdir() if not path.name.startswith((".", "~$")))


def _files(folder: Path) -> Iterator[Path]:
    for path in _shown(folder):
        if path.is_file() and not is_mapping(path):
            yield path

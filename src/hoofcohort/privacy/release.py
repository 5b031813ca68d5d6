"""Search everything that is to be published for anything private."""

from __future__ import annotations

import base64
import os
from bisect import bisect_right
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from hoofcohort.errors import InputError
from hoofcohort.privacy.columns import csv_columns, faulty_cells, holds_rows
from hoofcohort.privacy.forms import POSSIBLY
from hoofcohort.privacy.lookup import Lookup
from hoofcohort.privacy.named import Named
from hoofcohort.privacy.patterns import find_patterns
from hoofcohort.privacy.private_values import Originals, Private
from hoofcohort.privacy.unpack import Unpacked, unpack
from hoofcohort.privacy.views import views

_WIDEST = 60
"""Characters from a name's begin within which its surname is taken for a part of it."""


@dataclass(frozen=True, order=True)
class Finding:
    """Something private in a release.

    Attributes
    ----------
    file : str
        Inside the release.
    what : str
        The private column, or what it looks like.
    shown : str
        The value, masked.
    place : str
        Where it stands first.
    times : int
    """

    file: str
    what: str
    shown: str
    place: str
    times: int = 1


@dataclass
class Checked:
    """What came of a search.

    Attributes
    ----------
    findings : list of Finding
    unseen : list of (place, reason)
        What could not be looked at.
    rows : list of str
        Files with a row for each horse or reading: whoever knows the horse may find it there.
    files : int
        That were searched.
    """

    findings: list[Finding] = field(default_factory=list)
    unseen: list[tuple[str, str]] = field(default_factory=list)
    rows: list[str] = field(default_factory=list)
    files: int = 0


def check_release(folder: str | Path, originals: Originals, key: bytes | None = None) -> Checked:
    """Search every file of a release, its name included.

    Parameters
    ----------
    folder : path
        A folder, or one file.
    originals : Originals
    key : bytes, optional
        The secret key, which must not be in the release either.

    Raises
    ------
    InputError
        When there is nothing to search.
    """
    root, checked = Path(folder), Checked()
    lookup, named = Lookup([*originals.values, *originals.forms]), Named(originals.short)
    spellings = key_spellings(key) if key else []
    for path in _files(root, checked):
        name = path.name if root.is_file() else path.relative_to(root).as_posix()
        found: dict[tuple[str, str, str], Finding] = {}
        _search(name, "the file's name", lookup, named, _adder(found, name))
        if path.is_symlink():
            _search(os.readlink(path), "the link's target", lookup, named, _adder(found, name))
        if not path.is_file():
            checked.findings += sorted(found.values())
            continue
        try:
            unpacked = unpack(path.read_bytes())
        except OSError as error:
            checked.unseen.append((name, f"cannot be read ({error.strerror})"))
            continue
        if _search_file(unpacked, lookup, named, spellings, _adder(found, name)):
            checked.rows.append(name)
        checked.unseen += [(f"{name} {place}".strip(), reason) for place, reason in unpacked.unseen]
        checked.findings += sorted(found.values())
        checked.files += 1
    if not checked.files and not checked.unseen:
        raise InputError(f"{root}: holds no file; name the folder that is to be published")
    return checked


def _files(root: Path, checked: Checked) -> Iterator[Path]:
    if root.is_file():
        yield root
        return
    if not root.is_dir():
        raise InputError(f"{root}: no such folder; name what is to be published")
    for path in sorted(root.rglob("*")):
        if path.is_symlink() and path.is_dir():
            checked.unseen.append((path.relative_to(root).as_posix(), "is a link to a folder; put the files there"))
        elif not path.is_dir() and not path.is_file():
            checked.unseen.append((path.relative_to(root).as_posix(), "is no file that can be read"))
        if path.is_symlink() or not path.is_dir() or not any(path.iterdir()):
            yield path


Add = Callable[[str, str, str], None]


def _adder(found: dict[tuple[str, str, str], Finding], name: str) -> Add:
    def add(what: str, text: str, place: str) -> None:
        held = found.get((name, what, text))
        times = held.times + 1 if held else 1
        found[name, what, text] = Finding(name, what, masked(text), held.place if held else place, times)

    return add


def masked(text: str) -> str:
    """Return a value's first character and its length: enough to find it, too little to publish it."""
    return f"{text[:1]}{'*' * min(len(text) - 1, 7)} ({len(text)} characters)"


def _search_file(unpacked: Unpacked, lookup: Lookup, named: Named, spellings: Iterable[str], add: Add) -> bool:
    """Search all that a file holds, and tell whether it holds rows of single horses."""
    rows = False
    for place, data in unpacked.raw:
        at = next((at for one in spellings if (at := data.find(one.encode("latin-1"))) >= 0), None)
        if at is not None:
            add("the key", "secret", f"{place} byte {at}".strip())
    for place, text in unpacked.texts:
        _search(text, place, lookup, named, add)
        rows = _search_columns(text, csv_columns(text), place, named, add) or rows
        if any(spelling in text for spelling in spellings):
            add("the key", "secret", place or "the text")
    for place, columns in unpacked.tables:
        rows = _search_columns("", columns, place, named, add) or rows
    return rows


def _search_columns(text: str, columns: Mapping[str, Sequence[str]], place: str, named: Named, add: Add) -> bool:
    for what, value, where in faulty_cells(columns, named):
        add(what, value, f"{place} {where}".strip())
    return holds_rows(text, columns)


def _search(text: str, place: str, lookup: Lookup, named: Named, add: Add) -> None:
    """Search a text in every way in which it can be read; what one way shows again counts once."""
    seen: dict[tuple[str, str], list[tuple[int, str]]] = {}
    for number, view in enumerate(views(text)):
        own: dict[tuple[str, str], list[tuple[int, str]]] = {}
        for at, value in _certain_first(lookup.find(view)):
            own.setdefault((value.column, " ".join(value.words)), []).append((at, view))
        for at, column, match in named.find(view):
            own.setdefault((column, match), []).append((at, view))
        if number < 2:
            for at, what, match in find_patterns(view):
                own.setdefault((what, match), []).append((at, view))
        for key, hits in own.items():
            if len(hits) > len(seen.get(key, ())):
                seen[key] = hits
    for (what, match), hits in seen.items():
        for at, view in hits:
            line = view.count("\n", 0, at) + 1 if len(hits) < 100 or at == hits[0][0] else 0
            add(what, match, f"{place} line {line}".strip())


def _certain_first(hits: Iterable[tuple[int, Private]]) -> Iterator[tuple[int, Private]]:
    """Leave out what may be a name where the whole name, or the value itself, has been found."""
    every = sorted(hits, key=lambda hit: hit[0])
    certain = [at for at, value in every if not value.column.startswith(POSSIBLY)]
    for at, value in every:
        before = bisect_right(certain, at)
        if not value.column.startswith(POSSIBLY) or not before or at - certain[before - 1] > _WIDEST:
            yield at, value


def key_spellings(key: bytes) -> list[str]:
    """Return the ways in which a key may be written: as bytes, in hexadecimal, and in base64 inside anything."""
    found = [key.decode("latin-1"), key.hex(), key.hex().upper()]
    for before in range(3):
        whole = base64.b64encode(b"\0" * before + key).decode("ascii")
        core = whole[4 if before else 0 :].rstrip("=")[: -1 or None]
        found += [core, core.translate(str.maketrans("+/", "-_"))]
    return found

"""Search everything that is to be published for anything private."""

from __future__ import annotations

import base64
import csv
import io
import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from hoofcohort.errors import InputError
from hoofcohort.privacy.lookup import Lookup
from hoofcohort.privacy.patterns import CONTACT_COLUMN, find_patterns
from hoofcohort.privacy.private_values import Originals
from hoofcohort.privacy.pseudonyms import PATTERN
from hoofcohort.privacy.unpack import Unpacked, unpack
from hoofcohort.privacy.views import views
from hoofcohort.tables import TABLES

PSEUDONYMS = {column.name for table in TABLES.values() for column in table.columns if column.private == "pseudonym"}
REMOVED = {column.name for table in TABLES.values() for column in table.columns if column.private == "remove"}
_SEPARATORS = ",;\t|"


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
    """What came of a search: findings, what could not be looked at, and how many files were."""

    findings: list[Finding] = field(default_factory=list)
    unseen: list[tuple[str, str]] = field(default_factory=list)
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
    root, checked, lookup = Path(folder), Checked(), Lookup(originals.values)
    spellings = key_spellings(key) if key else []
    for path in _files(root, checked):
        name = path.name if root.is_file() else path.relative_to(root).as_posix()
        found: dict[tuple[str, str, str], Finding] = {}
        _search(name, "the file's name", lookup, _adder(found, name))
        try:
            unpacked = unpack(path.read_bytes())
        except OSError as error:
            checked.unseen.append((name, f"cannot be read ({error.strerror})"))
            continue
        _search_file(unpacked, lookup, spellings, _adder(found, name))
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
        elif not path.is_dir():
            if path.is_file():
                yield path
            else:
                checked.unseen.append((path.relative_to(root).as_posix(), "is no file that can be read"))


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


def _search_file(unpacked: Unpacked, lookup: Lookup, spellings: Iterable[str], add: Add) -> None:
    for place, data in unpacked.raw:
        at = next((at for one in spellings if (at := data.find(one.encode("latin-1"))) >= 0), None)
        if at is not None:
            add("the key", "secret", f"{place} byte {at}".strip())
    for place, text in unpacked.texts:
        _search(text, place, lookup, add)
        _search_columns(_csv_columns(text), place, add)
        if any(spelling in text for spelling in spellings):
            add("the key", "secret", place or "the text")
    for place, columns in unpacked.tables:
        _search_columns(columns, place, add)


def _search(text: str, place: str, lookup: Lookup, add: Add) -> None:
    """Search a text in every way in which it can be read; what one way shows again counts once."""
    seen: dict[tuple[str, str], list[tuple[int, str]]] = {}
    for number, view in enumerate(views(text)):
        own: dict[tuple[str, str], list[tuple[int, str]]] = {}
        for at, value in lookup.find(view):
            own.setdefault((value.column, " ".join(value.words)), []).append((at, view))
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


def _csv_columns(text: str) -> Mapping[str, list[str]]:
    """Return the columns of a text that is a table with a private or contact column in its header; else none."""
    head = text[:10_000].lstrip("\ufeff").split("\n", 1)[0]
    names = re.split(rf"[{_SEPARATORS}]", head)
    if not any(_of_interest(name.strip().strip('"')) for name in names):
        return {}
    separator = max(_SEPARATORS, key=head.count)
    rows = csv.reader(io.StringIO(text.lstrip("\ufeff"), newline=""), delimiter=separator)
    try:
        header = [name.strip() for name in next(rows)]
        wanted: dict[int, set[str]] = {at: set() for at, name in enumerate(header) if _of_interest(name)}
        for row in rows:
            for at, values in wanted.items():
                if at < len(row):
                    values.add(row[at].strip())
    except csv.Error:
        return {name.strip(): ["?"] for name in names}
    return {header[at]: sorted(values - {""}) for at, values in wanted.items()}


def _of_interest(name: str) -> bool:
    return name in PSEUDONYMS or name in REMOVED or bool(CONTACT_COLUMN.fullmatch(name))


def _search_columns(columns: Mapping[str, list[str]], place: str, add: Add) -> None:
    """Find private columns that hold anything but pseudonyms, whatever the originals hold."""
    for name, values in columns.items():
        filled = [value for value in values if value]
        if name in PSEUDONYMS:
            for value in filled:
                if not PATTERN.fullmatch(value):
                    add(f"column {name} without a pseudonym", value, f"{place} column {name}".strip())
        elif filled and (name in REMOVED or CONTACT_COLUMN.fullmatch(name)):
            add("a column that is never published", name, f"{place} column {name}".strip())


def key_spellings(key: bytes) -> list[str]:
    """Return the ways in which a key may be written: as bytes, in hexadecimal, and in base64 inside anything."""
    found = [key.decode("latin-1"), key.hex(), key.hex().upper()]
    for before in range(3):
        whole = base64.b64encode(b"\0" * before + key).decode("ascii")
        core = whole[4 if before else 0 :].rstrip("=")[: -1 or None]
        found += [core, core.translate(str.maketrans("+/", "-_"))]
    return found

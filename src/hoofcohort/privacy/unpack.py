"""From a file's bytes to every text in it: archives opened, pictures' notes read, tables turned into text."""

from __future__ import annotations

import bz2
import gzip
import io
import lzma
import re
import struct
import tarfile
import zipfile
import zlib
from dataclasses import dataclass, field
from typing import Any

from hoofcohort.privacy.decode import GUESSES, decode, readings, runs
from hoofcohort.privacy.encoded import bare, set_apart
from hoofcohort.privacy.pictures import read_notes
from hoofcohort.privacy.tabular import read_parquet, read_workbook

DEEPEST = 5
"""Archives inside archives that are opened; the project's own limit."""
LARGEST = 500_000_000
"""Bytes unpacked from one file, at most; the project's own limit."""
_PACKED = {b"\x1f\x8b": gzip, b"BZh": bz2, b"\xfd7zXZ\x00": lzma}

_DESCRIPTOR = 24
"""Bytes of sums that may follow an entry in a ZIP archive."""


@dataclass
class Unpacked:
    """What a file holds.

    Attributes
    ----------
    texts : list of (place, text)
        ``place`` is empty for the file itself.
    tables : list of (place, columns)
        Of tables with typed columns: name to its different values as text.
    raw : list of (place, bytes)
        The bytes themselves, packed and unpacked.
    unseen : list of (place, reason)
        What could not be looked at.
    """

    texts: list[tuple[str, str]] = field(default_factory=list)
    tables: list[tuple[str, dict[str, list[str]]]] = field(default_factory=list)
    raw: list[tuple[str, bytes]] = field(default_factory=list)
    unseen: list[tuple[str, str]] = field(default_factory=list)
    left: int = LARGEST


def unpack(data: bytes) -> Unpacked:
    """Return everything in a file's bytes."""
    found = Unpacked()
    _open(data, "", found, 0)
    return found


def _open(data: bytes, place: str, found: Unpacked, depth: int) -> None:
    found.raw.append((place, data))
    found.left -= len(data)
    if depth > DEEPEST or found.left < 0:
        found.unseen.append((place, "is packed too deeply or unpacks to too much"))
        return
    packed = next((module for start, module in _PACKED.items() if data.startswith(start)), None)
    try:
        if packed is not None:
            if packed is gzip:
                found.texts += [(f"{place} header".strip(), text) for text in readings(_gzip_header(data))]
            _open(_limited(packed.open(io.BytesIO(data)), found), f"{place} unpacked", found, depth + 1)
        elif data.startswith((b"PK\x03\x04", b"PK\x05\x06")):
            _zip(data, place, found, depth)
        elif data[257:262] == b"ustar":
            _tar(data, place, found, depth)
        elif data.startswith(b"PAR1"):
            read_parquet(data, place, found)
        elif data.startswith(b"\x89PNG\r\n\x1a\n"):
            _png(data, place, found, depth)
        elif data.startswith(b"%PDF"):
            _pdf(data, place, found)
        else:
            _text(data, place, found, depth)
    except Exception as error:  # a broken file breaks its reader in any way, and must then not pass as clean
        found.unseen.append((place, f"cannot be read ({type(error).__name__})"))


def _limited(stream: Any, found: Unpacked) -> bytes:
    data = stream.read(max(found.left, 0) + 1)
    if len(data) > found.left:
        raise OverflowError
    return data


def _gzip_header(data: bytes) -> bytes:
    """Return the name, the comment and the extra field that gzip stores (RFC 1952)."""
    at, flags = 10, data[3]
    if flags & 4:
        at += 2 + int.from_bytes(data[at : at + 2], "little")
    for flag in (8, 16):
        if flags & flag:
            at = data.index(b"\0", at) + 1
    return data[10:at]


def _zip(data: bytes, place: str, found: Unpacked, depth: int) -> None:
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        found.texts += [(f"{place} comment".strip(), text) for text in readings(archive.comment)]
        _outside(data, archive, place, found)
        for member in archive.infolist():
            inside = f"{place} > {member.filename}".strip()
            found.texts.append((f"{inside} (its name)", f"{member.filename}\n{member.orig_filename}"))
            for note in (member.comment, member.extra, _local_extra(data, member)):
                found.texts += [(f"{inside} (its notes)", text) for text in readings(note) if text]
            if member.flag_bits & 1:
                found.unseen.append((inside, "is encrypted"))
            elif not member.is_dir():
                with archive.open(member) as stream:
                    _open(_limited(stream, found), inside, found, depth + 1)
        workbook = "xl/workbook.xml" in archive.namelist()
    if workbook:
        read_workbook(data, place, found)


def _local_extra(data: bytes, member: zipfile.ZipInfo) -> bytes:
    at = member.header_offset
    name, extra = struct.unpack("<HH", data[at + 26 : at + 30])
    return data[at + 30 + name : at + 30 + name + extra]


def _outside(data: bytes, archive: zipfile.ZipFile, place: str, found: Unpacked) -> None:
    """Search the bytes between and after an archive's entries, where nothing has to be."""
    at = 0
    gaps = []
    for member in sorted(archive.infolist(), key=lambda one: one.header_offset):
        gaps.append(data[at : member.header_offset])
        name, extra = struct.unpack("<HH", data[member.header_offset + 26 : member.header_offset + 30])
        at = member.header_offset + 30 + name + extra + member.compress_size
    gaps.append(data[at : archive.start_dir])
    end = data.rfind(b"PK\x05\x06") + 22 + len(archive.comment)
    gaps.append(data[end:])
    texts = [text for gap in gaps if len(gap) > _DESCRIPTOR for text in readings(gap)]
    if texts:
        found.unseen.append((place, "is an archive with bytes outside of its entries; pack it again"))
        found.texts += [(f"{place} outside of the entries".strip(), text) for text in texts]


def _tar(data: bytes, place: str, found: Unpacked, depth: int) -> None:
    with tarfile.open(fileobj=io.BytesIO(data)) as archive:
        for member in archive:
            inside = f"{place} > {member.name}".strip()
            found.texts.append((f"{inside} (its name)", _tar_notes(member)))
            if (stream := archive.extractfile(member)) is not None:
                _open(_limited(stream, found), inside, found, depth + 1)
        after = data[archive.offset :].lstrip(b"\0")
    if after:
        _open(after, f"{place} after the archive's end".strip(), found, depth + 1)


def _tar_notes(member: tarfile.TarInfo) -> str:
    further = [f"{name}\n{value}" for name, value in member.pax_headers.items()]
    return "\n".join((member.name, member.uname, member.gname, member.linkname, *further))


def _png(data: bytes, place: str, found: Unpacked, depth: int) -> None:
    notes = read_notes(data)
    found.texts += [(f"{place} note in the picture".strip(), text) for text in notes.texts]
    found.unseen += [(place, f"holds a chunk {kind!r} that no standard knows") for kind in notes.strange]
    if notes.after:
        _open(notes.after, f"{place} after the picture".strip(), found, depth + 1)


def _pdf(data: bytes, place: str, found: Unpacked) -> None:
    """Read what can be read; text in a PDF may be drawn letter by letter, so it never counts as wholly looked at."""
    texts = [data.decode("latin-1")]
    for match in re.finditer(rb"stream\r?\n(.*?)endstream", data, flags=re.DOTALL):
        try:
            texts.append(zlib.decompressobj().decompress(match.group(1), LARGEST // 10).decode("latin-1"))
        except zlib.error:
            continue
    for text in texts:
        found.texts.append((f"{place} text of the PDF", text))
        if "\xfe\xff" in text:
            found.texts.append((f"{place} text of the PDF", text.replace("\0", "")))
    found.unseen.append((place, "a PDF's pages cannot be read with certainty; publish HTML or SVG, or look yourself"))


def _text(data: bytes, place: str, found: Unpacked, depth: int) -> None:
    decoded = decode(data)
    if decoded is None:
        found.unseen.append((place, "is of a kind that cannot be read; leave it out of the release"))
        found.texts += [(place, runs(data)), (place, runs(data.replace(b"\0", b"")))]
        return
    if decoded.others:
        found.unseen.append((place, f"is not UTF-8; searched as {', '.join(GUESSES)}, but write it as UTF-8"))
        found.texts += [(f"{place} read as {name}".strip(), text) for name, text in decoded.others]
    text = decoded.text
    if text.startswith("{\\rtf"):
        found.unseen.append((place, "is RTF, whose text may be split in ways not looked through; publish HTML"))
    plain, embedded = set_apart(text)
    found.texts.append((place, plain))
    for number, inner in enumerate(embedded, start=1):
        inside = f"{place} embedded file {number}".strip()
        if inner is None:
            found.unseen.append((inside, "cannot be decoded"))
        else:
            _open(inner, inside, found, depth + 1)
    for at, inner in bare(plain):
        inside = f"{place} line {plain.count(chr(10), 0, at) + 1} decoded".strip()
        decoded = decode(inner)
        if decoded and decoded.others:  # letters that may mean nothing: searched, but no file that could be in doubt
            found.texts += [(inside, text) for text in readings(inner)]
        else:
            _open(inner, inside, found, depth + 1)

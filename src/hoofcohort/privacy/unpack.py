"""From a file's bytes to every text in it: archives opened, pictures' notes read, tables turned into text."""

from __future__ import annotations

import base64
import binascii
import bz2
import gzip
import io
import lzma
import re
import struct
import tarfile
import zipfile
import zlib
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from hoofcohort.privacy.decode import GUESSES, decode, runs

DEEPEST = 5
"""Archives inside archives that are opened; the project's own limit."""
LARGEST = 500_000_000
"""Bytes unpacked from one file, at most; the project's own limit."""
_EMBEDDED = re.compile(r"data:[\w/+.-]*(?:;[\w=.-]+)*;base64,([A-Za-z0-9+/=%\s]+)")
_PACKED = {b"\x1f\x8b": gzip, b"BZh": bz2, b"\xfd7zXZ\x00": lzma}


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
            _open(_limited(packed.open(io.BytesIO(data)), found), f"{place} unpacked", found, depth + 1)
        elif data.startswith((b"PK\x03\x04", b"PK\x05\x06")):
            _zip(data, place, found, depth)
        elif data[257:262] == b"ustar":
            _tar(data, place, found, depth)
        elif data.startswith(b"PAR1"):
            _parquet(data, place, found)
        elif data.startswith(b"\x89PNG\r\n\x1a\n"):
            found.texts += [(f"{place} note in the picture", text) for text in _png(data)]
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


def _zip(data: bytes, place: str, found: Unpacked, depth: int) -> None:
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        found.texts.append((f"{place} comment", archive.comment.decode("latin-1")))
        for member in archive.infolist():
            inside = f"{place} > {member.filename}".strip()
            found.texts.append((f"{inside} (its name)", member.filename))
            if member.flag_bits & 1:
                found.unseen.append((inside, "is encrypted"))
            elif not member.is_dir():
                with archive.open(member) as stream:
                    _open(_limited(stream, found), inside, found, depth + 1)
        workbook = "xl/workbook.xml" in archive.namelist()
    if workbook:
        _workbook(data, place, found)


def _workbook(data: bytes, place: str, found: Unpacked) -> None:
    """Read a workbook's sheets as tables, so that numbers stand as they are seen, whatever their cells' XML holds."""
    import openpyxl

    for sheet in openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=True).worksheets:
        rows = [[_as_text(cell) for cell in row] for row in sheet.iter_rows(values_only=True)]
        if rows:
            wide = max(map(len, rows))
            columns = [[row[at] for row in rows if at < len(row)] for at in range(wide)]
            inside = f"{place} sheet {sheet.title}".strip()
            found.tables.append((inside, {column[0]: sorted(set(column[1:])) for column in columns}))
            found.texts.append((inside, "\n".join(";".join(row) for row in rows)))


def _tar(data: bytes, place: str, found: Unpacked, depth: int) -> None:
    with tarfile.open(fileobj=io.BytesIO(data)) as archive:
        for member in archive:
            inside = f"{place} > {member.name}".strip()
            found.texts.append((f"{inside} (its name)", f"{member.name}\n{member.uname}\n{member.linkname}"))
            if (stream := archive.extractfile(member)) is not None:
                _open(_limited(stream, found), inside, found, depth + 1)


def _parquet(data: bytes, place: str, found: Unpacked) -> None:
    import pyarrow.parquet as pq

    table = pq.read_table(io.BytesIO(data))
    columns = {name: _distinct(table.column(at)) for at, name in enumerate(table.column_names)}
    notes = [part.decode("utf-8", "replace") for pair in (table.schema.metadata or {}).items() for part in pair]
    found.tables.append((place, columns))
    found.texts.append((f"{place} schema", "\n".join([str(table.schema), *notes])))
    found.texts += [(f"{place} column {name}".strip(), "\n".join(values)) for name, values in columns.items()]


def _distinct(column: Any) -> list[str]:
    """Return a column's different values as text, whole numbers without a point; what is nested, as written out."""
    return sorted({_as_text(value) for value in column.to_pandas().dropna().tolist()})


def _as_text(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    return value.decode("utf-8", "replace") if isinstance(value, bytes) else str(value)


def _png(data: bytes) -> Iterator[str]:
    at = 8
    while at + 8 <= len(data):
        (length,), kind = struct.unpack(">I", data[at : at + 4]), data[at + 4 : at + 8]
        body = data[at + 8 : at + 8 + length]
        if len(body) < length:
            raise EOFError
        if kind == b"zTXt":
            name, _, rest = body.partition(b"\0")
            yield f"{name.decode('latin-1')}\n{zlib.decompress(rest[1:]).decode('latin-1')}"
        elif kind == b"iTXt":
            yield from _international(body)
        elif kind in (b"tEXt", b"eXIf"):
            yield body.decode("latin-1").replace("\0", "\n")
        elif kind == b"IEND":
            if data[at + 12 :].strip(b"\0"):
                yield data[at + 12 :].decode("latin-1")
            return
        at += 12 + length
    raise EOFError


def _international(body: bytes) -> Iterator[str]:
    name, _, rest = body.partition(b"\0")
    language, title, text = rest[2:].split(b"\0", 2)
    text = zlib.decompress(text) if rest[:1] == b"\1" else text
    yield b"\n".join((name, language, title, text)).decode("utf-8", "replace")


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
    embedded: list[tuple[str, bytes]] = []

    def set_apart(match: re.Match[str]) -> str:
        inside = f"{place} embedded file {len(embedded) + 1}".strip()
        try:
            inner = base64.b64decode(re.sub(r"\s|%0A", "", match.group(1)), validate=True)
        except (binascii.Error, ValueError):
            found.unseen.append((inside, "cannot be decoded"))
            return match.group()
        embedded.append((inside, inner))
        return "data:" + "\n" * match.group().count("\n")

    found.texts.append((place, _EMBEDDED.sub(set_apart, text)))
    for inside, inner in embedded:
        _open(inner, inside, found, depth + 1)

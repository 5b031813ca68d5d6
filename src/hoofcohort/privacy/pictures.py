"""The notes that a PNG picture carries beside its dots."""

from __future__ import annotations

import struct
import zlib
from dataclasses import dataclass, field

from hoofcohort.privacy.decode import readings

_DRAWING = {b"IHDR", b"PLTE", b"IDAT", b"IEND", b"tRNS", b"gAMA", b"cHRM", b"sRGB", b"sBIT", b"bKGD", b"hIST", b"pHYs",
            b"tIME", b"acTL", b"fcTL", b"fdAT", b"cICP"}  # fmt: skip
"""Chunks that hold nothing but numbers for drawing (W3C, Portable Network Graphics, third edition, section 11)."""
_NOTES = {b"tEXt", b"zTXt", b"iTXt", b"eXIf", b"iCCP", b"sPLT"}


@dataclass
class Notes:
    """What a picture holds beside its dots.

    Attributes
    ----------
    texts : list of str
    strange : list of str
        Kinds of chunks that no standard knows; what of them can be text is in ``texts``.
    after : bytes
        What follows the picture's end.
    """

    texts: list[str] = field(default_factory=list)
    strange: list[str] = field(default_factory=list)
    after: bytes = b""


def read_notes(data: bytes) -> Notes:
    """Read a PNG's notes.

    Raises
    ------
    EOFError
        When the picture is cut off.
    zlib.error
        When a packed note is broken.
    """
    notes, at = Notes(), 8
    while at + 8 <= len(data):
        (length,), kind = struct.unpack(">I", data[at : at + 4]), data[at + 4 : at + 8]
        body = data[at + 8 : at + 8 + length]
        if len(body) < length:
            raise EOFError
        if kind not in _DRAWING:
            notes.texts += [text for part in _parts(kind, body) for text in readings(part)]
            if kind not in _NOTES:
                notes.strange.append(kind.decode("latin-1"))
        at += 12 + length
        if kind == b"IEND":
            notes.after = data[at:].lstrip(b"\0")
            return notes
    raise EOFError


def _parts(kind: bytes, body: bytes) -> list[bytes]:
    name, _, rest = body.partition(b"\0")
    if kind in (b"zTXt", b"iCCP"):
        return [name, zlib.decompress(rest[1:])]
    if kind == b"iTXt":
        language, title, text = rest[2:].split(b"\0", 2)
        return [name, language, title, zlib.decompress(text) if rest[:1] == b"\1" else text]
    return [body]

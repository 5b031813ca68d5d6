"""Files and texts that stand in a text as base64 or hexadecimal digits."""

from __future__ import annotations

import base64
import binascii
import re
from collections.abc import Iterator

_EMBEDDED = re.compile(r"data:([\w/+.-]*(?:;[\w.-]+(?:=(?:\"[^\"]*\"|[\w.-]+))?)*);base64,([A-Za-z0-9+/=%\s]+)", re.I)
_BASE64 = re.compile(
    r"(?<![A-Za-z0-9+/_=-])(?:[A-Za-z0-9+/_-]{60,}(?:\r?\n[A-Za-z0-9+/_-]+)+|[A-Za-z0-9+/_-]{10,})={0,2}"
    r"(?![A-Za-z0-9+/_=-])"
)
_HEX = re.compile(r"(?<![0-9A-Za-z])(?:[0-9a-fA-F]{2}){6,}(?![0-9A-Za-z])")
_OPENED = (b"PK\x03\x04", b"\x1f\x8b", b"\x89PNG", b"BZh", b"\xfd7zXZ\x00", b"PAR1", b"%PDF")
_CONTROL = re.compile("[\0-\x08\x0e-\x1f\x7f-\x9f]")


def set_apart(text: str) -> tuple[str, list[bytes | None]]:
    """Return a text without the files in its ``data:`` addresses, and these; None for one that cannot be decoded."""
    embedded: list[bytes | None] = []

    def taken(match: re.Match[str]) -> str:
        try:
            embedded.append(base64.b64decode(re.sub(r"\s|%0A", "", match.group(2)), validate=True))
        except (binascii.Error, ValueError):
            embedded.append(None)
            return match.group()
        return f"data:{match.group(1)}" + "\n" * match.group().count("\n")

    return _EMBEDDED.sub(taken, text), embedded


def bare(text: str) -> Iterator[tuple[int, bytes]]:
    """Yield place and content of whatever in a text is base64 or hexadecimal of a text, or of a file that is opened."""
    for match in _BASE64.finditer(text):
        letters = re.sub(r"\s", "", match.group()).translate(str.maketrans("-_", "+/")).rstrip("=")
        if len(letters) % 4 == 1:
            continue
        data = base64.b64decode(letters + "=" * (-len(letters) % 4))
        if data.startswith(_OPENED) or _is_text(data):
            yield match.start(), data
    for match in _HEX.finditer(text):
        data = bytes.fromhex(match.group())
        if data.startswith(_OPENED) or _is_text(data):
            yield match.start(), data


def _is_text(data: bytes) -> bool:
    wide = data[1::2].count(0) * 4 > len(data)
    try:
        text = data.decode("utf-16-le" if wide else "utf-8")
    except UnicodeDecodeError:
        text = data.decode("latin-1")
        if sum(letter.isascii() for letter in text) < 0.8 * len(text):
            return False
    return not _CONTROL.search(text)

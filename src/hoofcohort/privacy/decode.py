"""From bytes to text, in every way in which they may be meant."""

from __future__ import annotations

import re
from dataclasses import dataclass

_MARKED = {b"\xef\xbb\xbf": "utf-8-sig", b"\xff\xfe\0\0": "utf-32", b"\0\0\xfe\xff": "utf-32",
           b"\xff\xfe": "utf-16", b"\xfe\xff": "utf-16"}  # fmt: skip
GUESSES = ("cp1252", "cp850", "mac_roman", "cp1250", "cp1251", "shift_jis", "gb18030", "cp500")
"""Encodings that bytes are tried in when they are not UTF-8; any text may be another."""
_PRINTED = re.compile(rb"[\x20-\x7e\x80-\xff]{4,}")
_CONTROL = re.compile("[\0-\x08\x0e-\x1f]")


@dataclass(frozen=True)
class Decoded:
    """Bytes as text.

    Attributes
    ----------
    text : str
    others : list of (encoding, text)
        Where the encoding is not certain: the lines in doubt as others would have them, in their places.
    """

    text: str
    others: list[tuple[str, str]]


def decode(data: bytes) -> Decoded | None:
    """Return bytes as text: by their mark, as UTF-8, UTF-16, or in doubt in several ways; None when they are no text.

    Raises
    ------
    UnicodeDecodeError
        When they are not in the encoding that their mark says.
    """
    for mark, name in _MARKED.items():
        if data.startswith(mark):
            return _checked(data.decode(name))
    even, odd = data[::2].count(0), data[1::2].count(0)
    if max(even, odd) > len(data) / 8:
        if len(data) % 2 or min(even, odd) * 4 > max(even, odd):
            return None
        return _checked(data.decode("utf-16-be" if even > odd else "utf-16-le"))
    try:
        return _checked(data.decode("utf-8"))
    except UnicodeDecodeError:
        return _guessed(data)


def _checked(text: str) -> Decoded | None:
    return None if _CONTROL.search(text) else Decoded(text, [])


def _guessed(data: bytes) -> Decoded | None:
    """Read each line as UTF-8 that is UTF-8; all others in every encoding of ``GUESSES``."""
    lines = data.split(b"\n")
    whole: list[str | None] = []
    for line in lines:
        try:
            whole.append(line.decode("utf-8"))
        except UnicodeDecodeError:
            whole.append(None)
    if any(text is not None and _CONTROL.search(text) for text in whole):
        return None
    others = []
    for name in GUESSES:
        pairs = zip(lines, whole, strict=True)
        read = [line.decode(name, "replace") if text is None else "" for line, text in pairs]
        others.append((name, "\n".join(read)))
    return Decoded("\n".join(text or "" for text in whole), others)


def readings(data: bytes) -> list[str]:
    """Return every text that a short note in a container may be: as UTF-8 or a guess, and as UTF-16 of either order."""
    decoded = [data.decode("utf-8", "replace"), data.decode("latin-1")]
    if any(data):
        wide = [data[at:].decode(name, "replace") for at in (0, 1) for name in ("utf-16-le", "utf-16-be")]
        decoded += wide if 0 in data else []
    return list(dict.fromkeys(text.replace("\0", "\n") for text in decoded))


def runs(data: bytes) -> str:
    """Return what looks like text among bytes of an unknown kind, a run of letters a line, each as UTF-8 or Latin-1."""
    found = []
    for run in _PRINTED.findall(data):
        try:
            found.append(run.decode("utf-8"))
        except UnicodeDecodeError:
            found.append(run.decode("latin-1"))
    return "\n".join(found)

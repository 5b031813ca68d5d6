"""From bytes to text: the encoding is found, and the lines that decide it are named."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from pathlib import Path

from hoofcohort.sheets.errors import UnreadableError
from hoofcohort.sheets.told import lines_said, shown

_MARKED = (
    (b"\xff\xfe\x00\x00", "utf-32", "UTF-32"),
    (b"\x00\x00\xfe\xff", "utf-32", "UTF-32"),
    (b"\xff\xfe", "utf-16", "UTF-16"),
    (b"\xfe\xff", "utf-16", "UTF-16"),
    (b"\xef\xbb\xbf", "utf-8-sig", "UTF-8"),
)
_LINES = re.compile(rb"[^\r\n]*(?:\r\n|\r|\n|$)")
_BEYOND = re.compile(rb"[\x80-\xff]")
_LETTERS = frozenset("äöüÄÖÜßàâæçèéêëîïôœùûÀÂÇÈÉÊËÎÏÔŒÙÛáíóúñÁÍÓÚÑåøÅØÆãõìò°²½±µ’‘“”–…€")
"""What Western European languages write beyond ASCII; decides between two one-byte encodings."""
_IN_WORDS = re.compile(rb"(?<=[A-Za-z])[\x80-\xff](?=[A-Za-z])")
_NO_LETTERS = frozenset(b"\x81\x82\x84\x88\x89\x8b\x8d\x93\x94\x95\x99")
"""Bytes that are quotation marks and other signs in Windows-1252, which stand in no word, and letters in DOS."""
_NO_TEXT = 0.02
"""Share of machine signs beyond which bytes are no text; the project's own choice."""
_WORD = re.compile(r"[^\W\d_]*[^\x00-\x7f]+[\w’'°]*")


@dataclass(frozen=True)
class Decoded:
    """A file's text, how it was decoded, and whether all its signs but line ends and tabs can be printed."""

    text: str
    said: tuple[str, ...]
    plain: bool = False


def decode(path: Path, data: bytes) -> Decoded:
    """Decode the bytes of a text file.

    Unicode when the bytes are valid Unicode; else a one-byte encoding of Western Europe, and the lines are named.

    Raises
    ------
    UnreadableError
        For bytes that are no text: NUL characters, too many machine signs, half a character.
    """
    found = _unicode(path, data)
    if found is None:
        found = _one_byte(data)
    plain = found.text.replace("\n", "").replace("\r", "").replace("\t", "").isprintable()
    if not plain:
        _refuse_no_text(path, found.text)
    return replace(found, plain=plain)


def _unicode(path: Path, data: bytes) -> Decoded | None:
    for mark, codec, name in _MARKED:
        if data.startswith(mark):
            try:
                return Decoded(data.decode(codec), (f"encoding: {name}",))
            except UnicodeDecodeError as error:
                if name == "UTF-8":
                    return None
                raise UnreadableError(
                    f"{path}: is marked as {name}, but byte {error.start + 1} is no character of it; save it "
                    "as CSV UTF-8"
                ) from None
    wide = [(codec, "UTF-16, without a mark")] if (codec := _wide(data)) else []
    for codec, name in (*wide, ("utf-8", "UTF-8")):
        try:
            return Decoded(data.decode(codec), (f"encoding: {name}",))
        except UnicodeDecodeError:
            continue
    return None


def _wide(data: bytes) -> str:
    """Return the codec of UTF-16 without a mark: every other byte of Western text is zero."""
    even, odd = data[0:400:2], data[1:400:2]
    if not odd:
        return ""
    low, high = odd.count(0) / len(odd), even.count(0) / len(even)
    return "utf-16-le" if low > 0.5 and high < 0.2 else "utf-16-be" if high > 0.5 and low < 0.2 else ""


def _one_byte(data: bytes) -> Decoded:
    data = data.removeprefix(b"\xef\xbb\xbf")
    lines = _LINES.findall(data)
    beyond = [(number, line) for number, line in enumerate(lines, start=1) if _BEYOND.search(line)]
    unicode = {number for number, line in beyond if _is_utf8(line)}
    codec, name = _codec(b"".join(line for number, line in beyond if number not in unicode), data)
    if unicode:
        text = "".join(
            line.decode("utf-8" if number in unicode else codec) for number, line in enumerate(lines, start=1)
        )
    else:
        text = data.decode(codec)
    others = [(number, line.decode(codec)) for number, line in beyond if number not in unicode]
    words = [word for _, line in others if (word := _WORD.search(line))][:3]
    told = f"encoding: {name}, because of {lines_said(number for number, _ in others)}"
    if words:
        told += f"; read as {', '.join(shown(word.group()) for word in words)}"
    if unicode:
        told += f"; {lines_said(sorted(unicode))} in UTF-8"
    return Decoded(text, (told,))


def _is_utf8(line: bytes) -> bool:
    try:
        line.decode("utf-8")
    except UnicodeDecodeError:
        return False
    return True


def _codec(beyond: bytes, data: bytes) -> tuple[str, str]:
    """Choose between one-byte encodings by the bytes of the lines that are no UTF-8."""
    if b"\n" in data and _is_dos(beyond):
        return "cp850", "DOS code page 850"
    candidates = [("cp1252", "Windows-1252")]
    if b"\n" not in data:
        candidates.append(("mac_roman", "Mac Roman"))
    scores: list[tuple[int, int, str, str]] = []
    for codec, name in candidates:
        try:
            text = b"".join(_BEYOND.findall(beyond)).decode(codec)
        except UnicodeDecodeError:
            continue
        scores.append((sum(sign in _LETTERS for sign in text), -len(scores), codec, name))
    if not scores:
        return "latin-1", "Latin-1"
    return max(scores)[2:]


def _is_dos(beyond: bytes) -> bool:
    """Tell whether bytes inside words are letters in the DOS code page alone: a spreadsheet's CSV (MS-DOS)."""
    inside = set(b"".join(_IN_WORDS.findall(beyond)))
    return bool(inside & _NO_LETTERS) and bytes(sorted(inside)).decode("cp850").isalpha()


def _refuse_no_text(path: Path, text: str) -> None:
    if "\0" in text:
        line = len(re.findall(r"\r\n|\r|\n", text[: text.index("\0")])) + 1
        raise UnreadableError(f"{path}, line {line}: holds a NUL character, so this is no text file; save it as CSV")
    signs = sum(text.count(chr(code)) for code in (*range(1, 9), *range(14, 32), *range(127, 160)))
    if signs > 2 and signs > _NO_TEXT * len(text):
        raise UnreadableError(f"{path}: holds {signs} signs that are no text, so this is no table; save it as CSV")
    if (bad := re.search("[\ud800-\udfff]", text)) is not None:
        line = text.count("\n", 0, bad.start()) + 1
        raise UnreadableError(f"{path}, line {line}: holds half a character; save it as CSV UTF-8")

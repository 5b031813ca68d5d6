"""The ways in which one text can be read: as it stands, and with its escapes and inline marks undone."""

from __future__ import annotations

import html
import re
from collections.abc import Iterator
from urllib.parse import unquote

_ESCAPE = re.compile(
    r"\\u\{([0-9a-fA-F]{1,6})\}|\\u([0-9a-fA-F]{4})|\\U([0-9a-fA-F]{8})|\\x([0-9a-fA-F]{2})|_x([0-9a-fA-F]{4})_"
)
_INLINE = re.compile(
    r"</?(?:a|b|i|u|s|em|strong|span|tspan|sub|sup|mark|small|big|wbr|font|code|kbd|samp|tt|var|bdi|bdo|abbr|ins|del|"
    r"q|cite|dfn|data|time|r|t|rPr|sz|color|rFont|family|scheme|charset)(?:\s[^<>]*)?/?>|<!--.*?-->",
    re.IGNORECASE | re.DOTALL,
)
_MARKS = re.compile(r"</?[A-Za-z!?][^<>]*>(?:\s*</?[A-Za-z!?][^<>]*>)*")
_HEADER = re.compile(r"<(?:odd|even|first)(?:Header|Footer)\b")
_HEADER_CODE = re.compile(r"&(?:\"[^\"]*\"|K[0-9A-F]{6}|\d{1,3}|[A-Z])")
"""What a workbook's header holds before its words: place, font, colour, size."""
_RTF = re.compile(r"\\'([0-9a-fA-F]{2})|\\u(-?\d{1,5}) ?\??|\\[a-zA-Z]+-?\d* ?|[{}\r\n]|\\([^a-zA-Z])")
PARTED = "\x02"
"""What stands in a view for marks that part one text from the next, such as two cells."""
_POWER = re.compile(r"\b(\d)\.(\d{8,14})[eE]\+?14\b")
"""How a spreadsheet writes a number of 15 digits, such as a microchip's."""
_QUOTED = re.compile(r"(?:%[0-9a-fA-F]{2})+")
_MAIL = re.compile(r"(?:=[0-9A-F]{2})+")
_UTF7 = re.compile(r"\+[A-Za-z0-9/+]{2,}-?")
_LOWER, _UPPER = "a-z\u00df-\u00f6\u00f8-\u00ff", "A-Z\u00c0-\u00d6\u00d8-\u00de"
_HUMP = re.compile(f"([{_LOWER}]{{2}})(?=[{_UPPER}][{_LOWER}])")
"""Where words run together that begin with capitals."""
_ROUNDS = 4


def views(text: str) -> Iterator[str]:
    """Yield the text, and where they differ: with escapes undone, without inline tags, and with the others as gaps."""
    yield text
    plain = text
    for _ in range(_ROUNDS):
        before = plain
        plain = _undone(plain)
        if plain == before:
            break
    if plain != text:
        yield plain
    bare = _INLINE.sub("", plain) if "<" in plain else plain
    if bare != plain:
        yield bare
    if "<" in plain:
        yield _MARKS.sub(lambda match: PARTED + "\n" * match.group().count("\n"), bare)
    if _HEADER.search(text):
        yield _HEADER_CODE.sub("", html.unescape(text))
    if text.startswith("{\\rtf"):
        yield _RTF.sub(_from_rtf, text)
    if _HUMP.search(plain):
        lines = plain.split("\n")
        yield "\n".join(_HUMP.sub(r"\1 ", line) if _HUMP.search(line) else "" for line in lines)
    mail = _as_mail(plain)
    if mail != plain:
        yield mail


def _from_rtf(match: re.Match[str]) -> str:
    byte, unit, sign = match.groups()
    if byte:
        return bytes.fromhex(byte).decode("cp1252", "replace")
    return chr(int(unit) % 0x10000) if unit else sign or ""


def _as_mail(text: str) -> str:
    """Return text with what mail makes of letters undone: quoted-printable, and UTF-7."""
    if "=" in text:
        text = _MAIL.sub(lambda match: _lenient(bytes.fromhex(match.group().replace("=", ""))), text)
        text = text.replace("=\n", "").replace("=\r\n", "")
    return _UTF7.sub(_from_utf7, text) if "+" in text else text


def _lenient(data: bytes) -> str:
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError:
        return data.decode("latin-1")


def _from_utf7(match: re.Match[str]) -> str:
    try:
        return match.group().encode("ascii").decode("utf-7")
    except UnicodeDecodeError:
        return match.group()


def _undone(text: str) -> str:
    if "\\" in text or "_x" in text:
        text = _ESCAPE.sub(lambda match: chr(min(int(match.group(match.lastindex or 0), 16), 0x10FFFF)), text)
        text = text.encode("utf-16", "surrogatepass").decode("utf-16", "replace")
    if "&" in text:
        text = html.unescape(text)
    text = _POWER.sub(lambda match: match.group(1) + match.group(2).ljust(14, "0"), text)
    return _QUOTED.sub(lambda match: unquote(match.group()), text)

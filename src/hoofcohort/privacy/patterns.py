"""What looks like a number of an animal or a person's contact details, whoever it may belong to."""

from __future__ import annotations

import re
from collections.abc import Iterator

_ALONE, _ENDS = r"(?<![\w.])", r"(?!\w)(?!\.(?!0+(?!\d))\d)"
PATTERNS = {
    "looks like a UELN": re.compile(rf"{_ALONE}\d{{6}}(?=[0-9A-Z]*[A-Z])[0-9A-Z]{{9}}{_ENDS}"),
    "looks like a microchip or UELN": re.compile(
        rf"{_ALONE}0?\d{{15}}{_ENDS}|{_ALONE}\d{{3}}([.'\u2019_/-])\d{{3}}(?:\1\d{{3}}){{3}}{_ENDS}(?!\1)"
        rf"|(?i:chip|transponder|ueln)[^\d\n]{{1,12}}\d(?:[ \u00a0.,'\u2019_/-]{{0,2}}\d){{14}}{_ENDS}"
    ),
    "looks like an e-mail address": re.compile(r"(?<=[\w.+-])@(?:[\w-]{1,63}\.)+[A-Za-z]{2,24}\b"),
    "looks like a telephone number": re.compile(
        r"(?<![\w.,+-])(?:\+\d{1,3}[ (/-]{1,2}\d[\d ()/-]{6,16}\d|0\d{2,4}[ /-]\d{3,4}[ -]?\d{3,4})(?![\w.,-]\d|\d)"
    ),
    "looks like coordinates": re.compile(
        r"\d{1,2}\.\d{3,}\s?°?\s?[NS]\b[\s,;/]{1,3}\d{1,3}\.\d{3,}\s?°?\s?[EWO]\b"
        r"|\d{1,2}°\s?\d{1,2}(?:\.\d+)?['′’][^\n]{0,12}[NSEW]\b"
        r"|\b(?:lat|lon|lng|latitude|longitude)\b[\"']?\s?[:=]\s?[\"']?-?\d{1,3}\.\d{3,}",
        re.I,
    ),
}
CONTACT_COLUMN = re.compile(
    r"(?i)(?:.*_)?(?:(?:owner|horse|yard|rider|keeper|first|last|sur|full)_?names?|"
    r"e_?mail|phone|telephone|mobile|address|street|post_?code|zip|latitude|longitude|lat|lon|lng|gps|"
    r"notes?|comments?|remarks?|ueln|microchip)"
)
"""A column in a released table that would hold contact details, places, free text or an animal's own number."""
NOT_SOUGHT = (
    "postal codes; names of people that stand in no private column; given names and other parts of a name by "
    "themselves, but surnames of 5 letters or more that are no usual words; short forms, misspellings, other alphabets",
    "what is drawn in a picture's dots or as lines; letters out of their order; hexadecimal digits with signs "
    "between them, and any other encoding than base64; attributes that a file system keeps beside a file",
)
"""What the search passes over, in two sentences."""
_DRAWN = re.compile(r"\b(?:d|points|transform|viewBox|style)=\"[^\"]*\"|\bdata:[\w/+.-]+;base64,[A-Za-z0-9+/=\s]+")


def find_patterns(text: str) -> Iterator[tuple[int, str, str]]:
    """Yield place, what it looks like, and the text found; numbers that draw a line in an SVG are passed over."""
    plain = _DRAWN.sub(lambda match: " " * len(match.group()), text) if '="' in text or "base64" in text else text
    for what, pattern in PATTERNS.items():
        yield from ((match.start(), what, match.group()) for match in pattern.finditer(plain))

"""What looks like a number of an animal or a person's contact details, whoever it may belong to."""

from __future__ import annotations

import re
from collections.abc import Iterator

_ALONE, _ENDS = r"(?<![\w.])", r"(?!\w)(?!\.(?!0+(?!\d))\d)"
_GAP = "[ \u00a0\u202f/\u2010-\u2013-]"
_PHONE = (
    r"\+[1-9]\d{7,14}|\+\d{1,3}[ \u00a0(/-]{1,2}\d[\d \u00a0()/-]{6,16}\d",
    r"(?!0123456789)0[1-9]\d{8,9}|00[1-9]\d{8,12}",
    rf"0\d{{2,4}}{_GAP}\d{{3,4}}{_GAP}?\d{{3,4}}|0[1-9]{_GAP}\d{{4}}{_GAP}?\d{{4}}",
    rf"0[1-9]{_GAP}\d{{3}}{_GAP}\d{{3}}{_GAP}\d{{2}}|0[1-9](?:{_GAP}\d\d){{4}}|0[1-9](?:\.\d\d){{4}}",
    rf"\(0\d{{1,4}}\){_GAP}?\d{{3,4}}{_GAP}?\d{{3,5}}",
    r"(?i:tel|telephone|telefoon|telefon|phone|mobile|fax)[.:= \u00a0]{1,3}[+(]?\d[\d \u00a0()./-]{5,18}\d",
)
_DEGREES = r"[-\u2212]?(?:1[0-7]\d|\d{1,2})\.\d{3,}"
_FINE, _NOT_ZERO = r"[-\u2212]?(?:1[0-7]\d|\d{1,2})\.\d{4,}", r"[-\u2212]?(?:1[0-7]\d|[1-9]\d?)\.\d{4,}"
_PLACE = (
    r"\d{1,2}\.\d{3,}\s?°?\s?[NS]\b[\s,;/]{1,3}\d{1,3}\.\d{3,}\s?°?\s?[EWO]\b",
    r"\d{1,2}°\s?\d{1,2}(?:\.\d+)?['′’][^\n]{0,12}[NSEW]\b",
    r"(?-i:\b[NS])\s?\d{1,2}\.\d{3,}°?[\s,;/]{1,3}(?-i:[EWO])\s?\d{1,3}\.\d{3,}",
    r"(?-i:\b[NS])\s?\d{1,2}[°\s]\s?\d{1,2}\.\d{2,}['′’]?[\s,;/]{1,3}(?-i:[EWO])\s?\d{1,3}[°\s]\s?\d{1,2}\.\d{2,}",
    r"\b(?:lat|lon|lng|latitude|longitude)\b[\"']?\s?[:=]\s?[\"']?[-\u2212]?\d{1,3}\.\d{3,}",
    rf"\b(?:lat|latitude)\b\W{{1,3}}{_DEGREES}\W{{1,4}}(?:and )?(?:lon|long|lng|longitude)\b\W{{1,3}}{_DEGREES}",
    rf"\b(?:latitude|longitude)\s(?:of\s|is\s)?{_DEGREES}",
    rf"(?:\bgeo:|[?&;](?:q|ll|query|center|destination|daddr|saddr)=(?:loc:)?|/@|#map=\d+/){_DEGREES}[,/]\s?{_DEGREES}",
    rf"[?&;]m(?:lat|lon)={_DEGREES}|!3d{_DEGREES}!4d{_DEGREES}",
    rf"\bPOINT\s?[ZM]{{0,2}}\s?\(\s?{_DEGREES}\s{{1,3}}{_DEGREES}",
    rf"\b(?:coordinates?|coords?|gps)\b[^\w-]{{1,20}}{_DEGREES}[\s,;]{{1,20}}{_DEGREES}",
    rf"(?<![\w.,+-])(?<!\d[,;]\s){_NOT_ZERO},[ \u00a0]{{1,2}}{_FINE}(?![\w%°]|\.\d|[,;]\s?[-\u2212]?\d)",
    rf"(?<=[\"']){_NOT_ZERO},{_FINE}(?=[\"'])",
)
PATTERNS = {
    "looks like a UELN": re.compile(rf"{_ALONE}\d{{6}}(?=[0-9A-Z]*[A-Z])[0-9A-Z]{{9}}{_ENDS}"),
    "looks like a microchip or UELN": re.compile(
        rf"{_ALONE}0?\d{{15}}{_ENDS}|{_ALONE}\d{{3}}([.'\u2019_/-])\d{{3}}(?:\1\d{{3}}){{3}}{_ENDS}(?!\1)"
        rf"|(?i:chip|transponder|ueln)[^\d\n]{{1,12}}\d(?:[ \u00a0.,'\u2019_/-]{{0,2}}\d){{14}}{_ENDS}"
    ),
    "looks like an e-mail address": re.compile(r"(?<=[\w.+-])@(?:[\w-]{1,63}\.)+[A-Za-z]{2,24}\b"),
    "looks like a telephone number": re.compile(rf"(?<![\w.+-])(?:{'|'.join(_PHONE)})(?![.-]\d|\w)"),
    "looks like coordinates": re.compile("|".join(_PLACE), re.I),
}
CONTACT_COLUMN = re.compile(
    r"(?i)(?:.*_)?(?:(?:owner|horse|yard|rider|keeper|first|last|sur|full)_?names?|"
    r"e_?mail|phone|telephone|mobile|address|street|post_?code|zip|latitude|longitude|lat|lon|lng|gps|"
    r"notes?|comments?|remarks?|ueln|microchip)"
)
"""A column in a released table that would hold contact details, places, free text or an animal's own number."""
NOT_SOUGHT = (
    "names of horses and people whose consent was withdrawn, or who left for another reason, are not in the tables "
    "given: give the earlier tables too, with a further --against",
    "postal codes; names of people that stand in no private column; given names and other parts of a name by "
    "themselves, but surnames of 5 letters or more that are no usual words; short forms, misspellings, other alphabets",
    "what is drawn in a picture's dots or as lines; letters out of their order; hexadecimal digits with signs "
    "between them, and any other encoding than base64; attributes that a file system keeps beside a file",
    "two numbers that may be a place, where no words, map link or quotation marks tell so: without a comma and a "
    "blank between them, in two cells, as part of a longer list, with fewer than 4 decimals, or the first below 1; "
    "grid references; telephone numbers without a 0 or + in front or a word such as 'phone' before them",
)
"""What the search passes over, each in a sentence."""
_DRAWN = re.compile(
    r"\b(?:d|points|transform|viewBox|style)=(?:\"[^\"]*\"|'[^']*')|\bdata:[\w/+.-]+;base64,[A-Za-z0-9+/=\s]+"
)


def find_patterns(text: str) -> Iterator[tuple[int, str, str]]:
    """Yield place, what it looks like, and the text found; numbers that draw a line in an SVG are passed over."""
    drawn = '="' in text or "='" in text or "base64" in text
    plain = _DRAWN.sub(lambda match: " " * len(match.group()), text) if drawn else text
    for what, pattern in PATTERNS.items():
        yield from ((match.start(), what, match.group()) for match in pattern.finditer(plain))

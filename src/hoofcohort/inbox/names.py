"""When two names are the same, and which round comes first; imports nothing heavy: the workflow reads it too."""

from __future__ import annotations

import re
import unicodedata


def same_name(name: str) -> str:
    """Return a name so that equal ones are the same: without case, in one Unicode form, as some systems store it."""
    return unicodedata.normalize("NFC", unicodedata.normalize("NFC", name).casefold())


def folded(text: str) -> str:
    """Return a code or name of a person or horse as it is looked for: no spelling that only looks different is missed.

    Without case, blanks, and points, commas and semicolons at the end; compatibility forms (NFKC) are one.
    """
    plain = "".join(unicodedata.normalize("NFKC", unicodedata.normalize("NFKC", text).casefold()).split())
    return plain.rstrip(".,;") or plain


def round_order(name: str) -> tuple[tuple[str | int, ...], str]:
    """Return a key that sorts rounds as people number them: ``Round 9`` before ``Round 10``."""
    texts = re.split(r"([0-9]+)", same_name(name))
    return tuple(int(text) if place % 2 else text for place, text in enumerate(texts)), name

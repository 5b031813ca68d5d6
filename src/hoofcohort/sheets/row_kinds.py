"""Which rows below a header are totals or notes, and no data."""

from __future__ import annotations

import re
from collections.abc import Sequence

_TOTAL = re.compile(
    r"(?:(?:(?:grand|sub)[ -]?)?totals?|sums?|averages?|avg|means?|medians?|summen?|gesamt|mittelwert|durchschnitt|"
    r"moyenne|somme|totaal|gemiddelde|standard deviation|std\.? ?dev)\b[ .:=]*(?:\(.*\))?:?",
    re.I,
)
_NAME_OR_TOTAL = r"(?:counts?|n|min(?:imum)?|max(?:imum)?|sd|std|anzahl|aantal|nombre)"
_MARKED = re.compile(_NAME_OR_TOTAL + r"\.? ?(?:[:=]|\(.*\)).*", re.I)
_BARE = re.compile(_NAME_OR_TOTAL + r"\.?", re.I)
"""A horse may be called Max: alone, such a word is a total only below another total."""
_VALUE = re.compile(r"[-+]?[\d.,:/% ]*|=.*|#[A-Z0-9/]+[!?]?", re.S)
"""A number, a formula whose result is not stored, or a spreadsheet's error."""
_SENTENCE = re.compile(r"[*†‡§].*|(?:notes?|nb|n\.b\.|remarks?|source|key|legend)\s*:.*|\S+(?: \S+){3,}", re.I)


def may_be_total(label: str) -> bool:
    """Tell whether a text is a word for a total."""
    return any(words.fullmatch(label) for words in (_TOTAL, _MARKED, _BARE))


def is_total(first: str, row: Sequence[str], below_total: bool) -> bool:
    """Tell whether a row is a word for a total and numbers, or formulas for them, alone."""
    label = first or next(filter(None, row))
    kinds = (_TOTAL, _MARKED, _BARE) if below_total else (_TOTAL, _MARKED)
    if not any(words.fullmatch(label) for words in kinds):
        return False
    others = list(row)
    others.remove(label)
    return all(map(_VALUE.fullmatch, others))


def notes_from(cells: Sequence[list[str]], place: int, width: int) -> int:
    """Return the place from which only sentences of one cell follow, in a table of three columns and more."""
    at = len(cells)
    while width > 2 and at - 1 > place:
        texts = [cell for cell in cells[at - 1] if cell]
        if texts and not (len(texts) == 1 and _SENTENCE.fullmatch(texts[0])):
            break
        at -= 1
    return at

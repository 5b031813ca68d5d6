"""Find any of many values in a text in one pass over its words."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence

from hoofcohort.privacy.private_values import UNSPACED, WORD, Private, fold
from hoofcohort.privacy.views import PARTED

LONG, LONG_NUMBER = 8, 12
"""Characters from which on a value, or one of digits alone, is also found broken up; the project's own, no source."""
BURIED = 10
"""Characters from which on it is also found in the middle of a longer word; the project's own, no source."""
_START = 4
_BETWEEN = re.compile(r"(?:[^\w<>]|_){0,40}")
_IN_SHORT = re.compile(r"[\s_'\u2019./\u2010-\u2015-]{0,3}")
"""What may stand between the words of a value of fewer than ``LONG`` characters: no mark that parts fields."""
_IN_NUMBERS = re.compile(rf"[ \u2009.,'\u2019_/\u2010-\u2015-]{{0,2}}|\s{{0,9}}{PARTED}\s{{0,9}}")
_BEFORE_NUMBER = re.compile(r"(?:\d\.|[1-9]\d*|(?<=[.\d])0+)\Z")
_AFTER_NUMBER = re.compile(r"\d|\.(?!0+(?!\d))\d")
_MOST_WORDS = 40


class Lookup:
    """The values, ready to be found.

    Parameters
    ----------
    values : iterable of Private
    """

    def __init__(self, values: Iterable[Private]) -> None:
        self._of: dict[str, list[Private]] = {}
        for value in values:
            self._of.setdefault(value.joined, []).append(value)
        self._starts = {joined[:size] for joined in self._of for size in range(1, _START + 1)}
        self._first = min([_START, *(len(joined) for joined in self._of if UNSPACED.match(joined))])
        self._longest = max(map(len, self._of), default=0)
        self._buried = sorted({len(joined) for joined in self._of if len(joined) >= BURIED or UNSPACED.match(joined)})

    def find(self, text: str) -> Iterator[tuple[int, Private]]:
        """Yield place and value of everything found, whatever case, accents, blanks and hyphens do.

        A short value is found where its words stand one after the other, or run together; a longer one wherever its
        letters and digits do.
        """
        folded = fold(text)
        words = list(WORD.finditer(folded))
        starts = self._starts
        for at, match in enumerate(words):
            word = match.group()
            if word[:_START] in starts:
                yield from self._from(folded, words, at)
            if self._buried and (len(word) > BURIED or UNSPACED.search(word)):
                yield from self._inside(folded, match)

    def _from(self, folded: str, words: Sequence[re.Match[str]], at: int) -> Iterator[tuple[int, Private]]:
        place, joined = words[at].start(), ""
        parts: list[str] = []
        between: list[str] = []
        for following in words[at : at + _MOST_WORDS]:
            if parts:
                end = words[at + len(parts) - 1].end()
                if not _BETWEEN.fullmatch(folded, end, following.start()):
                    return
                between.append(folded[end : following.start()])
            parts.append(following.group())
            joined += parts[-1]
            if len(joined) > self._longest or joined[:_START] not in self._starts:
                return
            for value in self._of.get(joined, ()):
                if _is_it(value, parts, between) and not _in_number(value, folded, place, following.end()):
                    yield place, value

    def _inside(self, folded: str, match: re.Match[str]) -> Iterator[tuple[int, Private]]:
        word, start = match.group(), match.start()
        for offset in range(len(word) - self._buried[0] + 1):
            if word[offset : offset + self._first] not in self._starts:
                continue
            for size in self._buried:
                if size < BURIED and not UNSPACED.match(word, offset):
                    continue
                if offset + size <= len(word) and size < len(word):
                    for own in self._of.get(word[offset : offset + size], ()):
                        if not _in_number(own, folded, start + offset, start + offset + size):
                            yield start + offset, own


def _is_it(value: Private, parts: Sequence[str], between: Sequence[str]) -> bool:
    """Tell whether words that run together to a value are that value, and not neighbours by chance."""
    if len(parts) == 1:
        return True
    joined = value.joined
    if joined.isdigit():
        decimal = between == ["."]
        spaced = not decimal and all(map(_IN_NUMBERS.fullmatch, between))
        return value.words == tuple(parts) or (spaced and len(joined) >= LONG_NUMBER)
    if len(joined) >= LONG:
        return True
    return value.words == tuple(parts) and all(map(_IN_SHORT.fullmatch, between))


def _in_number(value: Private, text: str, start: int, end: int) -> bool:
    """Tell whether digits are a piece of a longer or of a decimal number; zeros around them change nothing."""
    if not value.joined.isdigit():
        return False
    return bool(_BEFORE_NUMBER.search(text[max(start - 6, 0) : start]) or _AFTER_NUMBER.match(text[end : end + 12]))

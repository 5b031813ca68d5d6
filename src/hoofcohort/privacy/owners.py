"""One owner, however the name was typed."""

from __future__ import annotations

import unicodedata
from collections.abc import Hashable, Iterable


def folded(name: str) -> str:
    """Return an owner's name or code as it is compared: the same for every spelling that only looks different.

    Compatibility forms (NFKC), case, runs of blanks, blanks around it and points, commas and semicolons at its end make
    no difference. A name that is nothing else stays as it is.
    """
    plain = unicodedata.normalize("NFKC", unicodedata.normalize("NFKC", name).casefold())
    words = " ".join(plain.split())
    return words.rstrip(" .,;") or words


def owners_of(owners: Iterable[object]) -> frozenset[Hashable]:
    """Return the different owners among horses' or readings' owners, spellings of one taken together.

    All of which no owner is known count as one owner's together: the fewest that they may have.
    """
    return frozenset(folded(owner) if isinstance(owner, str) and owner.strip() else None for owner in set(owners))


def count_owners(owners: Iterable[object]) -> int:
    """Return how many owners are known among horses' or readings' owners, spellings of one taken together."""
    return len(owners_of(owners) - {None})

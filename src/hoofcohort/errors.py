"""The errors a user can put right.

Everything raised from here reaches the user as a message that says where the fault is, what was found, what
is allowed and what to do, with exit status 2. Any other exception is a bug and keeps its traceback.
"""

from __future__ import annotations

from collections.abc import Sequence
from difflib import get_close_matches
from typing import Any


class HoofcohortError(Exception):
    """Root of the errors that the user can put right."""


class InputError(HoofcohortError):
    """A file, or something in it, cannot be used."""


class PlanError(HoofcohortError):
    """The analysis plan asks for something that cannot be done."""


class ModelError(HoofcohortError):
    """A model cannot be fitted to these data, with the reason."""


class UnidentifiableLevelError(ModelError):
    """A level's variance cannot be told apart from another part of the model.

    Attributes
    ----------
    level : str
        The level that would have to be left out.
    """

    def __init__(self, level: str, reason: str) -> None:
        super().__init__(reason)
        self.level = level


class NoReadingError(ModelError):
    """No reading is left to analyse.

    Attributes
    ----------
    flow : list of dict
        The account of where the readings were lost.
    """

    def __init__(self, reason: str, flow: list[dict[str, Any]]) -> None:
        super().__init__(reason)
        self.flow = flow


def nearest(word: str, allowed: Sequence[str]) -> str:
    """Return ``'; did you mean ...?'`` for the closest allowed word, or an empty string."""
    lower = {name.lower(): name for name in reversed(allowed)}
    found = get_close_matches(word.lower(), lower, n=1, cutoff=0.6)
    return f"; did you mean '{lower[found[0]]}'?" if found else ""

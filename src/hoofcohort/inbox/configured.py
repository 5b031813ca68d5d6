"""The inbox that the workflow's configuration names. Nothing heavy is imported: Snakemake reads it at every start."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from hoofcohort.errors import PlanError
from hoofcohort.files import sha256_of
from hoofcohort.inbox.listing import CONSENT, Source, list_inbox, list_unread

INBOX_OUT = "reports/_inbox"
"""Where the workflow puts what comes of an inbox; no study can have this name."""
INBOX_TABLES = tuple(f"{INBOX_OUT}/{table}.csv" for table in ("horses", "management", "feet"))
"""The tables among it, which a plan can name before they are there."""

_BRACES = frozenset("{}")


@dataclass(frozen=True)
class Inbox:
    """The inbox of a run.

    Attributes
    ----------
    folder : str
        As the configuration names it.
    as_of_option : list of str
        The commands' option for the day after which no date may lie, when the configuration names one.
    sources : dict of str to Source
        The members' files by the name of what is made of each.
    unread : tuple of str
        What lies there but is not read, for a rule's parameters.
    """

    folder: str
    as_of_option: list[str]
    sources: Mapping[str, Source]
    unread: tuple[str, ...] = ()

    def path(self, part: str) -> str:
        """Return the file of a part."""
        return str(self.sources[part].path)

    def files(self, part: str = "") -> list[str]:
        """Return what Snakemake watches: of a part, its file and mappings; else the file of withdrawals."""
        return [str(path) for path in self._paths(part) if not _BRACES & set(str(path))]

    def digests(self, part: str = "") -> list[str]:
        """Return digests, for a rule's parameters, of the others: Snakemake takes braces in a name for a wildcard."""
        return [sha256_of(path) for path in self._paths(part) if _BRACES & set(str(path))]

    def _paths(self, part: str) -> list[Path]:
        if part:
            return [self.sources[part].path, *self.sources[part].mappings]
        consent = Path(self.folder) / CONSENT
        return [consent] if self.folder and consent.is_file() else []


def load_inbox(config: Mapping[str, Any]) -> Inbox:
    """List the inbox that the configuration names under ``inbox``, with ``inbox_as_of``.

    Without one, an inbox without files.

    Raises
    ------
    InputError
        When the folder holds no round.
    PlanError
        When what is named is no folder's name or no day.
    """
    folder, day = config.get("inbox"), config.get("inbox_as_of")
    if folder is None:
        return Inbox("", [], {})
    if not isinstance(folder, str) or not folder:
        raise PlanError(f"config: inbox: found {folder!r}; give a folder, e.g. inbox: synthetic_data/inbox")
    if day is not None and not _is_day(str(day)):
        raise PlanError(f"config: inbox_as_of: found {day!r}; write a date as YYYY-MM-DD")
    sources = {source.part: source for source in list_inbox(Path(folder))}
    unread = tuple(str(one) for one in list_unread(Path(folder)))
    return Inbox(folder, ["--as-of", str(day)] if day is not None else [], sources, unread)


def _is_day(text: str) -> bool:
    try:
        return str(dt.date.fromisoformat(text)) == text
    except ValueError:
        return False

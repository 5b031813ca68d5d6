"""What the study would say about files that belong together, before they are sent."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

import numpy as np

from hoofcohort.inbox.member import part_of
from hoofcohort.inbox.part import Part
from hoofcohort.inbox.run import Inbox, settle
from hoofcohort.sheets.sheet import Sheet

_OF_A_HORSE = ("horse_id", "yard_id", "owner_id")


def settle_before(parts: Sequence[Part], as_of: dt.date | None = None) -> Inbox:
    """Settle files as the inbox would.

    Where none of them holds horses, their horses count as registered: their rows may have been sent before.

    Parameters
    ----------
    parts : sequence of Part
    as_of : date, optional
        The day that no date can be later than.

    Returns
    -------
    Inbox
        Its first parts are those given, in their order.
    """
    if any("horses" in part.tables and len(part.tables["horses"]) for part in parts):
        return settle(parts, (), as_of)
    codes = sorted(
        {code for part in parts for frame in part.tables.values() for code in frame["horse_id"].tolist() if code}
    )
    cells = np.array(codes, dtype=object)
    registered = Sheet("", "", _OF_A_HORSE, 1, (1, 2, 3), (cells,) * 3, np.arange(2, len(codes) + 2))
    return settle([*parts, part_of(registered)], (), as_of)

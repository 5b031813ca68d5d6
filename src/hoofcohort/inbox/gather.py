"""Read every file of an inbox, by several processes when there are many; one bad file never stops the rest."""

from __future__ import annotations

import datetime as dt
import os
from collections import deque
from collections.abc import Sequence
from concurrent.futures import Future, ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path

from hoofcohort.errors import HoofcohortError
from hoofcohort.inbox.doubted_headers import of_the_mapping
from hoofcohort.inbox.listing import Source, list_inbox
from hoofcohort.inbox.member import read_parts, refused_parts
from hoofcohort.inbox.packed import Packed, join, pack
from hoofcohort.inbox.part import Part
from hoofcohort.mapping.mapping import Mapping, load_mapping

BATCH = 16
"""Files that a process reads at a time."""
_AHEAD = 2
"""Batches that wait for each of the other processes."""
_LARGE = 10_000_000
"""Bytes of an inbox from which a second process is worth its start."""
_known: dict[bytes, Mapping] = {}
"""Mappings already checked, by the bytes of their files: many members' are alike."""


def gather(inbox: Path, as_of: dt.date | None = None, jobs: int | None = 1) -> Packed:
    """Read every file, in the order of rounds, members and files.

    Parameters
    ----------
    inbox : Path
    as_of : date, optional
        The day that no date can be later than.
    jobs : int or None
        Processes, this one included; None for the usual number. With more than one, a program that calls this must be
        importable.

    Raises
    ------
    InputError
        When there is no round in the folder.
    """
    sources = list_inbox(inbox)
    batches = [sources[start : start + BATCH] for start in range(0, len(sources), BATCH)]
    others = min(usual_jobs(sources) if jobs is None else jobs, len(batches)) - 1
    if others < 1:
        return join([read_batch(batch, as_of) for batch in batches])
    with ProcessPoolExecutor(others, get_context("spawn")) as pool:
        return join(_shared(pool, others, batches, as_of))


def usual_jobs(sources: Sequence[Source]) -> int:
    """Return one for an inbox that is read before another process has started, else two if there are two cores."""
    size = sum(source.path.stat().st_size for source in sources)
    return min(2, os.cpu_count() or 1) if size > _LARGE else 1


def _shared(
    pool: ProcessPoolExecutor, others: int, batches: Sequence[Sequence[Source]], as_of: dt.date | None
) -> list[Packed]:
    """Read batches here and in the other processes, which are given the next ones whenever fewer wait for them."""
    left = deque(range(len(batches)))
    given: dict[int, Future[Packed]] = {}
    done: dict[int, Packed] = {}
    while left:
        waiting = sum(not future.done() for future in given.values())
        while left and waiting < others * _AHEAD:
            number = left.popleft()
            given[number] = pool.submit(read_batch, batches[number], as_of)
            waiting += 1
        if left:
            number = left.popleft()
            done[number] = read_batch(batches[number], as_of)
    done |= {number: future.result() for number, future in given.items()}
    return [done[number] for number in range(len(batches))]


def read_batch(sources: Sequence[Source], as_of: dt.date | None = None) -> Packed:
    """Read some files."""
    return pack([part for source in sources for part in read_source(source, as_of)])


def read_source(source: Source, as_of: dt.date | None = None) -> list[Part]:
    """Read one file with the mappings that may fit it; a mapping that is no good refuses the file."""
    try:
        mappings = [_mapping(path) for path in source.mappings]
    except HoofcohortError as error:
        why = of_the_mapping(_within_inbox(str(error), source))
        return refused_parts(source.path, why, source.round, source.member)
    return read_parts(source.path, mappings, source.round, source.member, as_of)


def _within_inbox(text: str, source: Source) -> str:
    """Name the mappings of a file as they lie in the inbox, whatever the path that the inbox was given by."""
    for path in source.mappings:
        text = text.replace(str(path), "/".join(path.parts[-3:]))
    return text


def _mapping(path: Path) -> Mapping:
    content = path.read_bytes()
    if content not in _known:
        _known[content] = load_mapping(path)
    return _known[content]

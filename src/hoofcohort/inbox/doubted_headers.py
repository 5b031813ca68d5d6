"""Say what is in doubt about the headers of a file without a mapping, and whose fault that of a mapping is."""

from __future__ import annotations

import re
from collections.abc import Sequence

from hoofcohort.mapping.guess import Guess, recognised
from hoofcohort.mapping.guessed_settings import UNDECIDED_ORDER
from hoofcohort.mapping.mapping import Mapping, plain_name
from hoofcohort.sheets.row_labels import UNNAMED
from hoofcohort.sheets.told import names_said


def no_mapping(doubtful: Sequence[Guess], missing: Sequence[str]) -> str:
    """Return why a file is refused of which some headers are in doubt, or needed columns of ours come from none."""
    open_dates = [guess.header for guess in doubtful if UNDECIDED_ORDER in guess.why]
    headers = [guess.header for guess in doubtful if guess.header not in open_dates]
    causes = []
    if headers:
        causes.append(f"not known for certain: {names_said(headers)}")
    if open_dates:
        causes.append(f"day and month cannot be told apart in {names_said(open_dates)}: write YYYY-MM-DD there")
    if any(re.fullmatch("column [0-9]+", header) or UNNAMED.fullmatch(header) for header in headers):
        causes.append("name each column that has no name, or delete it when it only counts rows")
    if missing:
        causes.append("from no column: " + ", ".join(missing))
    return (
        f"the headers leave a doubt ({'; '.join(causes)}); use the study's template, or have a mapping drafted "
        "(hoofcohort draft-mapping), checked and put beside the file"
    )


COORDINATORS = "the coordinator's"
"""How a refusal begins that is not the member's to put right."""


def of_the_mapping(text: str) -> str:
    """Say of the fault of a mapping that a file came with that it is the coordinator's to put right."""
    for head in ("the mapping does not fit the file", "the mapping must be put right first"):
        if text.startswith(head):
            theirs = f"{COORDINATORS} {head.removeprefix('the ')}"
            return f"{theirs}; there is nothing to do for the member unless the headers changed{text[len(head) :]}"
    return text


def all_known(headers: Sequence[str], mappings: Sequence[Mapping]) -> bool:
    """Tell whether headers are all known, by a mapping or by themselves, and one of them is the horse's code."""
    ignored = {plain_name(name) for mapping in mappings for name in mapping.ignore}
    mapped = {plain_name(name): to.to for mapping in mappings for name, to in mapping.columns.items()}
    becomes = {}
    for header in headers:
        ours, rank, _ = recognised(header)
        becomes[header] = mapped.get(plain_name(header), ours if rank == 0 else "")
        if not becomes[header] and plain_name(header) not in ignored:
            return False
    return "horse_id" in becomes.values()

"""Sentences on what came in, what was left out, and who is in the cohort."""

from __future__ import annotations

from collections.abc import Mapping, Set
from typing import Any

from hoofcohort.report.numbers import listing, of_things, percent
from hoofcohort.report.text.words import exposure_title


def intake_sentences(ledger: Mapping[str, Any]) -> list[str]:
    """Return how many rows came in and how many were rejected."""
    totals = ledger["totals"]
    read, rejected, flagged = totals["rows_read"], totals["rejected"], totals["flagged"]
    found = [f"Of {of_things(read, 'row')} received in three files, {totals['accepted']} were accepted."]
    if rejected:
        found.append(
            f"{of_things(rejected, 'row')} ({percent(rejected, read)}) {'was' if rejected == 1 else 'were'} "
            "rejected; each "
            "is listed with its reason and a remedy in rejects.csv."
        )
    else:
        found.append("No row was rejected.")
    if flagged:
        are = "value is" if flagged == 1 else "values are"
        found.append(f"{flagged} {are} possible but not plausible: kept, not removed, and listed in flags.csv.")
    return found


def accepted_sentence(counts: Mapping[str, int], horses_accepted: int) -> str:
    """Return who the accepted readings belong to."""
    without = horses_accepted - counts["horses"]
    tail = f" {of_things(without, 'accepted horse')} had no accepted reading." if without else ""
    return (
        f"The accepted readings are {of_things(counts['readings'], 'reading')} of "
        f"{of_things(counts['feet'], 'foot', 'feet')} of {of_things(counts['horses'], 'horse')}, kept in "
        f"{of_things(counts['yards'], 'yard')} and owned by {of_things(counts['owners'], 'owner')}.{tail}"
    )


def contrast_sentence(contrasts: Mapping[str, tuple[int, int]]) -> str:
    """Return in how many yards horses differ in each exposure: what a comparison inside yards rests on."""
    parts = [
        f"{exposure_title(name)} in {inside} of {of_things(whole, 'yard')}"
        for name, (inside, whole) in contrasts.items()
    ]
    said = f"Horses of one yard differ in {listing(parts)}"
    if all(inside == whole for inside, whole in contrasts.values()):
        return f"{said}."
    return (
        f"{said}; in the other yards the exposure is one with the yard, and cannot be told apart from anything else "
        "about it."
    )


def flagged_sentence(flagged: Set[int], analysed: Set[int]) -> str:
    """Return how many of the readings with a flagged value are analysed; empty without such a reading.

    Parameters
    ----------
    flagged, analysed : set of int
        Lines of the table of feet: with a flagged value; in the adjusted model of at least one outcome.
    """
    if not flagged:
        return ""
    return (
        f"Of {of_things(len(flagged), 'reading')} of feet with a flagged value, {len(flagged & analysed)} "
        f"{'is' if len(flagged & analysed) == 1 else 'are'} in at least one outcome's analysis, which need not use "
        "that value."
    )


def small_cohort_sentences(counts: Mapping[str, int], fewest_owners: int) -> list[str]:
    """Return warnings about a cohort too small for what is asked of it, or to be published."""
    found = []
    if counts["owners"] < fewest_owners:
        found.append(
            f"The whole cohort belongs to fewer than {fewest_owners} owners: this report tells what their horses are "
            "like, and is not for publication."
        )
    if counts["horses"] < 10:
        found.append(
            f"With {of_things(counts['horses'], 'horse')}, read every result as a description of these horses."
        )
    if counts["yards"] < 5:
        found.append(f"With {of_things(counts['yards'], 'yard')}, differences between yards can hardly be estimated.")
    return found

"""One owner counts once, however the name was typed."""

from __future__ import annotations

import pandas as pd
import pytest

from hoofcohort.privacy.owners import count_owners, folded, owners_of
from hoofcohort.privacy.pseudonyms import Pseudonyms
from hoofcohort.report.sheets.flow import counts_of

SPELLINGS = [
    "Ren\u00e9 Field",
    "Rene\u0301 Field",
    "rene\u0301 FIELD",
    "Ren\u00e9  Field",
    "Ren\u00e9\u00a0Field",
    " Ren\u00e9 Field. ",
    "Ren\u00e9 \uff26ield,",
]


@pytest.mark.parametrize("name", SPELLINGS)
def test_a_spelling_of_one_owner_makes_no_difference(name):
    names = Pseudonyms(bytes(range(32)))
    assert names.of("owner", name) == names.of("owner", SPELLINGS[0])
    assert owners_of([name, SPELLINGS[0]]) == {folded(SPELLINGS[0])}


def test_owners_that_differ_stay_apart_and_codes_of_horses_are_taken_letter_for_letter():
    assert count_owners(["A1", "A2", "A 1", "A-1", None, " ", float("nan")]) == 4
    assert len(owners_of(["A1", None, " ", float("nan")])) == 2
    assert folded(" . ") == "."
    names = Pseudonyms(bytes(range(32)))
    assert names.of("horse", "bess") != names.of("horse", "Bess")


def test_the_report_counts_one_owner_of_several_spellings_once():
    horses = pd.DataFrame({"horse_id": list("ABCDEFG"), "yard_id": "Y", "owner_id": SPELLINGS})
    readings = pd.DataFrame({"horse_id": list("ABCDEFG"), "foot": "LF"})
    assert counts_of(readings, horses)["owners"] == 1

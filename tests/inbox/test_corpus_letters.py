"""Each small awkward file gives exactly the letter beside it, and every row of it is found again."""

from __future__ import annotations

import pytest
from corpus_letters import AS_OF, cases, letters_of

from hoofcohort.inbox.ledger import FATES
from hoofcohort.inbox.run import take_inbox


@pytest.mark.parametrize("case", cases(), ids=lambda case: case.name)
def test_the_letters_are_exact(case):
    held = {path.name: path.read_bytes() for path in case.iterdir() if path.is_file()}
    assert letters_of(case) == held


@pytest.mark.parametrize("case", cases(), ids=lambda case: case.name)
def test_every_row_has_a_fate_and_every_row_that_comes_back_a_reason(case):
    inbox = take_inbox(case / "inbox", AS_OF)
    total = inbox.ledger["total"]
    assert total["rows_read"] == sum(total[fate] for fate in FATES)
    for part, account in zip(inbox.pool.parts, inbox.ledger["files"], strict=True):
        explained = {one.line for one in part.findings if one.severity == "error"}
        assert bool(part.refused) or len(explained) == account["rejected"]


def test_there_are_many_cases():
    assert len(cases()) >= 40

"""A file of the member's own headers, all known, whose dates nothing decides."""

from __future__ import annotations

import pytest
from inbox_sheets import part

HEADER = "cheval du au diet terrain"


def refused(first):
    return part("r1", "ash", HEADER, f"H1 {first} _ hay soft").refused


def test_the_letter_says_that_the_dates_are_open_and_not_that_their_header_is_unknown():
    text = refused("03/04/2026")
    assert "day and month cannot be told apart in 'du': write YYYY-MM-DD there" in text
    assert "not known for certain: 'du'" not in text


@pytest.mark.parametrize("first", ["2026-04-03", "13/04/2026"])
def test_written_so_the_file_is_used(first):
    assert refused(first) == ""

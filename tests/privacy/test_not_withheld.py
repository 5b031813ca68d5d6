"""What a plan's `fewest_owners` does not withhold is said where it is described."""

from __future__ import annotations

from pathlib import Path

import pytest

README = Path(__file__).parents[2] / "config/README.md"


@pytest.mark.parametrize(
    "published",
    [
        "in `figures/raw-*.svg` a dot for each horse",
        "in `tables/levels.csv` the least and the most horses of an owner or a yard and readings of an observer",
        "in `models/*.json` means and SDs of number variables to the last digit",
        "`tables/influence_*.csv` and `models/*.json` single horses and yards",
    ],
)
def test_what_is_published_of_few_is_named(published):
    row = next(line for line in README.read_text(encoding="utf-8").splitlines() if line.startswith("| `fewest_owners`"))
    assert published in row.split("Not withheld:")[1]

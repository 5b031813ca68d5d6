"""Look-ups in the declared family of tests (made by ``hoofcohort.study.multiplicity``)."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

Family = Sequence[Mapping[str, Any]]


def family_size(family: Family) -> int:
    """Return how many tests of the family have a p-value."""
    return sum(row["p"] is not None for row in family)


def adjusted_p(family: Family, outcome: str, exposure: str) -> float | None:
    """Return the adjusted p-value of an outcome's exposure; None when it is not in the family."""
    return next((r["p_adjusted"] for r in family if (r["outcome"], r["exposure"]) == (outcome, exposure)), None)

"""Adjust the tests of a family of outcomes together."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from hoofcohort.models.multiplicity import holm
from hoofcohort.plan import Plan


def family_table(results: Sequence[Mapping[str, Any]], plan: Plan) -> list[dict[str, Any]]:
    """Return the F tests of the exposures in the adjusted models of the plan's family.

    Parameters
    ----------
    results : sequence of mapping
        Contents of models/<outcome>.json, in any order.
    plan : Plan

    Returns
    -------
    list of dict
        In the plan's order of outcomes and exposures: ``outcome``, ``exposure``, ``num_df``, ``den_df``, ``f``, ``p``
        and ``p_adjusted``, which is ``p`` itself when the plan asks for no adjustment. A test that the data could not
        give has None for its numbers and does not count.
    """
    by_name = {result["outcome"]["name"]: result for result in results}
    rows = []
    for name, own in plan.outcomes.items():
        if name not in by_name or (plan.multiplicity.family == "primary" and own.role != "primary"):
            continue
        tests = {test["term"]: test for test in by_name[name]["adjusted"]["tests"]}
        for exposure in plan.exposures:
            test = tests.get(exposure, {})
            numbers = {key: test.get(key) for key in ("num_df", "den_df", "f", "p")}
            rows.append({"outcome": name, "exposure": exposure, **numbers})
    if plan.multiplicity.method == "holm":
        adjusted = holm([float("nan") if row["p"] is None else row["p"] for row in rows])
    else:
        adjusted = [row["p"] for row in rows]
    return [row | {"p_adjusted": None if row["p"] is None else p} for row, p in zip(rows, adjusted, strict=True)]

"""Sentences on results that rest on fewer assumptions than the mixed model, shown beside it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from hoofcohort.report.numbers import of_things, p_value, significant
from hoofcohort.report.text.words import level_name


def permutation_sentence(record: Mapping[str, Any] | None) -> str:
    """Return what exchanging whole units says of the comparison of interest."""
    if not record or record.get("p") is None:
        reason = (record or {}).get("skipped_reason") or "it was not run"
        return f"No permutation test: {reason.rstrip('.')}."
    level, unit = level_name(record["level"]), level_name(record["level"], many=False)
    holder = level_name(record["within"], many=False) if record["within"] else ""
    where = f" within their {holder}" if holder else ""
    strata = f" in {of_things(record['strata'], holder)}" if holder else ""
    return (
        f"Of the variance of “{record['of']}” that the model's other variables leave, {100 * record['share']:.0f}% "
        f"lies between {level}. Whole {level} were made to exchange what those variables leave of their mean "
        f"outcomes{where}: {of_things(record['units'], unit, level)}{strata}, {record['permutations']:,} permutations. "
        "As close an association as the observed one, or a closer one (correlation "
        f"{significant(record['correlation'], 2)}), had {p_value(record['p'])}. This test assumes no distribution, "
        f"takes {level} to be exchangeable, and uses only the differences at that level: where it has fewer units to "
        "compare than the model, it sees less."
    )


def variance_tests_sentence(record: Mapping[str, Any] | None) -> str:
    """Return how the p values of the variances came about, and which levels have none."""
    if not record:
        return ""
    levels, said = record["levels"], []
    if levels:
        drawn = max(test["replicates"] for test in levels.values())
        said.append(
            "Bootstrap p: a likelihood-ratio test (restricted likelihood) that the level adds nothing, against "
            f"{drawn:,} outcomes simulated without the level, each fitted with and without it; chi-square tables do "
            f"not hold for a variance. The smallest p that so many can give is {significant(1 / (1 + drawn), 1)}. "
            "Whatever it says, the level stays in the model: the data are grouped so."
        )
    failed = sum(test["failed"] for test in levels.values())
    if failed:
        were = "was" if failed == 1 else "were"
        said.append(f"{of_things(failed, 'simulated outcome')} could not be fitted and {were} left out.")
    said += [f"Not tested, {level_name(level)}: {reason.rstrip('.')}." for level, reason in record["skipped"].items()]
    return " ".join(said)

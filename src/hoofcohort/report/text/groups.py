"""Sentences on single horses and yards, on robust standard errors, and on how evenly the deviations spread."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from hoofcohort.report.numbers import df_text, estimate_interval, fixed, listing, of_things, significant
from hoofcohort.report.text.words import effect_label, level_name, upper_first

APART = 1.25
"""Ratio of the larger to the smaller standard error beyond which they may disagree; common practice, no source."""
FEW_CLUSTERS = 10
"""Fewer clusters than this are few; common practice, no source."""
FEW_DF = 4.0
"""Below so many df the robust p value cannot be relied on (Tipton, Psychol Methods 2015;20:375-393)."""
UNEVEN = 1.5
"""Ratio of two standard deviations from which on they are said to differ; common practice, no source."""
LARGE_MOVE = 1.0
"""Moves of at least so many standard errors are called large; common practice, no source."""

Record = Mapping[str, Any]


def influence_sentence(influence: Record | None) -> str:
    """Return which horse and which yard move the comparison of interest most, and what would be said without them."""
    levels = (influence or {}).get("levels") or []
    if influence is None or not any(level["rows"] for level in levels):
        reasons = [level["skipped_reason"] for level in levels if level["skipped_reason"]]
        reason = (influence or {}).get("skipped_reason") or "; ".join(reasons) or "it was not run"
        return f"How far single groups move the result was not worked out: {reason.rstrip('.')}."
    parts = [f"Every horse and every yard was left out in turn, to see what “{influence['of']}” rests on."]
    if len(levels) == 1:
        parts = [f"Every {levels[0]['level']} was left out in turn, to see what “{influence['of']}” rests on."]
    for level in levels:
        parts += _moves(influence, level)
    return " ".join(parts)


def _moves(influence: Record, level: Record) -> Iterator[str]:
    one = level_name(level["level"], many=False)
    if not level["rows"]:
        reason = level["skipped_reason"] or f"no {one} left an estimate"
        yield f"{upper_first(level_name(level['level']))} could not be left out: {reason.rstrip('.')}."
        return
    first = level["rows"][0]
    size = significant(abs(first["change_in_se"]), 2)
    large = ", a large move" if abs(first["change_in_se"]) >= LARGE_MOVE else ""
    yield (
        f"Of {of_things(level['n'], one, level_name(level['level']))}, {one} {first['label']} moves it most: without "
        f"it, the estimate is {estimate_interval(_without(first))} instead of "
        f"{estimate_interval(influence['whole'])}, {size} standard errors away{large}. "
        f"{_zero(influence['whole'], _without(first))}"
    )
    if level["turned"]:
        yield (
            f"Leaving out a single {one} changes whether the interval includes zero for "
            f"{of_things(level['turned'], one, level_name(level['level']))} of {level['n']}."
        )
    if level["failed"]:
        yield (
            f"Without {of_things(level['failed'], one, level_name(level['level']))} the rest could not give the "
            "estimate at all."
        )


def _without(row: Record) -> dict[str, float]:
    return {"estimate": row["estimate_without"], "low": row["low_without"], "high": row["high_without"]}


def _excludes(row: Record) -> bool:
    """Tell whether an interval excludes zero; one without limits does not."""
    return row["low"] is not None and row["high"] is not None and (row["low"] > 0 or row["high"] < 0)


def _zero(whole: Record, without: Record) -> str:
    how = "excludes" if _excludes(without) else "includes"
    if _excludes(whole) == _excludes(without):
        return f"The interval still {how} zero."
    return f"The interval then {how} zero, which that from all rows does not."


def paired_robust(model: Record) -> list[tuple[Record, Record]]:
    """Pair each adjusted effect with its robust estimate, where both exist."""
    rows = {row["label"]: row["robust"] for row in (model.get("robust") or {}).get("effects", [])}
    return [(row, rows[row["label"]]) for row in model["effects"] if row["adjusted"] and rows.get(row["label"])]


def robust_sentences(model: Record) -> list[str]:
    """Return what the robust standard errors rest on, and where they disagree with the model's."""
    record = model.get("robust")
    pairs = paired_robust(model)
    if not record or not pairs:
        reason = (record or {}).get("skipped_reason") or "no effect has one"
        return [f"No robust standard errors: {reason.rstrip('.')}."]
    many = level_name(record["cluster"])
    found = [
        f"These standard errors do not rely on the model's variances being right, only on {many} being independent of "
        f"each other ({of_things(record['clusters'], 'cluster')}; CR2 with Satterthwaite degrees of freedom: Bell and "
        "McCaffrey, Surv Methodol 2002;28:169-181; Pustejovsky and Tipton, J Bus Econ Stat 2018;36:672-683)."
    ]
    apart = [text for text in (_disagreement(row, robust) for row, robust in pairs) if text]
    rule = (
        f"standard errors that differ by more than {100 * (APART - 1):.0f}% and by more than 95 in 100 would at these "
        "degrees of freedom if the model were right, or an interval that excludes zero where the other does not"
    )
    if apart:
        found.append(f"They disagree with the model's for {listing(apart)}: read these with care (the rule: {rule}).")
    else:
        found.append(f"They do not disagree with the model's for any comparison (the rule: {rule}).")
    if record["clusters"] < FEW_CLUSTERS:
        found.append(f"With fewer than {FEW_CLUSTERS} {many} robust standard errors are themselves very uncertain.")
    short = [f"“{effect_label(row)}”" for row, robust in pairs if robust["df"] < FEW_DF]
    if short:
        found.append(
            f"Fewer than {FEW_DF:g} degrees of freedom stand behind {listing(short)}: there the robust interval and p "
            "cannot be relied on (Tipton, Psychol Methods 2015;20:375-393)."
        )
    return found


def _disagreement(row: Record, robust: Record) -> str:
    """Return an effect with how its two standard errors disagree; empty when they do not."""
    ratio = robust["std_error"] / row["adjusted"]["std_error"]
    zero = _excludes(row["adjusted"]) != _excludes(robust)
    chance = robust["chance_low"] <= ratio <= robust["chance_high"]
    if not zero and (chance or max(ratio, 1 / ratio) <= APART):
        return ""
    much = f"robust standard error {abs(100 * (ratio - 1)):.0f}% {'larger' if ratio > 1 else 'smaller'}"
    also = ""
    if zero:
        which = "robust" if _excludes(robust) else "model's"
        also = f", only the {which} interval excludes zero"
    return f"“{effect_label(row)}” ({much}, {df_text(robust['df'])} degrees of freedom{also})"


def spread_sentence(levels: list[Record] | None) -> str:
    """Return where residuals or predicted effects spread unevenly."""
    compared = [level for level in levels or [] if level["fitted"] or level["variables"]]
    if not compared:
        return "Too few groups to compare how residuals and predicted effects spread."
    found = []
    for level in compared:
        what = "residuals" if level["level"] == "residual" else f"predicted effects of {level_name(level['level'])}"
        along = level["fitted"]
        if along and max(along["ratio"], 1 / along["ratio"]) >= UNEVEN:
            how = "more widely" if along["ratio"] > 1 else "less widely"
            ratio = max(along["ratio"], 1 / along["ratio"])
            found.append(
                f"{what} spread {how} where the fitted value is high than where it is low ({fixed(ratio, 1)} times)"
            )
        for own in level["variables"]:
            if own["ratio"] >= UNEVEN:
                wide = max(own["words"], key=lambda row: row["sd"])
                narrow = min(own["words"], key=lambda row: row["sd"])
                found.append(
                    f"{what} spread more widely with {own['title']} {wide['word']} than with {narrow['word']} "
                    f"({fixed(own['ratio'], 1)} times)"
                )
    rule = f"ratio of standard deviations {UNEVEN:g} or more; common practice, no source"
    if not found:
        return f"Residuals and predicted effects spread alike along the fitted values and between words ({rule})."
    return (
        f"The model takes the spread to be the same everywhere. It may not be ({rule}): {'; '.join(found)}. The robust "
        "standard errors allow for it."
    )

"""Sentences on one outcome's models: what they are, what they could not do, how they were checked."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from hoofcohort.indices import CATALOGUE
from hoofcohort.report.numbers import df_text, fixed, listing, of_things, significant, unit_words
from hoofcohort.report.text.words import exposure_title, level_name, upper_first

AGREE_STEPS = 0.01
"""Two programs agree when their estimates differ by less than this many standard errors."""
DISAGREE_STEPS = 0.1
HARDLY = 0.995
"""Ratio of standard errors from which on one is said to hardly differ from the other."""


def definition_sentence(outcome: Mapping[str, Any]) -> str:
    """Return an outcome's role and definition; the source is told for indices, a measurement has none of its own."""
    role = f"{upper_first(outcome['role'])} outcome"
    if outcome["name"] not in CATALOGUE:
        measured = f": {outcome['formula'].rstrip('.')}" if outcome.get("formula") else ""
        return f"{role}, measured as it is{measured}."
    return f"{role}: {outcome['formula']}. Source of the definition: {outcome['source']}."


def model_sentence(model: Mapping[str, Any]) -> str:
    """Return what the adjusted model is."""
    fit, settings = model["adjusted"], model["settings"]
    used = [row["level"] for row in fit["variances"] if row["level"] != "residual"]
    crossed = [name for name in settings.get("crossed", []) if name in used]
    order = " within ".join(reversed([level for level in used if ":" not in level and level not in crossed]))
    also = [level_name(name) for name in used if ":" in name]
    extra = f", and for {listing(also)}, which cut across the feet" if also else ""
    if crossed:
        extra += f", and for {listing([level_name(name) for name in crossed])}, which cut across all of these"
    adjustments = [row["title"] for row in model["variables"] if row["role"] == "adjustment"]
    by = {"reml": "restricted maximum likelihood", "ml": "maximum likelihood"}[fit["method"]]
    adjusted = f", adjusted for {listing(adjustments)}" if adjustments else ""
    return (
        f"Linear mixed model of {model['outcome']['title']} on {_exposures(settings)}"
        f"{adjusted}, with random intercepts for {order}{extra}; fitted by {by}."
    )


def _exposures(settings: Mapping[str, Any]) -> str:
    """Return the exposures with the time over which each was taken."""
    times = {True: "on the day of the visit", False: f"over the {settings['window_days']} days up to the visit"}
    by_time: dict[str, list[str]] = {}
    for name, exposure in settings["exposures"].items():
        by_time.setdefault(times[exposure.get("form") == "as_of"], []).append(exposure_title(name))
    together = " together" if len(settings["exposures"]) > 1 else ""
    if len(by_time) == 1:
        return "".join(f"{listing(names)}{together} {time}" for time, names in by_time.items())
    return ", and ".join(f"{listing(names)} {time}" for time, names in by_time.items()) + f",{together}"


def groups_sentence(fit: Mapping[str, Any]) -> str:
    """Return how many readings and groups the fit used."""
    groups = [f"{count} {level_name(level, count != 1)}" for level, count in fit["groups"].items()]
    return f"The model used {of_things(fit['rows_used'], 'reading')}, in {listing(groups)}."


def not_done(model: Mapping[str, Any]) -> list[str]:
    """Return what the model could not do, one sentence each; empty when there is nothing to say."""
    fit = model["adjusted"]
    found = []
    if not fit["converged"]:
        found.append(
            f"The search for the variances did not converge after {of_things(fit['iterations'], 'step')}: the "
            "estimates "
            "must not be used."
        )
    found += [boundary_sentence(level) for level in fit["boundary"]]
    if fit["dropped_terms"]:
        found.append(
            f"{upper_first(of_things(len(fit['dropped_terms']), 'column'))} could not be told apart from other columns "
            f"and had to be left out: {listing(fit['dropped_terms'])}. Their estimates do not exist in these data."
        )
    if fit["rows_dropped"]:
        found.append(
            f"{of_things(fit['rows_dropped'], 'row')} with a missing value "
            f"{'was' if fit['rows_dropped'] == 1 else 'were'} left out of the fit."
        )
    found += [f"{line}" for line in fit["messages"] if not _said(line)]
    found += model["messages"]
    return list(dict.fromkeys(found))


def _said(line: str) -> bool:
    """Tell whether one of the engine's messages repeats what is said from the numbers."""
    return "at its boundary" in line or "was left out" in line or "did not converge" in line


def boundary_sentence(level: str) -> str:
    """Return what a variance of zero means, and what it does not."""
    return (
        f"The variance between {level_name(level)} was estimated as zero, the lowest it can be (a singular fit): these "
        f"data show no more difference between {level_name(level)} than the other levels account for. That is not "
        "evidence that there is none."
    )


def variance_sentence(model: Mapping[str, Any]) -> str:
    """Return which level holds most of the variance left over by exposures and adjustments."""
    rows = model["adjusted"]["variances"]
    total = sum(row["variance"] for row in rows)
    if not total > 0:
        return "No variance was left over."
    largest = max(rows, key=lambda row: row["variance"])
    share = round(100 * largest["variance"] / total)
    between = f"between {level_name(largest['level'])}"
    if largest["level"] == "residual":
        between = "between readings of one foot (residual)"
    return f"Of the variance that exposures and adjustments leave, the largest part, {share}%, lies {between}."


def crossed_sentences(model: Mapping[str, Any]) -> list[str]:
    """Return what each crossed factor holds of the variance; empty when the model has none."""
    fit, found = model["adjusted"], []
    for name in model["settings"].get("crossed", []):
        row = next((row for row in fit["variances"] if row["level"] == name), None)
        if row is None:
            continue
        one, many, icc = level_name(name, many=False), level_name(name), fit["icc"][name]
        unit = "" if model["outcome"]["unit"] == "ratio" else f" {unit_words(model['outcome']['unit'])}"
        told = f"SD {significant(row['sd'], 3)}{unit}, ICC {fixed(icc, 2)}"
        if row["sd"] == 0:
            told = "its variance was estimated as zero"
        found.append(
            f"Differences between {many} are a random factor that cuts across the levels "
            f"({of_things(fit['groups'][name], one, many)}): {told}. The ICC is the correlation of two readings that "
            f"have nothing but the {one} in common."
        )
    return found


def r2_sentence(model: Mapping[str, Any]) -> str:
    """Return both R2 in words."""
    r2 = model["adjusted"]["r2"]
    if r2.get("marginal") is None or r2.get("conditional") is None:
        return "R² could not be computed."
    return (
        f"Exposures and adjustments account for {100 * r2['marginal']:.0f}% of the variance (marginal R²); together "
        f"with the levels, {100 * r2['conditional']:.0f}% (conditional R²; Nakagawa and Schielzeth, Methods Ecol Evol "
        "2013;4:133-142)."
    )


def check_sentence(check: Mapping[str, Any] | None) -> str:
    """Return how far the independent check agrees."""
    if not check or not check.get("available"):
        reason = (check or {}).get("reason") or "it was not run"
        return f"No independent check by another program: {reason.rstrip('.')}."
    program = f"{check['library']} {check['version']}"
    steps = [
        abs(row["ours"] - row["theirs"]) / row["ours_std_error"]
        for row in check["coefficients"]
        if row["theirs"] is not None and row["ours"] is not None and row["ours_std_error"]
    ]
    if not check.get("converged"):
        return f"{program} was given the same model but did not converge, so its numbers are no check."
    if not steps:
        return f"{program} was given the same model but returned no comparable estimate."
    worst = max(steps)
    size = "less than 0.001" if worst < 0.001 else significant(worst, 2)
    verdict = "agrees" if worst < AGREE_STEPS else "nearly agrees" if worst < DISAGREE_STEPS else "DISAGREES"
    return (
        f"{program}, a separate program given the same model, {verdict}: the largest difference between the two in "
        f"any coefficient is {size} standard errors."
    )


def without_visit_sentence(model: Mapping[str, Any]) -> str:
    """Return what leaving out the visits would have done to the standard errors."""
    pairs = [
        (row, other)
        for row, other in paired_effects(model)
        if row["adjusted"]["std_error"] and other["adjusted"]["std_error"] is not None
    ]
    if not pairs:
        return "The model without the grouping by visit was not fitted."
    pairs.sort(key=_ratio)
    chosen = next((pair for pair in pairs if pair[0]["of_interest"]), pairs[0])
    text = _visits_change(*chosen)
    if chosen is not pairs[0] and _ratio(pairs[0]) <= HARDLY:
        text += f" The most affected was “{pairs[0][0]['label']}”, {100 * (1 - _ratio(pairs[0])):.0f}% smaller."
    return text


def _ratio(pair: tuple[Mapping[str, Any], Mapping[str, Any]]) -> float:
    return pair[1]["adjusted"]["std_error"] / pair[0]["adjusted"]["std_error"]


def _visits_change(row: Mapping[str, Any], other: Mapping[str, Any]) -> str:
    ratio, what = _ratio((row, other)), f"“{row['label']}”"
    error = f"the standard error of {what}"
    if row["of_interest"]:
        error = f"the standard error of the comparison of interest, {what},"
    if abs(1 - ratio) < 1 - HARDLY:
        return f"Leaving the visits out would hardly have changed {error.rstrip(',')}, the ratio being {ratio:.2f}."
    dfs = f"with {df_text(other['adjusted']['df'])} instead of {df_text(row['adjusted']['df'])} degrees of freedom"
    if ratio > 1:
        return f"Had the visits been left out, {error} would have been {100 * (ratio - 1):.0f}% larger, {dfs}."
    return (
        f"Had the visits been left out, {error} would have been {100 * (1 - ratio):.0f}% smaller, {dfs}: certainty "
        "that is not in the data."
    )


def paired_effects(model: Mapping[str, Any]) -> list[tuple[Mapping[str, Any], Mapping[str, Any]]]:
    """Pair each effect with the same one in the model without the visits."""
    other = model.get("without_visit")
    rows = other.get("effects", []) if isinstance(other, Mapping) else other or []
    by_label = {row["label"]: row for row in rows}
    return [
        (row, by_label[row["label"]])
        for row in model["effects"]
        if row["adjusted"] and row["label"] in by_label and by_label[row["label"]].get("adjusted")
    ]

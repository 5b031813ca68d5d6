"""The plan as declared, in sentences."""

from __future__ import annotations

from hoofcohort.plan import Outcome, OutcomeSettings, Plan
from hoofcohort.report.numbers import listing, percent_level
from hoofcohort.report.text.shapes import shape_plan_sentences
from hoofcohort.report.text.words import exposure_title, level_name, measure
from hoofcohort.tables.variables import title_of

FORMS = {
    "share": "share of the window's days with each word",
    "mean": "mean over the window's days",
    "as_of": "value on the day of the visit",
}


LEFT_OUT = {
    "yard": ("the horses of one yard", "between yards"),
    "horse": ("the readings of one horse", "between horses"),
    "foot": ("the readings of one foot", "between feet"),
    "horse:visit": ("the feet of a horse at one visit", "from visit to visit"),
}
"""Per level: whose readings share something, and what kind of variation then looks surer than it is."""


def written_sentence(plan: Plan) -> str:
    """Return when the plan was fixed."""
    return f"The plan was fixed on {plan.written.isoformat()}; everything below was declared in it."


def data_sentence(plan: Plan) -> str:
    """Return which files the plan names, and up to which day."""
    files = listing([plan.data.horses, plan.data.management, plan.data.feet])
    until = f" Rows later than {plan.data.as_of.isoformat()} are rejected." if plan.data.as_of else ""
    return f"Data: {files}.{until}"


def plan_sentences(plan: Plan) -> list[str]:
    """Return adjustments, levels, coverage, intervals and multiplicity."""
    adjustments = [title_of(name) for name in plan.adjustments]
    found = [
        f"Adjustments: {listing(adjustments)}." if adjustments else "No adjustments.",
        f"Levels, outermost first: {listing([level_name(name) for name in plan.levels])}{_also(plan.also)}"
        f"{_crossed(plan.crossed)}.",
    ]
    if plan.interactions:
        pairs = [" × ".join(title_of(name) for name in pair) for pair in plan.interactions]
        found.append(f"Interactions: {listing(pairs)}.")
    references = [f"{title_of(name)} “{value}”" for name, value in plan.references.items()]
    if references:
        found.append(f"Reference values of adjustments: {listing(references)}.")
    found += shape_plan_sentences(plan, {name: title_of(name) for name in plan.shapes})
    found += [
        coverage_sentence(plan),
        f"Intervals are {percent_level(plan.confidence)} intervals.",
        multiplicity_sentence(plan),
    ]
    return found


def coverage_sentence(plan: Plan) -> str:
    """Return what must be on record of the exposures for a reading to be analysed; per outcome where that differs."""
    by_rule: dict[str, list[str]] = {}
    for name in plan.outcomes:
        by_rule.setdefault(_on_record(plan.for_outcome(name)), []).append(outcome_title(name))
    if len(by_rule) == 1:
        return f"A reading is analysed only when {next(iter(by_rule))}."
    return " ".join(f"For {listing(names)}, a reading is analysed only when {rule}." for rule, names in by_rule.items())


def _on_record(settings: OutcomeSettings) -> str:
    day = [exposure_title(name) for name, own in settings.exposures.items() if own.form == "as_of"]
    window = [exposure_title(name) for name, own in settings.exposures.items() if own.form != "as_of"]
    rules = []
    if window:
        of = f" with {listing(window)}" if day else ", for each exposure"
        rules.append(f"at least {100 * settings.minimum_coverage:g}% of the days of its window are on record{of}")
    if day:
        rules.append(f"{listing(day)} {'is' if len(day) == 1 else 'are'} on record on the day of the visit")
    return listing(rules)


def leaves_out_sentence(level: str) -> str:
    """Return what follows for the standard errors when a plan leaves out a level that the readings have."""
    shared, between = LEFT_OUT[level]
    return (
        f"The plan leaves out what {shared} share: standard errors of anything that varies {between} are then too "
        "small, and its intervals too narrow."
    )


def _also(names: list[str]) -> str:
    if not names:
        return "; the plan leaves out what the feet of a horse share at one visit"
    return f"; across the feet also {listing([level_name(name) for name in names])}"


def _crossed(names: list[str]) -> str:
    return f"; across all of these {listing([level_name(name) for name in names])}" if names else ""


def multiplicity_sentence(plan: Plan) -> str:
    """Return which tests are adjusted together, and how."""
    whose = "the primary outcomes" if plan.multiplicity.family == "primary" else "all outcomes"
    how = {
        "holm": "adjusted together by Holm's method (Scand J Stat 1979;6:65-70)",
        "none": "not adjusted for multiplicity, by the plan's choice",
    }[plan.multiplicity.method]
    return f"The exposures' F tests in the adjusted models of {whose} are {how}."


def comparison_text(settings: OutcomeSettings) -> str:
    """Return an outcome's comparison of interest in a few words."""
    comparison = settings.comparison
    if comparison is None:
        return "none named"
    title = exposure_title(comparison.exposure)
    if comparison.exposure in settings.shapes:
        values = settings.shapes[comparison.exposure].values
        ends = f"{values[-1]:g} v {values[0]:g}" if values else "90th v 10th percentile"
        return f"{title}, {ends}"
    if comparison.first is None:
        return f"{title}, slope"
    return f"{title}: {comparison.first} v {comparison.second}"


def differs_text(plan: Plan, name: str) -> str:
    """Return which of the study's settings an outcome changes."""
    own: Outcome = plan.outcomes[name]
    changed = [key for key in ("exposures", "adjustments", "interactions", "levels", "also") if getattr(own, key)]
    changed += [key for key in ("adjustments", "interactions", "levels", "also") if getattr(own, key) == []]
    return f"own {listing(changed)}" if changed else "as the study"


def outcome_title(name: str) -> str:
    """Return an outcome's title."""
    return measure(name)[0]

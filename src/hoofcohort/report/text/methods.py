"""Methods, limitations and cautions in words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from hoofcohort.plan import OutcomeSettings, Plan
from hoofcohort.report.numbers import listing, of_things, percent_level
from hoofcohort.report.text.plan import coverage_sentence, leaves_out_sentence, multiplicity_sentence
from hoofcohort.report.text.shapes import shape_method_sentence
from hoofcohort.report.text.words import exposure_title, level_name, measure, upper_first

KENWARD_ROGER = "Kenward and Roger, Biometrics 1997;53:983-997"
BOOTSTRAP = "parametric bootstrap: Halekoh and Højsgaard, J Stat Softw 2014;59(9)"
NAKAGAWA = "Nakagawa and Schielzeth, Methods Ecol Evol 2013;4:133-142"
STROBE_VET = "Sargeant, O'Connor and others, J Vet Intern Med 2016;30:1887-1895"
NOT_INTERCHANGEABLE = "J Equine Vet Sci 2022;121:104195"
MUCH_LOST = 0.1
"""Share of the accepted readings from which on their loss is named as a limitation; the project's own limit."""
CAUTIONS = (
    "This report describes associations in one cohort. It is no diagnosis of any horse, and no advice on how to "
    "trim or "
    "shoe.",
    "For a horse that is lame, sore or ill, the attending veterinary surgeon decides. Trimming and shoeing belong "
    "in the "
    "hands of those whom local law licenses to do them.",
    "Local rules on animal welfare, biosecurity and the handling of specimens come before anything in this report.",
    "Cut-offs are limits that somebody has used, each with its source; a reading beyond one is not a disease.",
)


def methods_sentences(plan: Plan) -> list[str]:
    """Return the methods, a paragraph each."""
    return [
        "Every row of the three files was accepted or rejected by declared rules (form, possible range, relations "
        "between "
        "cells and tables) before anything was computed. Values that are possible but not plausible were kept and "
        "flagged.",
        f"{_exposures(plan)} {coverage_sentence(plan)} Age counts from 1 January of the birth year, as only the year "
        "is recorded.",
        f"Each outcome was modelled by a linear mixed model with random intercepts for {_levels(plan)}, fitted by "
        "restricted maximum likelihood. Standard errors, degrees of freedom and F tests are those of "
        f"{KENWARD_ROGER}; intervals are {percent_level(plan.confidence)} intervals, those of standard deviations and "
        "ICC from the profile of the restricted likelihood. Whether a level adds anything was tested by the "
        f"likelihood ratio against outcomes simulated without it ({BOOTSTRAP}). Unadjusted estimates come "
        "from models "
        "with one exposure and the same levels, on the same readings. Marginal means hold numbers at their mean "
        "and weight "
        "the words of a factor equally.",
        f"{multiplicity_sentence(plan)} R² are those of {NAKAGAWA}. {shape_method_sentence(plan)}".rstrip(),
        "Angles and lengths taken by different methods are not interchangeable (six methods, 62 measures: "
        f"{NOT_INTERCHANGEABLE}); {_method(plan)}",
        f"The report is laid out after the STROBE-Vet statement ({STROBE_VET}): levels of organisation, owners and "
        "animals "
        "counted apart, non-independence in the analysis, missing data per variable, unadjusted beside adjusted "
        "estimates. A "
        "causal diagram and the size of bias, which the statement also asks for, are for the authors to add.",
    ]


def _exposures(plan: Plan) -> str:
    """Return how exposures were taken from the record; per outcome where that differs."""
    by_forms: dict[str, list[str]] = {}
    for name in plan.outcomes:
        by_forms.setdefault(_forms(plan.for_outcome(name)), []).append(measure(name)[0])
    days = sorted(
        {
            own.window_days
            for own in map(plan.for_outcome, plan.outcomes)
            if any(exposure.form != "as_of" for exposure in own.exposures.values())
        }
    )
    opening = "Exposures were taken as they were on record on the day of the visit."
    if days:
        opening = (
            "Exposures were looked up over the days in which the horn under study grew: a window of "
            f"{listing([str(day) for day in days], 'or')} days that ends on the day of the visit."
        )
    if len(by_forms) == 1:
        return f"{opening} {upper_first(next(iter(by_forms)))}."
    return " ".join([opening, *(f"For {listing(names)}: {forms}." for forms, names in by_forms.items())])


def _forms(settings: OutcomeSettings) -> str:
    by_form: dict[str, list[str]] = {}
    for name, exposure in settings.exposures.items():
        by_form.setdefault(exposure.form or "share", []).append(exposure_title(name))
    said = {
        "share": "the share of those days with each word",
        "mean": "the mean over those days",
        "as_of": "the value on the day of the visit",
    }
    return "; ".join(f"{listing(titles)} as {said[form]}" for form, titles in by_form.items())


def _levels(plan: Plan) -> str:
    nested = listing([level_name(name) for name in plan.levels])
    also = f", and for {listing([level_name(name) for name in plan.also])}" if plan.also else ""
    crossed = f", and for {listing([level_name(name) for name in plan.crossed])}" if plan.crossed else ""
    return f"{nested}{also}{crossed}"


def _method(plan: Plan) -> str:
    if "method" in plan.adjustments:
        return "the models adjust for the method, which takes away a constant difference between methods and no more."
    return "the models do not adjust for the method, so readings of several methods are pooled as they are."


def limitations(
    plan: Plan,
    models: Mapping[str, Mapping[str, Any]],
    contrasts: Mapping[str, tuple[int, int]],
    left_out: Sequence[str] = (),
) -> list[str]:
    """Return the limitations, those that hold for every such study and those of this one.

    Parameters
    ----------
    plan : Plan
    models : mapping
        Results by outcome.
    contrasts : mapping
        Per exposure: yards in which horses differ in it, and yards.
    left_out : sequence of str
        Levels that the readings have and the plan leaves out.
    """
    found = [
        "Horses were not allotted to how they are kept. Who keeps a horse, how it works and who trims it go with diet, "
        f"ground and trim interval, and adjustment removes only what was recorded, as far as it was recorded well. "
        f"{_farrier(plan)}",
        "The direction may be the reverse: feed, ground or trim interval may have been chosen because of the feet.",
        "Owners who take part choose themselves; the cohort need not be like other horses, and the direction of "
        "that bias is unknown.",
        *_with_yard(contrasts),
        "One estimate per comparison pools differences between yards, between horses and within a horse over time; "
        "these need not be alike.",
        *_trimming(plan),
        _observers(plan),
        *(leaves_out_sentence(level) for level in left_out),
    ]
    lost = [model for model in models.values() if _share_lost(model) >= MUCH_LOST]
    found += [_lost(lost)] if lost else []
    singular = [measure(name)[0] for name, model in models.items() if model["adjusted"]["boundary"]]
    if singular:
        found.append(
            f"At least one variance was estimated as zero for {listing(singular)}: these data show no more difference "
            "between the groups of that level than the other levels account for. That is not evidence that there is "
            "none."
        )
    found.append(
        f"No sensitivity analyses beyond those shown ({listing(_shown(list(models.values())))}) were part of this run."
    )
    found += _secondary(plan)
    return found


def _with_yard(contrasts: Mapping[str, tuple[int, int]]) -> list[str]:
    """Return how far yard and exposure are one."""
    if not contrasts:
        return []
    differ = [f"in {exposure_title(name)} in {inside} of {whole}" for name, (inside, whole) in contrasts.items()]
    text = (
        f"Exposure and yard go together. By the groups of the table of the cohort, horses of one yard differ "
        f"{listing(differ)} yards; in the others the exposure cannot be told apart from anything else about the yard."
    )
    mostly = [exposure_title(name) for name, (inside, whole) in contrasts.items() if whole > 1 and inside < whole / 2]
    if mostly:
        text += f" Comparisons of {listing(mostly)} therefore rest mainly on differences between yards."
    return [text]


def _trimming(plan: Plan) -> list[str]:
    both = any(
        "trim_interval_days" in own.exposures and "days_since_trim" in own.adjustments
        for own in map(plan.for_outcome, plan.outcomes)
    )
    if not both:
        return []
    return [
        "Trim interval and days since the last trim are in one model: what is said of the trim interval holds at equal "
        "days since the trim, and leaves out that a longer interval lets more days pass."
    ]


def _farrier(plan: Plan) -> str:
    """Return whether the models know who trimmed, in all, some or no outcomes."""
    known = ["farrier_id" in (*own.adjustments, *own.crossed) for own in map(plan.for_outcome, plan.outcomes)]
    if all(known):
        return "Who trims is in the models only as the farrier on record on the day of the visit."
    if any(known):
        return "Who trims is in the models of some outcomes, as the farrier on record on the day of the visit."
    return "The models do not hold who trims, so nothing here is adjusted for it."


def _observers(plan: Plan) -> str:
    settings = [plan.for_outcome(name) for name in plan.outcomes]
    if any("observer_id" in own.crossed for own in settings):
        how = "the observer as a random factor takes in a constant difference between observers and no more."
    elif any("observer_id" in own.adjustments for own in settings):
        how = "adjusting for the observer removes only a constant difference between observers."
    else:
        how = "the models do not adjust for the observer."
    return f"How well observers agree was not assessed; {how}"


def _shown(models: Sequence[Mapping[str, Any]]) -> list[str]:
    """Return the sensitivity analyses that the run has."""
    found = ["unadjusted estimates"]
    influence = [level for model in models for level in (model.get("influence") or {}).get("levels", [])]
    levels = {level["level"] for level in influence if level["rows"]}
    found += [f"one {level_name(level, many=False)} left out at a time" for level in sorted(levels)]
    if any(model.get("without_visit") for model in models):
        found.append("the model without visits")
    if any(own["robust"] for model in models for own in (model.get("robust") or {}).get("effects", [])):
        found.append("robust standard errors")
    if any((model.get("check") or {}).get("available") for model in models):
        found.append("the independent check")
    return found


def _share_lost(model: Mapping[str, Any]) -> float:
    first, last = model["flow"][0]["readings"], model["flow"][-1]["readings"]
    return 1 - last / first if first else 0.0


def _lost(models: Sequence[Mapping[str, Any]]) -> str:
    parts = [f"{100 * _share_lost(model):.0f}% for {model['outcome']['title']}" for model in models]
    return (
        f"Many accepted readings could not be analysed: {listing(parts)}. If they were missing for a reason that "
        "goes with "
        "feet and keeping, the estimates are biased."
    )


def _secondary(plan: Plan) -> Sequence[str]:
    names = [name for name, outcome in plan.outcomes.items() if outcome.role == "secondary"]
    if not names or plan.multiplicity.family == "all":
        return []
    return [
        f"{of_things(len(names), 'secondary outcome')} ({listing([measure(name)[0] for name in names])}) "
        f"{'stands' if len(names) == 1 else 'stand'} outside the family of adjusted tests: read "
        f"{'it' if len(names) == 1 else 'them'} as exploration."
    ]

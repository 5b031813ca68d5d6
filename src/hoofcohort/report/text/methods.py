"""Methods, limitations and cautions in words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from hoofcohort.plan import Plan
from hoofcohort.report.numbers import listing, of_things, percent_level
from hoofcohort.report.text.plan import multiplicity_sentence
from hoofcohort.report.text.words import exposure_title, level_name, measure

KENWARD_ROGER = "Kenward and Roger, Biometrics 1997;53:983-997"
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
        f"Exposures were looked up over the days in which the horn under study grew: a window of {_windows(plan)} that "
        f"ends on the day of the visit. {_forms(plan)} A reading was left out when less than "
        f"{100 * plan.minimum_coverage:g}% of its window was on record.",
        f"Each outcome was modelled by a linear mixed model with random intercepts for {_levels(plan)}, fitted by "
        "restricted maximum likelihood. Standard errors, degrees of freedom and F tests are those of "
        f"{KENWARD_ROGER}; intervals are {percent_level(plan.confidence)} intervals. Unadjusted estimates come "
        "from models "
        "with one exposure and the same levels, on the same readings. Marginal means hold numbers at their mean "
        "and weight "
        "the words of a factor equally.",
        f"{multiplicity_sentence(plan)} R² are those of {NAKAGAWA}.",
        "Angles and lengths taken by different methods are not interchangeable (six methods, 62 measures: "
        f"{NOT_INTERCHANGEABLE}); {_method(plan)}",
        f"The report is laid out after the STROBE-Vet statement ({STROBE_VET}): levels of organisation, owners and "
        "animals "
        "counted apart, non-independence in the analysis, missing data per variable, unadjusted beside adjusted "
        "estimates. A "
        "causal diagram and the size of bias, which the statement also asks for, are for the authors to add.",
    ]


def _windows(plan: Plan) -> str:
    days = sorted({plan.for_outcome(name).window_days for name in plan.outcomes})
    return f"{listing([str(day) for day in days], 'or')} days"


def _forms(plan: Plan) -> str:
    by_form: dict[str, list[str]] = {}
    for name, exposure in plan.exposures.items():
        by_form.setdefault(exposure.form or "share", []).append(exposure_title(name))
    said = {
        "share": "the share of those days with each word",
        "mean": "the mean over those days",
        "as_of": "the value on the day itself",
    }
    parts = [f"{listing(titles)} as {said[form]}" for form, titles in by_form.items()]
    return f"{'; '.join(parts)}."[:1].upper() + f"{'; '.join(parts)}."[1:]


def _levels(plan: Plan) -> str:
    nested = listing([level_name(name) for name in plan.levels])
    also = f", and for {listing([level_name(name) for name in plan.also])}" if plan.also else ""
    return f"{nested}{also}"


def _method(plan: Plan) -> str:
    if "method" in plan.adjustments:
        return "the models adjust for the method, which takes away a constant difference between methods and no more."
    return "the models do not adjust for the method, so readings of several methods are pooled as they are."


def limitations(
    plan: Plan, models: Mapping[str, Mapping[str, Any]], yards: int, contrasts: Mapping[str, tuple[int, int]]
) -> list[str]:
    """Return the limitations, those that hold for every such study and those of this one.

    Parameters
    ----------
    plan : Plan
    models : mapping
        Results by outcome.
    yards : int
        Number of yards with a reading.
    contrasts : mapping
        Per exposure: yards in which horses differ in it, and yards.
    """
    found = [
        "Horses were not allotted to how they are kept. Who keeps a horse, how it works and who trims it go with diet, "
        "ground and trim interval, and adjustment removes only what was recorded, as far as it was recorded well.",
        "Owners who take part choose themselves; the cohort need not be like other horses, and the direction of "
        "that bias "
        "is unknown.",
    ]
    inside = [name for name, (with_contrast, _) in contrasts.items() if with_contrast < yards / 2]
    if inside:
        found.append(
            f"In most yards all horses are kept alike in {listing([exposure_title(name) for name in inside])}: those "
            "comparisons rest mainly on differences between yards, where yard and exposure are hard to tell apart."
        )
    lost = [model for model in models.values() if _share_lost(model) >= MUCH_LOST]
    found += [_lost(lost)] if lost else []
    singular = [measure(name)[0] for name, model in models.items() if model["adjusted"]["boundary"]]
    if singular:
        found.append(
            f"At least one variance was estimated as zero for {listing(singular)}: the data are too few to tell those "
            "levels apart."
        )
    found.append(
        "No sensitivity analyses beyond those shown (unadjusted estimates, one group left out at a time, the "
        "model without "
        "visits, the independent check) were part of this run."
    )
    found += _secondary(plan)
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

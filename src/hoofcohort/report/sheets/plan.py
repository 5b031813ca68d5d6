"""The plan's outcomes and exposures as tables."""

from __future__ import annotations

from hoofcohort.plan import Plan
from hoofcohort.report.numbers import NOTHING, unit_words
from hoofcohort.report.sheet import Column, Record, Sheet, text
from hoofcohort.report.text.plan import FORMS, comparison_text, differs_text
from hoofcohort.report.text.words import exposure_title, exposure_unit, measure, upper_first


def outcomes_sheet(plan: Plan) -> Sheet:
    """Return the plan's outcomes."""
    records = []
    for name, outcome in plan.outcomes.items():
        settings = plan.for_outcome(name)
        title, unit = measure(name)
        records.append(
            {"name": name, "title": title, "unit": unit, "role": outcome.role, "window_days": settings.window_days}
            | {"comparison": comparison_text(settings), "settings": differs_text(plan, name)}
        )
    return Sheet(
        "plan_outcomes",
        "Outcomes as declared.",
        ("name", "title", "unit", "role", "window_days", "comparison", "settings"),
        records,
        (
            Column("Outcome", lambda r: f"{upper_first(r['title'])}, {unit_words(r['unit'])}", number=False),
            Column("Role", text("role"), number=False),
            Column("Window, days", text("window_days")),
            Column("Comparison of interest", text("comparison"), number=False),
            Column("Settings", text("settings"), number=False),
        ),
    )


def exposures_sheet(plan: Plan) -> Sheet:
    """Return the plan's exposures."""
    records = [
        {"name": name, "form": FORMS[exposure.form or "share"], "reference": exposure.reference, "per": exposure.per}
        for name, exposure in plan.exposures.items()
    ]
    return Sheet(
        "plan_exposures",
        "Exposures as declared.",
        ("name", "form", "reference", "per"),
        records,
        (
            Column("Exposure", lambda r: upper_first(exposure_title(r["name"])), number=False),
            Column("Enters the models as", text("form"), number=False),
            Column("Reference", text("reference"), number=False),
            Column(
                "Differences per",
                lambda r: _per(r, plan),
                number=False,
            ),
        ),
    )


def _per(record: Record, plan: Plan) -> str:
    if record["name"] in plan.shapes:
        return "difference between values of a curve"
    return NOTHING if record["per"] is None else f"{record['per']:g} {exposure_unit(record['name'])}"

"""The analysis plan: the only place that says what a study may ask.

A plan is a YAML file, written before the data are looked at. ``load_plan`` validates it whole and reports every fault
at once; ``Plan.for_outcome`` gives everything that one outcome's job takes from it. Nothing heavy is imported here:
the workflow reads the plans at every start.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from datetime import date
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field

from hoofcohort.errors import PlanError

LEVELS = ("yard", "horse", "foot")
MAX_WINDOW_DAYS = 1095


def _as_date(value: Any) -> Any:
    """Accept a date, or text in ISO 8601, and nothing that would have to be guessed at (pydantic reads numbers)."""
    if isinstance(value, str) and re.fullmatch(r"\d{4}-\d\d-\d\d", value, flags=re.ASCII):
        return date.fromisoformat(value)
    if type(value) is not date:
        raise ValueError("not a date")
    return value


Day = Annotated[date, BeforeValidator(_as_date)]
Name = Annotated[str, Field(min_length=1)]
WindowDays = Annotated[int, Field(ge=1, le=MAX_WINDOW_DAYS)]


def described(description: str, *, unit: str = "", default: Any = ..., **more: Any) -> Any:
    """Return a field with its description and, when it is a quantity, its unit."""
    return Field(default, description=description, json_schema_extra={"unit": unit} if unit else None, **more)


class Part(BaseModel):
    """What all parts of a plan have in common: unknown keys are faults, numbers are not read out of text."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, allow_inf_nan=False)


class Data(Part):
    """The study's files. Paths are from the folder in which the command is started."""

    horses: Name = described("CSV file with one row per horse.")
    management: Name = described("CSV file with one row per stretch of time in which a horse was kept in one way.")
    feet: Name = described("CSV file with one row per reading: one foot, one visit, one observer.")
    as_of: Day | None = described(
        "The last day that may occur in the data; a row with a later date is rejected. Left out: no such limit.",
        unit="date, YYYY-MM-DD",
        default=None,
    )


class Comparison(Part):
    """The one comparison that an outcome is about."""

    exposure: Name = described("The exposure compared; one of the plan's `exposures`.")
    first: Name | None = described(
        "Word exposures: the value whose difference from `second` is of interest. Not for number exposures, whose "
        "comparison is the slope per `per` units, or with a shape the difference between its `values`.",
        default=None,
    )
    second: Name | None = described("Word exposures: the value that `first` is compared with.", default=None)


class Exposure(Part):
    """How one management column enters the models."""

    form: Literal["share", "mean", "as_of"] | None = described(
        "`share`: the share of the window's days with each word (word columns). `mean`: the mean over the window's "
        "days (number columns). `as_of`: the value on the day of the visit (both). Left out: `share` for words, "
        "`mean` for numbers.",
        default=None,
    )
    reference: Name | None = described(
        "Word columns: the value that the others are compared with. Left out: the column's first word.", default=None
    )
    per: Annotated[float, Field(gt=0)] | None = described(
        "Number columns: differences are stated per this many units. Left out: 1. Not with a shape (`shapes`).",
        unit="the column's unit",
        default=None,
    )


class Shape(Part):
    """How the outcome may follow a number: any other number enters as a straight line."""

    form: Literal["spline", "polynomial"] = described(
        "`spline`: a restricted cubic spline, smooth between its knots and straight beyond the outer ones. "
        "`polynomial`: powers up to `degree`."
    )
    knots: Annotated[int, Field(ge=3, le=5)] | None = described(
        "Splines: the number of knots, which stand at quantiles of the readings analysed (3: 0.10, 0.50, 0.90; 4: "
        "0.05, 0.35, 0.65, 0.95; 5: 0.05, 0.275, 0.50, 0.725, 0.95; Harrell, Regression Modeling Strategies, 2015, "
        "from memory). Left out: 4, unless `knots_at` is given.",
        default=None,
    )
    knots_at: list[float] | None = described(
        "Splines: where the knots stand, three or more, in place of `knots`.", unit="the variable's unit", default=None
    )
    degree: Annotated[int, Field(ge=2, le=3)] | None = described(
        "Polynomials: the highest power. Left out: 2.", default=None
    )
    values: list[float] | None = described(
        "Exposures: the values compared, two or more; each is compared with the first, and the last with the first is "
        "the comparison of interest where the exposure is. Left out: the 10th, 50th and 90th percentile of the "
        "readings analysed.",
        unit="the variable's unit",
        default=None,
    )


class Contrast(Part):
    """A comparison of weighted means of an exposure's words, stated besides those with the reference."""

    name: Name = described("What the report calls it, such as `pasture or hay v concentrate`.")
    exposure: Name = described("One of the plan's `exposures`, a column of words.")
    weights: dict[str, float] = described(
        "Weights of its words: those above zero add up to 1, those below zero to -1 (thirds may be written 0.333)."
    )


class Outcome(Part):
    """One outcome, and what it does differently from the rest of the study."""

    role: Literal["primary", "secondary"] = described(
        "A primary outcome answers the question; the others are secondary."
    )
    comparison: Comparison | None = described("The comparison of interest. A primary outcome needs one.", default=None)
    window_days: WindowDays | None = described(
        "Days of management that count, the visit's day being the last. Left out: the study's `window_days`.",
        unit="days",
        default=None,
    )
    exposures: dict[str, Exposure] | None = described(
        "For some of the study's exposures, settings that differ for this outcome; only the keys that differ.",
        default=None,
    )
    adjustments: list[str] | None = described("Replaces the study's `adjustments` for this outcome.", default=None)
    interactions: list[list[str]] | None = described(
        "Replaces the study's `interactions` for this outcome.", default=None
    )
    levels: list[str] | None = described("Replaces the study's `levels` for this outcome.", default=None)
    also: list[str] | None = described("Replaces the study's `also` for this outcome.", default=None)
    crossed: list[str] | None = described("Replaces the study's `crossed` for this outcome.", default=None)


class Multiplicity(Part):
    """Which tests are adjusted together, and how."""

    family: Literal["primary", "all"] = described(
        "The F tests of the exposures in the adjusted models of the `primary` outcomes, or of `all` outcomes.",
        default="primary",
    )
    method: Literal["holm", "none"] = described(
        "`holm`: Holm's step-down adjustment (Scand J Stat 1979;6:65-70). `none`: p values as they are, and the report "
        "says so.",
        default="holm",
    )


class OutcomeSettings(Part):
    """Everything that one outcome's job takes from the plan; two equal ones give equal results.

    Attributes
    ----------
    name : str
        The outcome's column.
    exposures : dict of str to Exposure
        In the plan's order, ``form``, ``reference`` (words) and ``per`` (numbers) filled in.
    references : dict of str to str
        Base value of this outcome's word adjustments, where the plan names one.
    shapes : dict of str to Shape
        Of this outcome's exposures and adjustments of numbers, those that need not be straight lines.
    """

    study: str
    name: str
    role: Literal["primary", "secondary"]
    window_days: int
    comparison: Comparison | None
    exposures: dict[str, Exposure]
    adjustments: list[str]
    interactions: list[list[str]]
    references: dict[str, str]
    shapes: dict[str, Shape] = {}
    contrasts: list[Contrast] = []
    levels: list[str]
    also: list[str]
    crossed: list[str] = []
    minimum_coverage: float
    confidence: float
    fewest_owners: int = 3


class Plan(Part):
    """An analysis plan."""

    study: Annotated[str, Field(pattern=r"^[a-z0-9][a-z0-9-]*$")] = described(
        "The study's short name and the name of its folder below reports/: small letters, digits and hyphens."
    )
    title: Name = described("The report's title.")
    question: Name = described("What the study asks, in a sentence or two.")
    written: Day = described(
        "The day on which this plan was fixed, before the data were looked at.", unit="date, YYYY-MM-DD"
    )
    invented: bool = described("`true` for invented data: every page of the report then says so.", default=False)
    data: Data = described("The study's three tables.")
    outcomes: Annotated[dict[str, Outcome], Field(min_length=1)] = described(
        "What is analysed: each key is a numeric measurement of the table of feet or an index of the catalogue."
    )
    exposures: Annotated[dict[str, Exposure], Field(min_length=1)] = described(
        "How horses are kept: each key is a column of the management table."
    )
    window_days: WindowDays = described(
        "Days of management that count for a reading, the visit's day being the last, for outcomes that set no window "
        "of their own. 120 days: heel horn takes 3-5 months to reach the ground (Lungwitz's textbook, published).",
        unit="days",
        default=120,
    )
    adjustments: list[str] = described("Variables that the adjusted models hold constant.", default=[])
    interactions: list[list[str]] = described(
        "Pairs of exposures or adjustments whose product is added to the adjusted models. Not two exposures of the "
        "form `share`: the product of two shares of days is not the share of days on which both were so.",
        default=[],
    )
    references: dict[str, Name] = described(
        "Base value of word adjustments. Left out: the first of the variable's words (of ids, the first in sorted "
        "order).",
        default={},
    )
    shapes: dict[str, Shape] = described(
        "Exposures and adjustments of numbers that may go with the outcome otherwise than as a straight line. The "
        "report then shows the curve and a test of non-linearity.",
        default={},
    )
    contrasts: list[Contrast] = described(
        "Comparisons of weighted means of an exposure's words, for all outcomes.", default=[]
    )
    levels: Annotated[list[str], Field(min_length=1)] = described(
        "Nested groupings, outermost first, out of `yard`, `horse`, `foot`. `horse` must be one: the four feet of a "
        "horse are not four horses.",
        default=list(LEVELS),
    )
    also: list[str] = described(
        "Groupings inside a level that cut across the foot, as `level:visit`. `horse:visit` is what all feet of a "
        "horse share on one day; without it differences between ways of keeping look far more certain than they are. "
        "To leave it out, write `also: []`.",
        default=["horse:visit"],
    )
    crossed: list[str] = described(
        "Words whose differences the models take as random and that cut across the levels, such as `observer_id` or "
        "`farrier_id`: what all readings by one observer, or all feet under one farrier, share. For tens of them, not "
        "two: few are better taken as an adjustment. None may be an adjustment or exposure as well.",
        default=[],
    )
    minimum_coverage: Annotated[float, Field(gt=0, le=1)] = described(
        "The least share of the window's days that must be on record for a reading to be analysed.",
        unit="share of days",
        default=0.8,
    )
    confidence: Annotated[float, Field(ge=0.5, lt=1)] = described(
        "Confidence level of all intervals.", unit="probability", default=0.95
    )
    multiplicity: Multiplicity = described("Adjustment for several tests.", default=Multiplicity())
    fewest_owners: Annotated[int, Field(ge=1)] = described(
        "Owners that the numbers of a group must rest on in the report: of the cohort by exposure, of the words of "
        "each outcome's variables, of a measurement, beyond a cut-off. Groups of fewer are withheld, and as many "
        "others as keep them from being worked out by adding and subtracting within one of these. Not withheld: "
        "estimates of the models, the flow and missing values, extremes, histograms and diagnostics; in "
        "`figures/raw-*.svg` a dot for each horse, as long as no word of any outcome's exposures is withheld; in "
        "`tables/levels.csv` the least and the most horses of an owner or a yard and readings of an observer; in "
        "`models/*.json` means and SDs of number variables to the last digit; in the report, `tables/influence_*.csv` "
        "and `models/*.json` single horses and yards with the estimate without each. 3: common "
        "practice, no source; two owners who share a number can each work out the other's.",
        unit="owners",
        default=3,
    )
    cutoffs: Name = described(
        "File of the cut-offs that the report counts readings and horses against; they never define an outcome.",
        default="config/cutoffs.yaml",
    )

    def for_outcome(self, name: str) -> OutcomeSettings:
        """Return everything that one outcome's job takes from the plan: the study's settings and its own, merged.

        Parameters
        ----------
        name : str
            One of the plan's outcomes.

        Raises
        ------
        PlanError
            When the plan has no such outcome.
        """
        if name not in self.outcomes:
            raise PlanError(f"no outcome '{name}' in plan '{self.study}'; it has: {', '.join(self.outcomes)}")
        own = self.outcomes[name]
        changed = own.exposures or {}
        adjustments = _own_or(own.adjustments, self.adjustments)
        return OutcomeSettings(
            study=self.study,
            name=name,
            role=own.role,
            window_days=_own_or(own.window_days, self.window_days),
            comparison=own.comparison,
            exposures={
                key: exposure.model_copy(update=changed[key].model_dump(exclude_none=True))
                if key in changed
                else exposure
                for key, exposure in self.exposures.items()
            },
            adjustments=adjustments,
            interactions=_own_or(own.interactions, self.interactions),
            references={key: value for key, value in self.references.items() if key in adjustments},
            shapes={key: value for key, value in self.shapes.items() if key in (*self.exposures, *adjustments)},
            contrasts=self.contrasts,
            levels=_own_or(own.levels, self.levels),
            also=_own_or(own.also, self.also),
            crossed=_own_or(own.crossed, self.crossed),
            minimum_coverage=self.minimum_coverage,
            confidence=self.confidence,
            fewest_owners=self.fewest_owners,
        )


def _own_or(own: Any, study_wide: Any) -> Any:
    return study_wide if own is None else own


def load_plan(path: str | Path, *, check_files: bool = False, made: Collection[str] = ()) -> Plan:
    """Read and validate a plan.

    Parameters
    ----------
    path : str or Path
        A YAML file (or the ``plan.json`` of a run: JSON is YAML).
    check_files : bool
        Also report data files that do not exist and faults in the file of cut-offs.
    made : collection of str
        Data files that need not exist yet, as the run makes them.

    Raises
    ------
    PlanError
        With one line per fault, all of them: where, what was found, what is allowed, what to do.
    """
    from hoofcohort.planning.checks import validate
    from hoofcohort.planning.files import file_faults
    from hoofcohort.planning.yaml_file import read_yaml

    document = read_yaml(path)
    plan, faults = validate(document.value)
    if check_files:
        faults += file_faults(document.value, made)
    faults += document.duplicates
    if plan is None or faults:
        raise PlanError("\n".join(document.describe(faults)))
    return plan


def parse_plan(value: Mapping[str, Any]) -> Plan:
    """Validate a plan given as a mapping; raises ``PlanError`` as ``load_plan`` does."""
    from hoofcohort.planning.checks import validate

    plan, faults = validate(value)
    if plan is None or faults:
        raise PlanError("\n".join(str(fault) for fault in faults))
    return plan

"""Everything that is found out about one outcome."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import pandas as pd

from hoofcohort.errors import ModelError, NoReadingError
from hoofcohort.models import RandomEffects, random_effects
from hoofcohort.models.record import plain
from hoofcohort.plan import OutcomeSettings
from hoofcohort.privacy.joint import few
from hoofcohort.study.check import WORSE, check_with_statsmodels
from hoofcohort.study.describe import describe_outcome, describe_variables
from hoofcohort.study.effects import Effect, planned_effects
from hoofcohort.study.few_owners import withheld_any_day, withheld_words
from hoofcohort.study.fits import (
    Models,
    adjusted_record,
    effects_record,
    fit_models,
    shapes_record,
    without_also_record,
)
from hoofcohort.study.influence import influence
from hoofcohort.study.normality import shapes
from hoofcohort.study.permutation import permutation_record
from hoofcohort.study.robust import robust_record
from hoofcohort.study.spread import Owned, spreads
from hoofcohort.study.table import AnalysisTable, build_table
from hoofcohort.study.terms import build_terms
from hoofcohort.study.variance_tests import variance_tests

FEW_HORSES = 5
"""Fewer horses with a word of an exposure than this are pointed out; the project's own limit, no source."""


@dataclass(frozen=True)
class OutcomeResult:
    """The three outputs of one outcome.

    Attributes
    ----------
    record : dict
        Content of models/<outcome>.json: plain numbers and words.
    analysis : DataFrame
        The rows used: keys, outcome, variables, ``fixed_fitted``, ``fitted`` (with random effects) and ``residual``.
    effects : DataFrame
        Predicted random effects: ``level``, ``label`` (outer labels first, joined by ``:``), ``value`` and
        ``std_error``, in the outcome's unit.
    """

    record: dict[str, Any]
    analysis: pd.DataFrame
    effects: pd.DataFrame


def study_outcome(
    settings: OutcomeSettings, readings: pd.DataFrame, horses: pd.DataFrame, management: pd.DataFrame
) -> OutcomeResult:
    """Build the table of one outcome, fit its models, check and describe them.

    An outcome whose models cannot be fitted gives a record with the reason under ``not_analysed``, so that the rest of
    the study can be reported.

    Parameters
    ----------
    settings : OutcomeSettings
    readings, horses, management : DataFrame
        Accepted rows, typed; ``readings`` with its indices.

    Raises
    ------
    InputError
        When the tables do not fit together.
    """
    flow: list[dict[str, Any]] = []
    try:
        table = build_table(settings, readings, horses, management)
        flow = table.flow
        return _analysed(settings, table)
    except NoReadingError as error:
        return _refused(settings, error.flow, str(error))
    except ModelError as error:
        return _refused(settings, flow, str(error))


def _refused(settings: OutcomeSettings, flow: list[dict[str, Any]], reason: str) -> OutcomeResult:
    record = {
        "outcome": describe_outcome(settings),
        "settings": settings.model_dump(mode="json"),
        "flow": flow,
        "not_analysed": reason,
    }
    return OutcomeResult(plain(record), pd.DataFrame(), _effects({}))


def _analysed(settings: OutcomeSettings, table: AnalysisTable) -> OutcomeResult:
    terms = build_terms(settings, table)
    models = fit_models(settings, table, terms)
    effects = planned_effects(settings, terms)
    predicted = random_effects(models.adjusted)
    outcome = describe_outcome(settings)
    stated = effects_record(models, effects, outcome["unit"])
    withheld = withheld_words(table.frame, terms, settings.fewest_owners)
    any_day = withheld_any_day(table.frame, terms, settings.fewest_owners)
    variables = describe_variables(settings, terms, table, withheld, any_day)
    check = check_with_statsmodels(models.adjusted)
    owned = Owned(table.frame["owner_id"].tolist(), settings.fewest_owners, withheld)
    record = {
        "outcome": outcome,
        "settings": settings.model_dump(mode="json"),
        "flow": table.flow,
        "variables": variables,
        "adjusted": adjusted_record(models, effects, terms),
        "unadjusted": {name: fit.to_dict() for name, fit in models.unadjusted.items()},
        "effects": stated,
        "shapes": shapes_record(models, terms),
        "check": check,
        "without_visit": without_also_record(models, effects),
        "influence": influence(table.frame, models, _looked_at(effects)),
        "robust": robust_record(models, effects),
        "permutation": permutation_record(table.frame, settings.name, models, _looked_at(effects)),
        "variance_tests": variance_tests(models.adjusted),
        "normality": shapes(models.adjusted, predicted),
        "spread": spreads(models.adjusted, predicted, terms, owned),
        "messages": [*terms.messages, *models.messages, *_notices(table, variables, stated, owned), *_alarm(check)],
    }
    return OutcomeResult(plain(record), _analysis(table, models), _effects(predicted))


def _looked_at(effects: list[Effect]) -> Effect:
    """Return the comparison of interest, or the first one stated when the plan names none."""
    return next((effect for effect in effects if effect.of_interest), effects[0])


def _few(count: int, what: str) -> str:
    if count == 1:
        return f"Only 1 of the horses has {what}: what is said of it rests on that horse."
    return f"Only {count} of the horses have {what}: what is said of it rests on them."


def _withheld(title: str, words: list[str], fewest: int) -> str:
    return (
        f"How many horses have {title} {' or '.join(words)} is withheld: one of these rests on fewer than {fewest} "
        "owners, or would tell of one that does. What the models estimate for such words is not withheld, and "
        "describes few owners' horses."
    )


def _withheld_days(title: str, words: list[str], fewest: int) -> str:
    return (
        f"How many horses have any day of {title} {' or '.join(words)} is withheld: they, or all others, belong to "
        f"fewer than {fewest} owners, or would tell of some that do. If it is they, what the models estimate for it "
        "describes few owners' horses."
    )


def _notices(
    table: AnalysisTable, variables: list[dict[str, Any]], stated: list[dict[str, Any]], owned: Owned
) -> list[str]:
    """Say what a reader must know beyond what the models say of themselves."""
    found = []
    if few(owned.owners, owned.fewest):
        found.append(
            f"The readings used belong to fewer than {owned.fewest} owners: what is said here is about their horses, "
            "and not for publication."
        )
    found += [
        _withheld(variable["title"], variable["withheld"], owned.fewest)
        for variable in variables
        if variable["role"] == "exposure" and variable["withheld"]
    ]
    found += [
        _few(horses, f"{variable['title']} {word}")
        for variable in variables
        if variable["role"] == "exposure"
        for word, horses in variable.get("horses", {}).items()
        if horses is not None and horses < FEW_HORSES
    ]
    found += [
        _withheld_days(variable["title"], words, owned.fewest)
        for variable in variables
        if variable["role"] == "exposure"
        if (words := [w for w, n in variable.get("horses", {}).items() if n is None and w not in variable["withheld"]])
    ]
    found += [
        f"The comparison '{row['label']}' could not be estimated from these rows."
        for row in stated
        if row["adjusted"] is None
    ]
    same_day = int(table.frame.duplicated(["horse_id", "foot", "visit_date"]).sum())
    if same_day:
        repeat = "1 reading repeats" if same_day == 1 else f"{same_day} readings repeat"
        found.append(
            f"{repeat} a foot on the same day (another observer, method or replicate); the models take the differences "
            "as residual."
        )
    return found


def _alarm(check: dict[str, Any]) -> list[str]:
    """Say so when the independent check found a better optimum."""
    if check["criterion"] is None or check["criterion"]["theirs"] >= check["criterion"]["ours"] - WORSE:
        return []
    better = check["criterion"]["ours"] - check["criterion"]["theirs"]
    return [
        f"{check['library']} found a better fit (-2 log likelihood {better:.2g} lower): the estimates of the adjusted "
        "model are not at the optimum and must not be used."
    ]


def _analysis(table: AnalysisTable, models: Models) -> pd.DataFrame:
    fit = models.adjusted
    return table.frame.assign(fixed_fitted=fit.fixed_fitted, fitted=fit.fitted, residual=fit.residuals)


def _effects(predicted: dict[str, RandomEffects]) -> pd.DataFrame:
    parts = [
        pd.DataFrame({
            "level": pd.Series([level] * len(own.labels), dtype="str"),
            "label": pd.Series(own.labels, dtype="str"),
            "value": own.values,  # noqa: PD011
            "std_error": own.std_errors,
        })
        for level, own in predicted.items()
    ]  # fmt: skip
    empty = pd.DataFrame({"level": [], "label": [], "value": [], "std_error": []})
    return pd.concat(parts, ignore_index=True) if parts else empty

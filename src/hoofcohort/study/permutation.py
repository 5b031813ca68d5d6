"""The comparison of interest without a model of the errors: whole units exchange their outcomes."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from hoofcohort.errors import ModelError
from hoofcohort.models.permutation import isolate, permutation_test
from hoofcohort.study.effects import Effect
from hoofcohort.study.fits import Models

PERMUTATIONS = 9999
SEED = 20260301

Ints = NDArray[np.int64]


def permutation_record(frame: pd.DataFrame, outcome: str, models: Models, effect: Effect) -> dict[str, Any]:
    """Test a comparison by exchanging units of the level at which it varies most.

    That level is the one of ``yard``, ``horse`` and ``horse:visit`` that holds the largest part of the variance of the
    comparison's column, freed from the model's other columns. Yards exchange freely, horses within their yard (where
    yard is one of the model's levels), visits within their horse.

    Parameters
    ----------
    frame : DataFrame
        The analysis table.
    outcome : str
    models : Models
    effect : Effect

    Returns
    -------
    dict
        ``of``, ``level``, ``within`` (None when units exchange freely), ``share`` of the column's variance at that
        level, the fields of :class:`hoofcohort.models.permutation.Permutation`, and ``skipped_reason``.
    """
    fit = models.adjusted
    record: dict[str, Any] = {"of": effect.label, "level": None, "within": None, "share": None, "skipped_reason": ""}
    function = np.nan_to_num(effect.function(fit.design)[None, :], nan=0.0)
    inside, possible = fit.basis.restrict(function)
    if not possible[0] or not inside.any():
        return record | {"skipped_reason": "the comparison could not be estimated"}
    x, others = isolate(fit.basis.q, (inside @ fit.transform)[0])
    units = _units(frame, with_yard="yard" in models.levels.nested)
    level, share = _main_level(x, units)
    own, within = units[level]
    record |= {"level": level, "within": within, "share": share}
    strata = units[within][0] if within else np.zeros(len(frame), np.int64)
    try:
        found = permutation_test(frame[outcome].to_numpy(float), x, others, own, strata, PERMUTATIONS, SEED)
    except ModelError as error:
        return record | {"skipped_reason": str(error)}
    return record | vars(found)


def _units(frame: pd.DataFrame, with_yard: bool) -> dict[str, tuple[Ints, str | None]]:
    """Return, outermost first, the unit of each row at each level, and the level within which units exchange."""
    keys = {"horse": ["horse_id"], "horse:visit": ["horse_id", "visit_date"]}
    within: dict[str, str | None] = {"horse": None, "horse:visit": "horse"}
    if with_yard:
        keys = {"yard": ["yard_id"], **{name: ["yard_id", *columns] for name, columns in keys.items()}}
        within = {"yard": None, "horse": "yard", "horse:visit": "horse"}
    codes: dict[str, Ints] = {
        name: frame.groupby(columns).ngroup().to_numpy().astype(np.int64) for name, columns in keys.items()
    }
    return {name: (own, within[name]) for name, own in codes.items()}


def _main_level(x: NDArray[np.floating], units: dict[str, tuple[Ints, str | None]]) -> tuple[str, float]:
    """Return the level that holds the largest part of the variance of a column, and its share of what all hold."""
    rest, held = x, {}
    smooth = np.full(len(x), x.mean())
    for name, (codes, _) in units.items():
        means = (np.bincount(codes, weights=rest) / np.bincount(codes))[codes]
        held[name] = float(((means - smooth) ** 2).sum())
        smooth = means
    level = max(held, key=lambda name: held[name])
    total = sum(held.values())
    return level, held[level] / total if total > 0 else 0.0

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
    comparison's column, freed from the model's other columns; the next where too few units are left there. Yards
    exchange freely, horses within their yard (where yard is one of the model's levels), visits within their horse.

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
    for level, share in _levels(x, units):
        own, within = units[level]
        strata = units[within][0] if within else np.zeros(len(frame), np.int64)
        try:
            found = permutation_test(frame[outcome].to_numpy(float), x, others, own, strata, PERMUTATIONS, SEED)
        except ModelError as error:
            record["skipped_reason"] = record["skipped_reason"] or str(error)
            continue
        return record | {"level": level, "within": within, "share": share, "skipped_reason": ""} | vars(found)
    return record


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


def _levels(x: NDArray[np.floating], units: dict[str, tuple[Ints, str | None]]) -> list[tuple[str, float]]:
    """Return the levels and the share of a column's variance that each holds, the largest first."""
    held = {}
    smooth = np.full(len(x), x.mean())
    for name, (codes, _) in units.items():
        means = (np.bincount(codes, weights=x) / np.bincount(codes))[codes]
        held[name] = float(((means - smooth) ** 2).sum())
        smooth = means
    total = sum(held.values())
    shares = [(name, value / total if total > 0 else 0.0) for name, value in held.items()]
    return sorted(shares, key=lambda own: -own[1])

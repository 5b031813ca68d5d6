"""What the engine's calibration says of intervals from a study like this one.

``report/calibration.csv`` is the table that ``snakemake --cores 2 calibration`` makes; its head says how.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

from hoofcohort.report.numbers import count, of_things

TABLE = Path(__file__).parents[1] / "calibration.csv"
METHODS = {"kenward-roger": "Kenward-Roger", "satterthwaite": "Satterthwaite"}
FEET = 4
SKEWED = 1.0
"""Skewness from which on a level is called skewed: half that of the skewed cohorts (2); the project's own limit."""

NOISY = 0.5
"""Share of the residual in all variance from which on the differences between groups are called slight: between those
of the cohorts with clear (0.22) and slight (0.70) differences; the project's own limit."""

Row = Mapping[str, str]


@cache
def calibration_rows() -> tuple[Row, ...]:
    """Return the table's rows as text, in order."""
    lines = TABLE.read_text(encoding="utf-8").splitlines()
    return tuple(csv.DictReader(line for line in lines if not line.startswith("#")))


def nearest_calibration(
    horses: int, balanced: bool, skewed: bool, slight: bool, method: str = "Kenward-Roger"
) -> dict[str, Row]:
    """Return the rows of the setting nearest a study, by level: ``horse``, ``visit``, ``foot``, ``all three``.

    Parameters
    ----------
    horses : int
        At least 1; the nearest number simulated is that of the nearest logarithm.
    balanced : bool
        Every foot measured at every visit.
    skewed : bool
        Effects or errors far from a normal shape.
    slight : bool
        Little variance between groups beside that of single readings.
    method : {"Kenward-Roger", "Satterthwaite", "z"}
    """
    wanted = {
        "shape": "balanced" if balanced else "ragged",
        "errors": "skewed" if skewed else "normal",
        "spread": "slight" if slight else "clear",
        "method": method,
    }
    rows = [row for row in calibration_rows() if all(row[key] == value for key, value in wanted.items())]
    nearest = min((abs(math.log(int(row["horses"]) / horses)), row["horses"]) for row in rows)[1]
    return {row["level"]: row for row in rows if row["horses"] == nearest}


def calibration_sentence(model: Mapping[str, Any]) -> str:
    """Return how often intervals held the truth in the simulated setting nearest an outcome's model; may be empty."""
    fit = model["adjusted"]
    method = METHODS.get(fit["df_method"])
    horses = fit["groups"].get("horse")
    if not method or not horses:
        return ""
    found = nearest_calibration(horses, _balanced(fit), _skewed(model), _slight(fit), method)
    first = found["horse"]
    share = {level: f"{100 * float(row['coverage']):.1f}%" for level, row in found.items()}
    error = max(float(row["mc_se"]) for row in found.values())
    shape = "every foot measured at every visit" if first["shape"] == "balanced" else "visits and readings missing"
    normal = "normal" if first["errors"] == "normal" else "skewed"
    own = "" if int(first["horses"]) == horses else f" (here {of_things(horses, 'horse')})"
    return (
        f"How far such intervals can be trusted was counted on invented cohorts. In the setting nearest this model, "
        f"{count(int(first['cohorts']))} cohorts of {first['horses']} horses{own} with {shape}, {normal} effects and "
        f"errors and {first['spread']} differences between groups, nominal 95% intervals by {_by(method)} held the "
        f"truth in {share['horse']} of cohorts for an exposure of the horse, in {share['visit']} for one that changes "
        f"from visit to visit and in {share['foot']} for one of the foot (Monte Carlo standard error "
        f"{100 * error:.1f} points at most). Those cohorts had no yards, three exposures and no mistakes in the "
        "record; in a study of one's own, coverage may differ."
    )


def _by(method: str) -> str:
    return "Kenward and Roger's method" if method == "Kenward-Roger" else "Satterthwaite's method"


def _balanced(fit: Mapping[str, Any]) -> bool:
    """Tell whether all four feet were measured at every visit of every horse."""
    groups = fit["groups"]
    visits = groups.get("horse:visit", 0)
    return bool(groups.get("foot") == FEET * groups["horse"] and fit["rows_used"] == FEET * visits)


def _skewed(model: Mapping[str, Any]) -> bool:
    shapes = (model.get("normality") or {}).values()
    return any(abs(shape["skew"]) >= SKEWED for shape in shapes if shape["skew"] is not None)


def _slight(fit: Mapping[str, Any]) -> bool:
    total = sum(row["variance"] for row in fit["variances"])
    residual = sum(row["variance"] for row in fit["variances"] if row["level"] == "residual")
    return bool(fit["boundary"]) or residual >= NOISY * total

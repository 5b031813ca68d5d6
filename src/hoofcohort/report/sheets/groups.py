"""The tables of single horses and yards, of robust standard errors, and of the spread per level."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from hoofcohort.report.numbers import df_text, estimate_interval, fixed, p_cell, percent_level, significant, unit_words
from hoofcohort.report.sheet import Column, Record, Sheet, text
from hoofcohort.report.text.groups import paired_robust
from hoofcohort.report.text.words import effect_label, level_name, upper_first

Model = Mapping[str, Any]
NUMBERS = ("estimate", "std_error", "df", "low", "high", "p")
ON_PAGE = 5
"""Rows of a level on the page; the file has more."""


def influence_sheet(model: Model) -> Sheet | None:
    """Return the groups whose leaving out moves the comparison of interest most, or None."""
    influence = model.get("influence") or {}
    records = [
        {"level": level["level"], "rank": rank, **row}
        for level in influence.get("levels", [])
        for rank, row in enumerate(level["rows"], start=1)
    ]
    if not records:
        return None
    level = percent_level(model["settings"]["confidence"])
    unit = unit_words(model["outcome"]["unit"])
    return Sheet(
        f"influence_{model['outcome']['name']}",
        f"{_title(model)}: “{influence['of']}” without one horse, or one yard, at a time; the largest moves.",
        ("level", "rank", "label", "estimate_without", "low_without", "high_without", "change_in_se", "distance"),
        records,
        (
            Column("Left out", text("label"), number=False),
            Column(f"Estimate without it, {unit} ({level} interval)", _without),
            Column("Move, in standard errors", lambda r: fixed(r["change_in_se"], 2)),
            Column("Cook's distance", lambda r: significant(r["distance"], 2)),
        ),
        "Each row is the fit of the remaining rows, variances included. Cook's distance is the move of all "
        "coefficients together, relative to their covariance, per coefficient. "
        f"The CSV file has the first {max(record['rank'] for record in records)}.",
        group=lambda record: upper_first(level_name(record["level"])),
        on_page=lambda record: record["rank"] <= ON_PAGE,
    )


def _without(record: Record) -> str:
    return estimate_interval({name: record[f"{name}_without"] for name in ("estimate", "low", "high")})


def robust_sheet(model: Model) -> Sheet | None:
    """Return every effect with the model's and the robust standard error, or None."""
    records = [
        {"exposure": row["exposure"], "comparison": row["label"], "of_interest": bool(row["of_interest"])}
        | {f"model_{key}": row["adjusted"][key] for key in NUMBERS}
        | {f"robust_{key}": robust[key] for key in NUMBERS[1:]}
        | {"ratio": robust["std_error"] / row["adjusted"]["std_error"], "_model": row["adjusted"], "_robust": robust}
        for row, robust in paired_robust(model)
    ]
    if not records:
        return None
    level = percent_level(model["settings"]["confidence"])
    fields = [f"model_{key}" for key in NUMBERS] + [f"robust_{key}" for key in NUMBERS[1:]]
    return Sheet(
        f"robust_{model['outcome']['name']}",
        f"{_title(model)}: adjusted estimates with the model's standard errors and with cluster-robust ones.",
        ("exposure", "comparison", "of_interest", *fields, "ratio"),
        records,
        (
            Column("Comparison", _comparison, number=False),
            Column(f"Model ({level} interval)", lambda r: estimate_interval(r["_model"])),
            Column("SE", lambda r: significant(r["model_std_error"], 2)),
            Column("df", lambda r: df_text(r["model_df"])),
            Column(f"Robust ({level} interval)", lambda r: estimate_interval(r["_robust"])),
            Column("SE", lambda r: significant(r["robust_std_error"], 2)),
            Column("df", lambda r: df_text(r["robust_df"])),
            Column("p", lambda r: p_cell(r["robust_p"])),
        ),
        "Model: Kenward-Roger. The report's results are the model's.",
        marked=lambda record: record["of_interest"],
    )


def _comparison(record: Record) -> str:
    return effect_label({"exposure": record["exposure"], "label": record["comparison"]})


def spread_sheet(model: Model) -> Sheet | None:
    """Return the standard deviations of every level along the fitted values and between words, or None."""
    records: list[dict[str, Any]] = []
    for level in model.get("spread") or []:
        what = "residuals" if level["level"] == "residual" else level_name(level["level"])
        if level["fitted"]:
            third, along = level["n"] // 3, level["fitted"]
            for end in ("low", "high"):
                own = {"level": what, "variable": "fitted value", "word": f"{end}est third", "n": third}
                records.append(own | {"sd": along[f"sd_{end}"], "rank_correlation": along["rank_correlation"]})
        for variable in level["variables"]:
            shown = {"level": what, "variable": variable["title"], "_aside": not variable["exposure"]}
            records += [shown | {"rank_correlation": None, **row} for row in variable["words"]]
    if not records:
        return None
    return Sheet(
        f"spread_{model['outcome']['name']}",
        f"{_title(model)}: spread of residuals and of predicted effects.",
        ("level", "variable", "word", "n", "sd", "rank_correlation"),
        records,
        (
            Column("Among", lambda r: f"{upper_first(r['variable'])}: {r['word']}", number=False),
            Column("n", text("n")),
            Column("SD", lambda r: significant(r["sd"], 3)),
        ),
        "Residuals in the outcome's unit; predicted effects in units of the spread that the model expects of them, so "
        "about 1. The CSV file has the rank correlation of their size with the fitted value, and residuals by "
        "adjustments.",
        group=lambda record: upper_first(record["level"]),
        on_page=lambda record: not record.get("_aside"),
    )


def _title(model: Model) -> str:
    return upper_first(model["outcome"]["title"])

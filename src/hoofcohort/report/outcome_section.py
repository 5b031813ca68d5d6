"""One outcome's section of the report."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pandas as pd

from hoofcohort.report.blocks import Block, Items, Paragraph, Part, shown
from hoofcohort.report.figures.curves import curves_figure
from hoofcohort.report.figures.diagnostics import diagnostics_figure
from hoofcohort.report.figures.estimates import effects_figure, means_figure
from hoofcohort.report.figures.raw import raw_figure
from hoofcohort.report.sheets import groups
from hoofcohort.report.sheets import outcome as sheets
from hoofcohort.report.text.calibration import calibration_sentence
from hoofcohort.report.text.companions import permutation_sentence, variance_tests_sentence
from hoofcohort.report.text.fits import (
    check_sentence,
    crossed_sentences,
    definition_sentence,
    groups_sentence,
    model_sentence,
    not_done,
    r2_sentence,
    variance_sentence,
    without_visit_sentence,
)
from hoofcohort.report.text.groups import influence_sentence, robust_sentences, spread_sentence
from hoofcohort.report.text.shapes import curve_sentence
from hoofcohort.report.text.words import upper_first


def refused_sentence(model: Mapping[str, Any]) -> str:
    """Say that an outcome was not analysed, and why."""
    return f"{upper_first(model['outcome']['title'])} was not analysed: {model['not_analysed']}."


def refused_part(model: Mapping[str, Any]) -> Part:
    """Return the section of an outcome that could not be analysed."""
    outcome = model["outcome"]
    title = upper_first(outcome["title"])
    counted = "The table of the flow shows where its readings were lost."
    blocks: list[Block] = [
        Paragraph(definition_sentence(outcome)),
        Items([refused_sentence(model)], "warn"),
        Paragraph(counted),
    ]
    return Part(f"outcome-{outcome['name']}", title, blocks)


def outcome_part(
    model: Mapping[str, Any], analysis: pd.DataFrame, effects: pd.DataFrame, fewest_owners: int, *, dots: bool = True
) -> Part:
    """Return an outcome's section.

    Parameters
    ----------
    model : mapping
        The content of ``models/<outcome>.json``.
    analysis : DataFrame
        The analysed readings, with ``fitted`` and ``residual``.
    effects : DataFrame
        The predicted effects: ``level``, ``label``, ``value``.
    fewest_owners : int
        That a published number must rest on.
    dots : bool
        Whether single horses may be drawn.
    """
    outcome = model["outcome"]
    name, faults = outcome["name"], not_done(model)
    said = "What the model could not do"
    parts = [
        ("estimates", "Unadjusted and adjusted estimates", _estimates(model, analysis, fewest_owners, dots=dots)),
        ("means", "Marginal means", shown(means_figure(model), sheets.means_sheet(model))),
        ("tests", "F tests", shown(sheets.f_tests_sheet(model))),
        ("curves", "Curves", _curves(model)),
        ("variance", "Variance by level", _variance(model)),
        ("limits", said, [Items(faults, "warn")] if faults else [Paragraph("Nothing to report: no warnings.")]),
        ("diagnostics", "Diagnostics", _diagnostics(model, analysis, effects)),
        ("visits", "What leaving the visits out would have claimed", _visits(model)),
        ("robust", "Robust standard errors", _robust(model)),
        ("permutation", "Permutation test", [Paragraph(permutation_sentence(model.get("permutation")))]),
        ("check", "Independent check", _check(model)),
        ("coefficients", "All coefficients", shown(sheets.coefficients_sheet(model))),
    ]
    inside: list[Block] = [Part(f"{key}-{name}", title, blocks, listed=False) for key, title, blocks in parts if blocks]
    opening = [
        Paragraph(definition_sentence(outcome)),
        Paragraph(f"{model_sentence(model)} {groups_sentence(model['adjusted'])}"),
    ]
    return Part(f"outcome-{name}", upper_first(outcome["title"]), [*opening, *inside])


def _estimates(model: Mapping[str, Any], analysis: pd.DataFrame, fewest_owners: int, *, dots: bool) -> list[Block]:
    trusted = calibration_sentence(model)
    note: list[Block] = [Paragraph(trusted)] if trusted else []
    return [
        *shown(
            raw_figure(model, analysis, fewest_owners, dots=dots), effects_figure(model), sheets.effects_sheet(model)
        ),
        *note,
    ]


def _curves(model: Mapping[str, Any]) -> list[Block]:
    shapes = model.get("shapes") or []
    tables = [sheets.curve_sheet(model, shape) for shape in shapes if len(shape["grid"]) > 1]
    return [*(Paragraph(curve_sentence(model, shape)) for shape in shapes), *shown(curves_figure(model), *tables)]


def _variance(model: Mapping[str, Any]) -> list[Block]:
    sentence = " ".join([variance_sentence(model), *crossed_sentences(model), r2_sentence(model)])
    tests = variance_tests_sentence(model.get("variance_tests"))
    return [Paragraph(sentence), *shown(sheets.variances_sheet(model)), *([Paragraph(tests)] if tests else [])]


def _diagnostics(model: Mapping[str, Any], analysis: pd.DataFrame, effects: pd.DataFrame) -> list[Block]:
    return [
        *shown(diagnostics_figure(model, analysis, effects), sheets.normality_sheet(model)),
        Paragraph(spread_sentence(model.get("spread"))),
        *shown(groups.spread_sheet(model)),
        Paragraph(influence_sentence(model.get("influence"))),
        *shown(groups.influence_sheet(model)),
    ]


def _robust(model: Mapping[str, Any]) -> list[Block]:
    return [Paragraph(" ".join(robust_sentences(model))), *shown(groups.robust_sheet(model))]


def _visits(model: Mapping[str, Any]) -> list[Block]:
    if not model["settings"]["also"]:
        return []
    return [Paragraph(without_visit_sentence(model)), *shown(sheets.without_visit_sheet(model))]


def _check(model: Mapping[str, Any]) -> list[Block]:
    warnings = (model.get("check") or {}).get("warnings") or []
    notes: list[Block] = [Items([f"Its warning: {line}" for line in warnings])] if warnings else []
    return [Paragraph(check_sentence(model.get("check"))), *notes, *shown(sheets.check_sheet(model))]

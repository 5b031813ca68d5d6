"""Drawings: text as text, ids of their own, images for large clouds, nothing drawn from what cannot be known."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import numpy as np
import pandas as pd
import pytest

from hoofcohort.planning.cutoffs import Cutoff
from hoofcohort.report.figures.canvas import MOST_VECTOR_POINTS, draw
from hoofcohort.report.figures.diagnostics import diagnostics_figure
from hoofcohort.report.figures.distributions import all_distributions, bin_edges, distribution_figure
from hoofcohort.report.figures.estimates import effects_figure, means_figure
from hoofcohort.report.figures.flow import flow_figure

NASTY = "<script>alert(1)</script> & $x$"


def texts(svg: str) -> list[str]:
    return [item.text or "" for item in ElementTree.fromstring(svg).iter("{http://www.w3.org/2000/svg}text")]


def model(rows: int = 40, **adjusted: object) -> dict:
    row = {"estimate": 1.5, "low": 0.5, "high": 2.5, "df": 20.0, "std_error": 0.5, "p": 0.01}
    effect = {"exposure": "diet", "label": "concentrate v hay", "of_interest": True, "unit": "deg"}
    fit = {
        "means": [{"factor": "diet", "value": "hay", **row}],
        "variances": [{"level": "horse"}, {"level": "residual"}],
    }
    last = {
        "step": "rows used",
        "readings": rows,
        "feet": 20,
        "horses": 5,
        "yards": 2,
        "owners": 3,
        "lost": 0,
        "reason": "",
    }
    return {
        "outcome": {"name": "heel_underrun_deg", "title": NASTY, "unit": "deg", "role": "primary"},
        "settings": {"confidence": 0.95},
        "flow": [last | {"lost": 7, "reason": NASTY}, last],
        "effects": [effect | {"adjusted": row, "unadjusted": row}],
        "adjusted": fit | adjusted,
    }


def test_a_drawing_keeps_text_as_text_and_says_what_is_to_be_seen() -> None:
    panel = draw("one", NASTY, (3, 2), lambda axes: axes.set_title(NASTY))
    assert NASTY in texts(panel.svg)
    assert ElementTree.fromstring(panel.svg).get("aria-label") == NASTY
    assert "<script" not in panel.svg
    assert all(name.startswith("one-") for name in re.findall(r'\bid="([^"]+)"', panel.svg))


def test_a_drawing_has_the_same_bytes_twice() -> None:
    first, second = (draw("one", "two dots", (3, 2), lambda axes: axes.scatter([1, 2], [3, 4])) for _ in range(2))
    assert first.svg == second.svg


def test_effects_show_both_estimates_and_nothing_without_an_interval() -> None:
    drawn = effects_figure(model())
    assert drawn is not None
    assert {"adjusted", "unadjusted", "Diet: concentrate v hay"} <= set(texts(drawn.panels[0].svg))
    assert "1.5°, 0.5° to 2.5°" in drawn.panels[0].label
    without = model()
    empty = {"estimate": 1.0, "low": -1e150, "high": 1e150, "df": 0.01}
    without["effects"][0] |= {"adjusted": None, "unadjusted": empty}
    assert effects_figure(without) is None
    assert means_figure(model(means=[{"factor": "diet", "value": "hay", **empty}])) is None


def test_a_long_label_is_broken_into_lines_and_not_cut_short() -> None:
    long = model()
    label = "pasture v concentrate (on the day of the visit); fore or hind foot: fore"
    long["effects"] = [long["effects"][0] | {"label": label}] * 2
    figure = effects_figure(long)
    assert figure is not None
    assert f"Diet: {label}" in " ".join(texts(figure.panels[0].svg))


def test_flow_names_what_was_left_out_and_what_was_analysed() -> None:
    account = {"rows_read": 10, "accepted": 8, "rejected": 2, "reasons": {"unknown_word": 2}}
    ledger = {
        "files": {"feet": account},
        "reasons": {"unknown_word": "The word is none of those that the column allows."},
    }
    counts = {"readings": 8, "feet": 8, "horses": 2, "yards": 1, "owners": 1}
    panel = flow_figure(ledger, counts, [model(rows=1)]).panels[0]
    found = texts(panel.svg)
    assert "10 rows read, 8 accepted" in found
    assert "Left out: 7 readings" in found
    assert "1 reading" in found
    assert "8 readings of 8 feet of 2 horses in 1 yard, with 1 owner" in found
    assert "<script" not in panel.svg


@pytest.mark.parametrize(("rows", "images"), [(MOST_VECTOR_POINTS, 0), (MOST_VECTOR_POINTS + 1, 2)])
def test_clouds_of_many_points_are_images(rows: int, images: int) -> None:
    values = np.random.default_rng(1).normal(size=rows)
    effects = pd.DataFrame({"level": "horse", "label": ["a", "b", "c", "d"], "value": [0.1, -0.2, 0.3, 0.0]})
    figure = diagnostics_figure(model(), pd.DataFrame({"fitted": values, "residual": values[::-1]}), effects)
    assert sum("<image" in panel.svg for panel in figure.panels) == images


def test_a_level_at_zero_is_not_drawn_as_if_it_varied() -> None:
    values = np.linspace(-1, 1, 30)
    effects = pd.DataFrame({"level": "horse", "label": list("abcd"), "value": 0.0})
    figure = diagnostics_figure(model(), pd.DataFrame({"fitted": values, "residual": values}), effects)
    assert "variance at zero" in texts(figure.panels[2].svg)
    assert "not drawn: variance at zero" in figure.panels[2].label


def test_bins_hold_every_value_and_scores_have_a_bin_each() -> None:
    scores = pd.Series([0, 1, 1, 2, 4], dtype=float)
    assert bin_edges(scores).tolist() == [-0.5, 0.5, 1.5, 2.5, 3.5, 4.5]
    assert bin_edges(pd.Series([3.0, 3.0])).tolist() == [2.5, 3.5]
    values = pd.Series(np.random.default_rng(2).normal(size=500))
    assert 5 <= len(bin_edges(values)) <= 25
    assert np.histogram(values, bin_edges(values))[0].sum() == 500


def test_distributions_mark_the_cutoffs_and_say_how_many_were_read() -> None:
    readings = pd.DataFrame({"foot": ["LF", "RF", "LH", "RH"], "frog_ratio": [0.5, 0.6, 0.7, np.nan]})
    cutoff = Cutoff(index="frog_ratio", title="t", comparison="<", value=0.55, source="s", status="study-defined")
    panel = distribution_figure(readings, ["frog_ratio"], [cutoff]).panels[0]
    plain = distribution_figure(readings, ["frog_ratio"], []).panels[0]
    assert panel.svg.count("stroke-dasharray") == plain.svg.count("stroke-dasharray") + 1
    assert "3 readings; median 0.6" in panel.label
    assert len(all_distributions(readings, ["frog_ratio"]).panels) == 1

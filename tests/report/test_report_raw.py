"""The picture of the outcome by exposure: whose dots stand where, and what line the model draws through them."""

from __future__ import annotations

from xml.etree import ElementTree

import numpy as np
import pandas as pd
import pytest
from invented_results import effect, estimate, model

from hoofcohort.report.figures.raw import _line, _offsets, raw_figure

NAME = "heel_underrun_deg"
TRIM = "trim_interval_days"


def analysis():
    """Three horses with two readings each; the second is on hay in one reading and on concentrate most of the time."""
    return pd.DataFrame(
        {
            "horse_id": ["A", "A", "B", "B", "C", "C"],
            NAME: [4.0, 6.0, 7.0, 9.0, 1.0, 2.0],
            "diet__hay": [1.0, 1.0, 0.6, 0.1, 0.9, 0.8],
            "diet__concentrate": [0.0, 0.0, 0.4, 0.9, 0.1, 0.2],
            f"{TRIM}__mean": [28.0, 28.0, 42.0, 56.0, 49.0, 49.0],
            "fixed_fitted": [5.0, 5.0, 6.0, 8.0, 3.0, 3.0],
        }
    )


def results(**changes):
    rows = model()["variables"]
    rows[0] |= {"values": ["hay", "concentrate"]}
    rows[1] |= {"values": [], "per": 7.0}
    return model(variables=rows, **changes)


def test_horses_stand_under_the_word_they_had_most_beside_the_adjusted_means():
    figure = raw_figure(results(), analysis())
    assert [panel.name for panel in figure.panels] == [f"raw-{NAME}-diet", f"raw-{NAME}-{TRIM}"]
    assert figure.panels[0].label == (
        "Mean of toe-heel angle difference per horse by diet (horses: hay 2, concentrate 1). Adjusted marginal means: "
        "hay 9.0°; concentrate 11.3°."
    )
    text = "".join(ElementTree.fromstring(figure.panels[0].svg).itertext())
    assert "hay" in text and "concentrate" in text and "Diet" in text
    assert raw_figure(results(), analysis()).panels == figure.panels, "the same bytes every time"


def test_a_word_on_a_day_is_read_from_its_own_column():
    frame = (
        analysis()
        .drop(columns=["diet__hay", "diet__concentrate"])
        .assign(diet=["hay", "hay", "concentrate", "concentrate", "hay", "concentrate"])
    )
    assert "(horses: hay 2, concentrate 1)" in raw_figure(results(), frame).panels[0].label


def test_the_line_has_the_adjusted_slope_and_runs_through_the_mean():
    own = results()
    slope = effect(estimate(1.4, 0.4, 2.4), exposure=TRIM, per=7.0)
    own["effects"] = [slope]
    at, line = _line(own, analysis(), own["variables"][1])
    assert (line[1] - line[0]) / (at[1] - at[0]) == pytest.approx(0.2)
    assert np.interp(42.0, at, line) == pytest.approx(5.0), "mean trim interval, mean of the fitted fixed part"
    between = [slope | {"values": [56.0, 28.0]}]
    at, line = _line(own | {"effects": between}, analysis(), own["variables"][1])
    assert (line[1] - line[0]) / (at[1] - at[0]) == pytest.approx(1.4 / 28)
    assert _line(own | {"effects": [slope | {"adjusted": None}]}, analysis(), own["variables"][1]) is None


def test_a_curve_is_shifted_to_the_mean_of_the_readings():
    grid = [{"value": value, "estimate": (value - 42) ** 2 / 100} for value in (28.0, 35.0, 42.0, 49.0, 56.0)]
    own = results(shapes=[{"variable": TRIM, "grid": grid}])
    at, curve = _line(own, analysis(), own["variables"][1])
    assert np.interp(analysis()[f"{TRIM}__mean"], at, curve).mean() == pytest.approx(5.0)
    assert np.diff(curve) == pytest.approx(np.diff([row["estimate"] for row in grid]))


def test_points_are_spread_evenly_and_the_same_every_time():
    found = _offsets(50)
    assert (np.abs(found) <= 0.3).all() and len(np.unique(found.round(6))) == 50
    assert np.array_equal(found, _offsets(50))

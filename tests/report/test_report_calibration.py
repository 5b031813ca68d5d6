"""The report quotes the row of the calibration that is nearest its own study."""

from __future__ import annotations

import re

import pandas as pd
import pytest
from invented_results import fit, model

from hoofcohort.report.text.calibration import TABLE, calibration_sentence, nearest_calibration

WHOLE = pd.read_csv(TABLE, comment="#")


def row(level="horse", method="Kenward-Roger", **cell):
    keep = (WHOLE.level == level) & (WHOLE.method == method)
    for name, value in cell.items():
        keep &= WHOLE[name] == value
    (found,) = WHOLE[keep].itertuples()
    return found


@pytest.mark.parametrize(
    ("horses", "nearest"),
    [(1, 8), (9, 8), (10, 12), (12, 12), (15, 12), (16, 20), (28, 20), (29, 40), (56, 40), (57, 80), (100_000, 80)],
)
def test_the_nearest_number_of_horses_is_by_ratio(horses, nearest):
    found = nearest_calibration(horses, balanced=False, skewed=False, slight=False)
    assert {row["horses"] for row in found.values()} == {str(nearest)}


@pytest.mark.parametrize("balanced", [True, False])
@pytest.mark.parametrize("skewed", [True, False])
@pytest.mark.parametrize("slight", [True, False])
@pytest.mark.parametrize("method", ["Kenward-Roger", "Satterthwaite", "z"])
def test_shape_errors_spread_and_method_are_those_asked_for(balanced, skewed, slight, method):
    found = nearest_calibration(40, balanced, skewed, slight, method)
    assert set(found) == {"horse", "visit", "foot", "all three"}
    cell = {"horses": 40, "shape": "balanced" if balanced else "ragged", "errors": "skewed" if skewed else "normal"}
    for level, own in found.items():
        expected = row(level, method, **cell, spread="slight" if slight else "clear")
        assert float(own["coverage"]) == expected.coverage


def percent(share):
    return f"{100 * share:.1f}%"


def test_the_sentence_gives_the_nearest_rows_numbers_and_its_bounds():
    text = calibration_sentence(model())
    cell = {"horses": 40, "shape": "ragged", "errors": "normal", "spread": "clear"}
    for level, words in (
        ("horse", "an exposure of the horse"),
        ("visit", "one that changes"),
        ("foot", "one of the foot"),
    ):
        (said,) = re.findall(rf"in ([\d.]+%)(?: of cohorts)? for {words}", text)
        assert said == percent(row(level, **cell).coverage)
    assert "cohorts of 40 horses (here 30 horses) with visits and readings missing, normal effects and errors" in text
    assert "clear differences between groups, nominal 95% intervals by Kenward and Roger's method" in text
    assert "no yards" in text
    assert text.endswith("in a study of one's own, coverage may differ.")


def test_a_complete_cohort_is_balanced_and_its_own_size_is_not_said_twice():
    groups = {"horse": 40, "foot": 160, "horse:visit": 120}
    text = calibration_sentence(model(adjusted=fit(groups=groups, rows_used=480)))
    assert "of 40 horses with every foot measured at every visit" in text
    assert "visits and readings missing" in calibration_sentence(model(adjusted=fit(groups=groups, rows_used=479)))


def test_skewed_levels_and_slight_differences_choose_their_cells():
    skewed = {"residual": {"skew": 0.2}, "horse": {"skew": -1.1}, "foot": {"skew": None}}
    assert "skewed effects and errors" in calibration_sentence(model(normality=skewed))
    assert "slight differences" in calibration_sentence(model(adjusted=fit(boundary=["foot"])))
    variances = [{"level": "horse", "variance": 1.0}, {"level": "residual", "variance": 1.0}]
    assert "slight differences" in calibration_sentence(model(adjusted=fit(variances=variances)))


def test_satterthwaite_has_its_own_rows_and_no_horses_no_sentence():
    text = calibration_sentence(model(adjusted=fit(df_method="satterthwaite")))
    expected = row("horse", "Satterthwaite", horses=40, shape="ragged", errors="normal", spread="clear")
    assert "by Satterthwaite's method" in text
    assert percent(expected.coverage) in text
    assert calibration_sentence(model(adjusted=fit(groups={"foot": 110}))) == ""

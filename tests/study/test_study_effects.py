"""Effects as functions of the coefficients: bases, comparisons of interest, interactions."""

from __future__ import annotations

import numpy as np
import pytest
from cohorts import adjusted_effects, cohort_frames, demo_plan

from hoofcohort.plan import Comparison, OutcomeSettings
from hoofcohort.study.effects import Effect, estimate_effects

PLAN = demo_plan()


@pytest.fixture(scope="module")
def frames():
    return cohort_frames(11, horses=40)


def settings_with(**changes: object) -> OutcomeSettings:
    return PLAN.for_outcome("frog_width_mm").model_copy(update={"shapes": {}, "contrasts": []} | changes)


def estimates(settings: OutcomeSettings, frames) -> tuple[dict[str, float], list[Effect], list[dict]]:
    fit, effects = adjusted_effects(settings, frames)
    names = [fit.design.names[k] for k in fit.basis.kept]
    return dict(zip(names, fit.coefficients.tolist(), strict=True)), effects, estimate_effects(fit, effects)


def test_words_are_compared_with_the_base_and_numbers_scaled(frames):
    coefficients, effects, found = estimates(settings_with(), frames)
    got = {effect.label: row["estimate"] for effect, row in zip(effects, found, strict=True)}
    assert got == pytest.approx({
        "pasture v hay (all days v all days)": coefficients["diet[pasture]"],
        "concentrate v hay (all days v all days)": coefficients["diet[concentrate]"],
        "soft v mixed (all days v all days)": coefficients["terrain[soft]"],
        "hard v mixed (all days v all days)": coefficients["terrain[hard]"],
        "trim interval, per 7 days (mean over the window)": 7 * coefficients["trim_interval_days"],
    })  # fmt: skip
    assert [effect.label for effect in effects if effect.of_interest] == ["hard v mixed (all days v all days)"]
    assert all(row["low"] < row["estimate"] < row["high"] for row in found)


def test_a_comparison_away_from_the_base_is_added_and_flagged(frames):
    settings = settings_with(comparison=Comparison(exposure="terrain", first="hard", second="soft"))
    coefficients, effects, found = estimates(settings, frames)
    (chosen,) = [(e, row) for e, row in zip(effects, found, strict=True) if e.of_interest]
    assert chosen[0].label == "hard v soft (all days v all days)"
    assert chosen[1]["estimate"] == pytest.approx(coefficients["terrain[hard]"] - coefficients["terrain[soft]"])
    assert len(effects) == 6


def test_a_comparison_that_is_turned_round_replaces_the_one_with_the_base(frames):
    settings = settings_with(comparison=Comparison(exposure="terrain", first="mixed", second="hard"))
    coefficients, effects, found = estimates(settings, frames)
    (chosen,) = [(e, row) for e, row in zip(effects, found, strict=True) if e.of_interest]
    assert chosen[1]["estimate"] == pytest.approx(-coefficients["terrain[hard]"])
    assert len(effects) == 5


def test_with_an_interaction_the_effect_is_the_plain_average_of_those_at_each_value(frames):
    coefficients, effects, found = estimates(settings_with(interactions=[["terrain", "fore_hind"]]), frames)
    got = {
        None if effect.at is None else effect.at.text: row["estimate"]
        for effect, row in zip(effects, found, strict=True)
        if effect.exposure == "terrain" and effect.first == "hard"
    }
    fore = coefficients["terrain[hard]"]
    hind = fore + coefficients["terrain[hard]:fore_hind[hind]"]
    assert got == pytest.approx({None: (fore + hind) / 2, "fore": fore, "hind": hind})
    assert not any(effect.of_interest for effect in effects if effect.at is not None)


def test_with_a_number_the_effect_stands_at_its_mean_and_a_spread_to_either_side(frames):
    coefficients, effects, found = estimates(settings_with(interactions=[["trim_interval_days", "age_years"]]), frames)
    fit, _ = adjusted_effects(settings_with(), frames)
    age = np.asarray(vars(fit.design.variables["age_years"])["values"])
    slope, change = coefficients["trim_interval_days"], coefficients["trim_interval_days:age_years"]
    got = [
        row["estimate"] for effect, row in zip(effects, found, strict=True) if effect.exposure == "trim_interval_days"
    ]
    points = np.array([age.mean(), *(age.mean() + shift * age.std(ddof=1) for shift in (-1, 0, 1))])
    assert got == pytest.approx(7 * (slope + change * points))


def test_an_effect_of_a_word_that_is_not_there_is_none(frames):
    fit, _ = adjusted_effects(settings_with(), frames)
    absent = Effect("diet", "oats v hay", "oats", "hay")
    present = Effect("diet", "pasture v hay", "pasture", "hay")
    found = estimate_effects(fit, [absent, present])
    assert found[0] is None
    assert found[1] is not None

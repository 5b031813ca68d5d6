"""The truth file against the numbers, with plain numpy: fixed effects by least squares, variances by moments.

Standard errors come from a jackknife over blocks of yards, so that no mixed model is needed to check the simulation.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from hoofcohort.simulate import simulate_cohort

HORSES, BLOCKS = 4000, 50
OUTCOMES = ("heel_underrun_deg", "frog_width_mm")


@pytest.fixture(scope="module")
def cohort():
    return simulate_cohort(HORSES, seed=42, mistakes=False)


@pytest.fixture(scope="module")
def table(cohort):
    """One row per reading: indices of its groups, both outcomes, and the terms rebuilt where the record allows."""
    feet = cohort.feet.merge(cohort.horses[["horse_id", "yard_id", "birth_year"]], on="horse_id", how="left")
    frame = cohort.terms.copy()
    frame["heel_underrun_deg"] = (feet["toe_angle_deg"] - feet["heel_angle_deg"]).to_numpy()
    frame["frog_width_mm"] = feet["frog_width_mm"].to_numpy()
    for name, columns in {"yard": "yard_id", "horse": "horse_id", "foot": "foot"}.items():
        frame[name] = pd.factorize(feet[columns])[0]
    days = (feet["visit_date"] - pd.Timestamp("2026-03-02")).dt.days
    frame["visit"] = (days // 84).to_numpy()
    frame["replicate"] = feet["replicate"].to_numpy(dtype=int)
    frame["observer"] = feet["observer_id"].to_numpy()
    frame["block"] = frame["yard"] % BLOCKS
    return frame


def jackknife(estimate, table):
    """Return the estimate and its delete-one-block standard error."""
    whole = np.asarray(estimate(table))
    parts = np.array([estimate(table[table["block"] != block]) for block in range(BLOCKS)])
    return whole, np.sqrt((BLOCKS - 1) * parts.var(axis=0))


def design(table, terms):
    return np.column_stack([np.ones(len(table)), table[list(terms)].to_numpy(dtype=float)])


@pytest.mark.parametrize("outcome", OUTCOMES)
def test_fixed_effects(cohort, table, outcome):
    truth = cohort.truth["outcomes"][outcome]
    # No visit of three falls in winter.
    terms = [term for term in truth["effects"] if term != "season[winter]"]
    complete = table.dropna(subset=[outcome])

    def least_squares(part):
        return np.linalg.lstsq(design(part, terms), part[outcome].to_numpy(), rcond=None)[0]

    estimates, errors = jackknife(least_squares, complete)
    for name, estimate, error in zip(["(intercept)", *terms], estimates, errors, strict=True):
        true = truth["intercept"] if name == "(intercept)" else truth["effects"][name]
        assert abs(estimate - true) < 4 * error, name
    by_name = dict(zip(terms, errors[1:], strict=True))
    assert by_name["diet[concentrate]"] < 0.2
    assert by_name["terrain[hard]"] < 0.3
    assert by_name["trim_interval_days"] < 0.01


def covariances(part, outcome):
    """Return mean products of residuals: total, same foot, same visit, same horse only, same yard only."""
    first = part[part["replicate"] == 1].drop_duplicates(["horse", "visit", "foot"])
    horse, _ = pd.factorize(first["horse"])
    cube = np.full((horse.max() + 1, 3, 4), np.nan)
    cube[horse, first["visit"], first["foot"]] = first["residual"]
    yard = first.drop_duplicates("horse")["yard"].to_numpy()
    known = ~np.isnan(cube)
    value = np.where(known, cube, 0.0)
    total = (value**2).sum() / known.sum()

    def pairs(values, counts):
        return (values**2).sum() - (value**2).sum(), (counts**2).sum() - known.sum()

    foot_sum, foot_n = pairs(value.sum(axis=1), known.sum(axis=1))
    visit_sum, visit_n = pairs(value.sum(axis=2), known.sum(axis=2))
    horse_sum, horse_n = pairs(value.sum(axis=(1, 2)), known.sum(axis=(1, 2)))
    _, yard_code = np.unique(yard, return_inverse=True)
    of_yard = np.bincount(yard_code, value.sum(axis=(1, 2)))
    n_yard = np.bincount(yard_code, known.sum(axis=(1, 2)))
    yard_sum = (of_yard**2).sum() - (value.sum(axis=(1, 2)) ** 2).sum()
    yard_n = (n_yard**2).sum() - (known.sum(axis=(1, 2)) ** 2).sum()
    same_foot, same_visit = foot_sum / foot_n, visit_sum / visit_n
    same_horse = (horse_sum - foot_sum - visit_sum) / (horse_n - foot_n - visit_n)
    same_yard = yard_sum / yard_n
    return total, same_foot, same_visit, same_horse, same_yard


def components(part, outcome):
    """Return the variances of yard, horse, foot, horse:visit and residual by the method of moments."""
    total, same_foot, same_visit, same_horse, same_yard = covariances(part, outcome)
    foot, visit = same_foot - same_horse, same_visit - same_horse
    horse = same_horse - same_yard
    return same_yard, horse, foot, visit, total - same_yard - horse - foot - visit


@pytest.mark.parametrize("outcome", OUTCOMES)
def test_variance_components(cohort, table, outcome):
    truth = cohort.truth["outcomes"][outcome]
    part = table.dropna(subset=[outcome]).copy()
    fixed = truth["intercept"] + sum(effect * part[term] for term, effect in truth["effects"].items())
    part["residual"] = part[outcome] - fixed
    estimates, errors = jackknife(lambda rows: components(rows, outcome), part)
    true = np.array([truth["sd"][level] ** 2 for level in ("yard", "horse", "foot", "horse:visit", "residual")])
    # Rounding adds step^2/12 to a reading: known, and far below the residual variance.
    steps = 2 * 0.1**2 if outcome == "heel_underrun_deg" else 0.5**2
    true[-1] += steps / 12
    assert steps / 12 < 0.01 * true[-1]
    assert (np.abs(estimates - true) < 4 * errors).all(), (estimates, true, errors)
    # Not so wide that anything would pass: 15% of a variance is 7% of its SD.
    assert (errors < 0.15 * true).all(), errors / true


@pytest.mark.parametrize("outcome", OUTCOMES)
def test_residual_from_repeats_of_the_same_observer(cohort, table, outcome):
    key = ["horse", "visit", "foot", "observer"]
    part = table.dropna(subset=[outcome])
    spread = part.groupby(key)[outcome].agg(["size", "var"])
    variances = spread.loc[spread["size"] == 2, "var"]
    sd = cohort.truth["outcomes"][outcome]["sd"]["residual"]
    assert len(variances) > 1000
    # The variance of s^2 on one degree of freedom is 2 sigma^4.
    assert abs(variances.mean() / sd**2 - 1) < 4 * np.sqrt(2 / len(variances)) + 0.01


def test_terms_agree_with_the_record(cohort, table):
    feet = cohort.feet.merge(cohort.horses, on="horse_id", how="left")
    when = feet["visit_date"]
    age = when.dt.year + (when.dt.day_of_year - 1) / (365 + when.dt.is_leap_year) - feet["birth_year"]
    np.testing.assert_allclose(table["age_years"], age.to_numpy(dtype=float), atol=1e-9)
    np.testing.assert_array_equal(table["fore_hind[hind]"], feet["foot"].isin(["LH", "RH"]))
    seasons = {"summer": (6, 7, 8), "autumn": (9, 10, 11), "winter": (12, 1, 2)}
    for season, months in seasons.items():
        np.testing.assert_array_equal(table[f"season[{season}]"], when.dt.month.isin(months))
    for column, term in (("body_mass_kg", "body_mass_kg"), ("days_since_trim", "days_since_trim")):
        recorded = feet[column].notna().to_numpy()
        np.testing.assert_allclose(table.loc[recorded, term], feet.loc[recorded, column].to_numpy(dtype=float))
    np.testing.assert_array_equal(table["observer_id[OBS-B]"], feet["observer_id"] == "OBS-B")
    np.testing.assert_array_equal(table["method[photo]"], feet["method"] == "photo")


def test_other_measurements_have_their_typical_values(cohort):
    reference = cohort.terms
    fore = (reference["fore_hind[hind]"] == 0).to_numpy()
    means = cohort.feet[fore].mean(numeric_only=True)
    mass, since = reference["body_mass_kg"].mean(), reference["days_since_trim"].mean()
    for name in ("toe_angle_deg", "toe_length_mm", "hoof_width_mm", "frog_length_mm", "coronet_circumference_mm"):
        truth = cohort.truth["other_measurements"][name]
        effects = truth["effects"]
        expected = (
            truth["intercept"] + effects.get("body_mass_kg", 0) * mass + effects.get("days_since_trim", 0) * since
        )
        # The mean of 4,000 horses, whose SD is below 20 units and yard SD below 4 over 750 yards.
        assert abs(means[name] - expected) < 4 * np.sqrt(20**2 / 4000 + 4**2 / 750), name

"""The invented cohort: sizes, gaps, habits, reproducibility and the limits of what may be asked."""

from __future__ import annotations

import re

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from hoofcohort.errors import InputError
from hoofcohort.simulate import simulate_cohort
from hoofcohort.simulate.cohort import FILES


@pytest.fixture(scope="module")
def clean():
    return simulate_cohort(mistakes=False)


def test_same_seed_same_text_and_another_seed_another():
    first, again, other = (simulate_cohort(seed=seed) for seed in (7, 7, 8))
    for file in FILES:
        assert first.csv_text(file) == again.csv_text(file)
        assert first.csv_text(file) != other.csv_text(file)
    assert first.truth == again.truth


def test_mistakes_leave_the_clean_frames_alone(clean):
    with_mistakes = simulate_cohort(mistakes=True)
    for name in ("horses", "management", "feet", "terms"):
        pd.testing.assert_frame_equal(getattr(clean, name), getattr(with_mistakes, name))


def test_demo_has_the_size_and_the_gaps_it_should_have(clean):
    feet, horses = clean.feet, clean.horses
    assert len(horses) == 64 and horses["yard_id"].nunique() == 12
    planned = 64 * 4 * 3
    first_time = feet.drop_duplicates(["horse_id", "foot", "visit_date"])
    assert 0.85 * planned < len(first_time) < planned
    assert 0 < len(feet) - len(first_time) < 0.15 * planned
    assert set(feet["foot"]) == {"LF", "RF", "LH", "RH"}
    assert set(feet["observer_id"]) == {"OBS-A", "OBS-B"}
    assert set(feet["replicate"]) == {1, 2}
    assert horses["body_mass_kg"].isna().sum() == 2
    managed = set(clean.management["horse_id"])
    assert 0 < len(set(horses["horse_id"]) - managed) <= 4
    assert clean.management["horse_id"].value_counts().max() == 3
    measured = feet.loc[feet["method"] == "gauge"].select_dtypes("number")
    assert measured.isna().mean().drop("replicate").between(0.0005, 0.08).all()


def test_each_visit_of_a_yard_has_one_observer_apart_from_second_readings(clean):
    feet = clean.feet.merge(clean.horses[["horse_id", "yard_id"]])
    feet["round"] = (feet["visit_date"] - pd.Timestamp("2026-03-02")).dt.days // 84
    readings = feet.groupby(["horse_id", "foot", "round"])["observer_id"]
    assert 0 < (readings.nunique() == 2).mean() < 0.12
    first = feet.assign(observer_id=readings.transform("first"))
    assert not first.drop_duplicates(["yard_id", "round", "observer_id"]).duplicated(["yard_id", "round"]).any()
    photo = feet.loc[feet["method"] == "photo", "yard_id"].unique()
    assert len(photo) == 1


def test_key_of_every_table_is_unique(clean):
    assert clean.horses["horse_id"].is_unique
    key = ["horse_id", "foot", "visit_date", "observer_id", "method", "replicate"]
    assert not clean.feet.duplicated(key).any()
    management = clean.management.sort_values(["horse_id", "from_date"])
    following = management.groupby("horse_id")["from_date"].shift(-1)
    closed = management["to_date"].notna()
    assert (management["to_date"] + pd.Timedelta(days=1))[closed & following.notna()].equals(
        following[closed & following.notna()]
    )
    assert following[~closed].isna().all()


def test_keeping_is_confounded_with_yard_but_not_the_same_as_yard():
    cohort = simulate_cohort(640, mistakes=False)
    first = cohort.management.drop_duplicates("horse_id").merge(cohort.horses).dropna(subset=["diet", "terrain"])
    for column in ("diet", "terrain"):
        table = pd.crosstab(first["yard_id"], first[column])
        assert stats.chi2_contingency(table).pvalue < 1e-12
        habit = table.max(axis=1) / table.sum(axis=1)
        assert 0.5 < habit.mean() < 0.9
    by_yard = [group["trim_interval_days"].dropna() for _, group in first.groupby("yard_id")]
    assert stats.f_oneway(*(group for group in by_yard if len(group) > 1)).pvalue < 1e-6
    by_diet = [group["trim_interval_days"].dropna() for _, group in first.groupby("diet")]
    assert stats.f_oneway(*by_diet).pvalue < 1e-6
    assert stats.chi2_contingency(pd.crosstab(first["diet"], first["terrain"])).pvalue < 1e-3


def test_some_horses_change_over_during_the_study(clean):
    for column, least in (("diet", 5), ("terrain", 3), ("trim_interval_days", 5)):
        different = clean.management.dropna(subset=[column]).drop_duplicates(["horse_id", column])
        assert (different["horse_id"].value_counts() > 1).sum() >= least


def test_ids_are_codes_not_names():
    cohort = simulate_cohort(200)
    for column, pattern in (("horse_id", r"H\d{4}"), ("yard_id", r"Y\d\d"), ("owner_id", r"W\d{3}")):
        assert cohort.horses[column].str.fullmatch(pattern).all()
    assert cohort.horses["ueln"].dropna().str.fullmatch(r"999001\d{9}").all()
    assert cohort.horses["microchip"].dropna().str.fullmatch(r"999000\d{9}").all()
    assert cohort.horses["microchip"].dropna().str[3:].astype("int64").max() <= 274877906943
    assert cohort.feet["observer_id"].map(lambda text: bool(re.fullmatch(r"OBS-[AB]", text))).all()


@pytest.mark.parametrize("horses, yards, visits", [(1, 1, 1), (5, 5, 2), (30, 2, 7)])
def test_any_size_works(horses, yards, visits):
    cohort = simulate_cohort(horses, yards, visits, seed=3)
    assert len(cohort.horses) == horses
    assert cohort.horses["yard_id"].nunique() == yards
    assert cohort.feet["visit_date"].max() <= pd.Timestamp(cohort.truth["as_of"])
    for file in FILES:
        assert cohort.csv_text(file).count("\n") == cohort.truth["rows"][file]["written"] + 1


@pytest.mark.parametrize(
    "arguments, message",
    [
        ({"horses": 0}, "horses is 0; it must be at least 1"),
        ({"visits": -2}, "visits is -2; it must be at least 1"),
        ({"seed": -1}, "seed is -1; it must not be negative"),
        ({"horses": 3, "yards": 4}, "yards is 4 but there are only 3 horses; ask for at most one yard per horse"),
    ],
)
def test_impossible_sizes_are_refused(arguments, message):
    with pytest.raises(InputError) as error:
        simulate_cohort(**arguments)
    assert message in str(error.value)


def test_days_since_trim_stays_below_the_interval_in_force(clean):
    rows = clean.management.dropna(subset=["trim_interval_days"]).sort_values("from_date")
    feet = clean.feet.dropna(subset=["days_since_trim"]).sort_values("visit_date")
    joined = pd.merge_asof(feet, rows, left_on="visit_date", right_on="from_date", by="horse_id")
    joined = joined.dropna(subset=["trim_interval_days"])
    since, interval = (joined[name].to_numpy(dtype=float) for name in ("days_since_trim", "trim_interval_days"))
    assert len(joined) > 600
    assert (since >= 0).all() and (since < interval).all()
    assert 0.4 < np.mean(since / interval) < 0.6

"""Attacks on statistics files: everything stored that is linear in the outcome, against sums of few horses."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import numpy as np
import pandas as pd
import pytest

from hoofcohort.errors import InputError
from hoofcohort.models.coding import Coding
from hoofcohort.models.specify import specify
from hoofcohort.models.statistics_file import read_statistics, statistics_text
from hoofcohort.models.streaming import summarise

FEET = ("LF", "RF", "LH", "RH")


def cohort(visits, feet=FEET):
    """Return a row for every reading of horses seen so many times each, with an outcome."""
    rows = [
        (f"h{horse:02d}", foot, visit) for horse, seen in enumerate(visits) for visit in range(seen) for foot in feet
    ]
    table = pd.DataFrame(rows, columns=["horse", "foot", "visit"])
    table["limb"] = np.where(table["foot"].str.endswith("F"), "fore", "hind")
    rng = np.random.default_rng(len(rows))
    return table.assign(y=50 + rng.normal(size=len(visits))[horse_of(table)] + rng.normal(size=len(rows)))


def horse_of(table):
    return pd.factorize(table["horse"])[0]


def specified(table, terms, levels=("horse", "foot"), also=("horse:visit",), intercept=True):
    names = dict.fromkeys(part for term in terms for part in term.split(":"))
    codings = [
        Coding(name, "number", (name,)) if pd.api.types.is_numeric_dtype(table[name])
        else Coding(name, "words", (name,), tuple(sorted(table[name].unique())))
        for name in names
    ]  # fmt: skip
    return specify(
        table, "y", terms, codings, {name: (name,) for name in levels},
        {name: (name.split(":")[1],) for name in also}, intercept,
    )  # fmt: skip


def file_of(table, specification, minimum=1, leave_out=False):
    """Return what a reader of the written file has."""
    return read_statistics(statistics_text(summarise(lambda: [table], specification, minimum, leave_out)))


def stored(found):
    """Return all numbers of a file, or products of them, that are linear in the outcome, one after the other."""
    numbers = [found.column_sums[-1:], (found.within.T @ found.within)[:-1, -1]]
    for cell in found.cells:
        flat = cell.sums.reshape(len(cell.sums), -1)
        gram = (flat.T @ flat).reshape(*cell.sums.shape[1:], *cell.sums.shape[1:])
        numbers.append(gram[:, :-1, :, -1].reshape(-1))
    numbers += [sums[:, -1] for sums in found.members.sums]
    return np.concatenate(numbers)


def weights_of(table, specification):
    """Return how much of every row's outcome each stored number holds, shape (numbers, rows)."""
    plain = replace(specification, centre=(*specification.centre[:-1], 0.0))
    unit = np.eye(len(table))
    return np.stack([stored(summarise(lambda own=own: [table.assign(y=own)], plain)) for own in unit], axis=1)


def given_away(weights, horse, fewer_than):
    """Return sets of fewer horses on whose rows alone some combination of what is stored rests."""
    size = np.abs(weights).max(axis=1)
    basis, sizes, _ = np.linalg.svd(weights[size > 1e-9] / size[size > 1e-9, None], full_matrices=False)
    full = int((sizes > 1e-9 * sizes[0]).sum())
    reduced = basis[:, :full].T @ (weights[size > 1e-9] / size[size > 1e-9, None])
    found = []
    for chosen in combinations(range(horse.max() + 1), fewer_than - 1):
        others = reduced[:, ~np.isin(horse, chosen)]
        if np.linalg.matrix_rank(others, tol=1e-8 * sizes[0]) < full:
            found.append(chosen)
    return found


def yes(chosen):
    return np.where(chosen, "yes", "no")


ONE_OF_45 = {
    "a word of one horse of its cell": lambda rows, horse: {"ill": yes(np.isin(horse, [0, 1, 2, 21, 22, 23, 45]))},
    "a number that is 0 or 1": lambda rows, horse: {"ill": (horse == 45) * 1.0},
    "a number that all others share": lambda rows, horse: {"ill": np.where(horse == 45, 7.0, 3.0)},
    "all horses of the cell but one": lambda rows, horse: {"ill": yes((horse >= 40) & (horse != 45))},
    "one horse between two words": lambda rows, horse: {
        "ill": yes(horse % 20 < 4), "lame": yes((horse % 20 < 4) | (horse == 45)),
    },
    "a word of one horse's visit": lambda rows, horse: {"ill": yes((horse == 45) & (rows["visit"] == 1))},
    "a word of one horse's foot": lambda rows, horse: {"ill": yes((horse == 45) & (rows["foot"] == "LF"))},
    "a word of one reading": lambda rows, horse: {
        "ill": yes((horse == 45) & (rows["foot"] == "LF") & (rows["visit"] == 1))
    },
    "a number far from all others": lambda rows, horse: {"ill": np.where(horse == 45, 900.0, horse % 7)},
}  # fmt: skip


@pytest.mark.parametrize("name", ONE_OF_45)
def test_one_horse_s_sums_are_not_given_away(name):
    table = cohort(np.repeat([1, 2, 3], 20))
    added = ONE_OF_45[name](table, horse_of(table))
    table = table.assign(**added)
    specification = specified(table, list(added))
    with pytest.raises(InputError) as error:
        file_of(table, specification, 3)
    said = str(error.value)
    assert "can be combined into those of 1 horse alone, fewer than 3" in said or "fewer than 3 horses have ill" in said
    assert "leave the term" in said and "--minimum" in said
    assert file_of(table, specification).animals == 60
    left = file_of(table, specification, 3, leave_out=True)
    assert (left.animals, left.left_out) == (59, 1)


def test_what_was_given_away_is_the_horse_s_own_sums():
    table = cohort(np.repeat([1, 2, 3], 20))
    horse = horse_of(table)
    table["ill"] = np.where(np.isin(horse, [0, 1, 2, 21, 22, 45]), "yes", "no")
    specification = specified(table, ["ill"])
    for leave_out in (False, True):
        found = file_of(table, specification, 3 if leave_out else 1, leave_out)
        cell = found.cells[-1]
        flat = cell.sums.reshape(len(cell.sums), -1)
        gram = (flat.T @ flat).reshape(*cell.sums.shape[1:], *cell.sums.shape[1:])
        centre, rows = np.array(specification.centre), cell.counts[0, 0]
        ones = gram[0, 0, 0] / rows + cell.blocks * centre * np.array([0.0, rows, rows])
        ill = gram[0, 1, 0] / rows + centre[1] * gram[0, 0, 0] / rows
        ill += centre * ones[1]
        assert cell.blocks == 20 - leave_out
        assert ones[1] / rows == pytest.approx(0 if leave_out else 1, abs=1e-9)
        if not leave_out:
            assert ill[2] == pytest.approx(table["y"][horse == 45].sum(), rel=1e-9)


def random_cohort(rng):
    visits = np.concatenate([np.full(count, seen) for seen, count in enumerate(rng.choice([0, 6, 8, 11], 2), start=1)])
    if not len(visits):
        visits = np.full(7, 2)
    table = cohort(visits, FEET[: rng.integers(2, 5)])
    horse = horse_of(table)
    words = np.array(["a", "b", "c"])
    by_horse = words[rng.integers(0, rng.integers(2, 4), horse.max() + 1)][horse]
    other = words[rng.integers(0, 2, horse.max() + 1)][horse]
    rare = np.where(np.isin(horse, rng.choice(horse.max() + 1, rng.integers(1, 5))) & (table["visit"] == 0), "x", "y")
    table = table.assign(diet=by_horse, shod=other, rare=rare, age=rng.integers(4, 25, horse.max() + 1)[horse])
    table = table.assign(trim=rng.normal(size=len(table)), few=rng.integers(0, 2, len(table)))
    if rng.random() < 0.4:
        table = table.drop(index=rng.choice(len(table), 2, replace=False)).reset_index(drop=True)
    terms = rng.choice(
        ["diet", "shod", "rare", "age", "trim", "few", "limb", "diet:limb"], rng.integers(1, 4), replace=False
    )
    return table, [str(term) for term in terms]


@pytest.mark.parametrize("seed", range(3))
def test_no_combination_of_what_is_stored_rests_on_fewer_horses_than_the_minimum(seed):
    rng = np.random.default_rng(seed)
    safe, given, blamed = 0, 0, 0
    while safe < 4 or blamed < 4:
        table, terms = random_cohort(rng)
        specification = specified(table, terms, intercept=bool(rng.random() < 0.8))
        try:
            file_of(table, specification, 3)
        except InputError as error:
            if blamed < 8 and "can be combined" in str(error):
                blamed += 1
                given += bool(given_away(weights_of(table, specification), horse_of(table), 3))
        else:
            safe += 1
            assert given_away(weights_of(table, specification), horse_of(table), 3) == [], terms
    assert given >= blamed / 2, "what is refused is mostly given away by the outcome's sums alone"


def test_nor_does_one_with_sums_by_yard():
    rng = np.random.default_rng(0)
    table = cohort(np.repeat(2, 18), FEET[:2])
    horse = horse_of(table)
    table = table.assign(
        yard=np.array(list("abc"))[horse // 6], trim=rng.normal(size=18)[horse],
        diet=np.array(["a", "b"])[rng.integers(0, 2, 18)][horse], ill=yes((horse >= 6) & (horse < 11)),
    )  # fmt: skip
    for terms, safe in ((["trim"], True), (["diet", "trim"], True), (["trim", "ill"], False)):
        specification = specified(table, terms, ("yard", "horse", "foot"), ())
        assert specification.blocks == "horse"
        found = given_away(weights_of(table, specification), horse, 3)
        assert (found == []) == safe
        if safe:
            file_of(table, specification, 3)
            continue
        assert all(11 in chosen for chosen in found)
        with pytest.raises(
            InputError, match=r"horses with 4 rows, 2 of foot \(18 of them\): the sums of .*1 horse alone"
        ):
            file_of(table, specification, 3)
    without = specified(table, ["trim", "ill"], ("horse", "foot"), ())
    assert file_of(table, without, 3).animals == 18


def test_what_is_not_prevented_outcomes_of_few_values_can_be_tried():
    rng = np.random.default_rng(4)
    table = cohort(np.repeat(1, 12), FEET[:2])
    horse = horse_of(table)
    table = table.assign(age=rng.uniform(4, 25, 12)[horse], y=rng.permutation(np.arange(12) % 2)[horse] * 1.0)
    specification = specified(table, ["age"], ("horse", "foot"), ())
    cell = file_of(table, specification, 5).cells[0]
    gram = np.einsum("nri,nsj->risj", cell.sums, cell.sums)
    ages = table["age"][::2].to_numpy() - specification.centre[1]
    every = (np.arange(2**12)[:, None] >> np.arange(12)) & 1
    products = 4 * ((every - specification.centre[2]) @ ages)
    fits = np.flatnonzero(np.isclose(products, gram[0, 1, 0, 2], rtol=0, atol=1e-7))
    assert every[fits].tolist() == [table["y"][::2].astype(int).tolist()]


def test_what_cannot_be_looked_at_is_refused_or_left_out(monkeypatch):
    table = cohort(np.repeat([1, 2], [40, 9]), FEET[:2])
    horse = horse_of(table)
    table = table.assign(age=np.random.default_rng(6).normal(size=49)[horse])
    specification = specified(table, ["age"], ("horse", "foot"), ())
    assert file_of(table, specification, 5).animals == 49
    monkeypatch.setattr("hoofcohort.models.isolation.MOST_SETS", 0)
    with pytest.raises(InputError, match=r"\(9 of them\): too many combinations of .*age.* fewer than 5 horses\. Pool"):
        file_of(table, specification, 5)
    left = file_of(table, specification, 5, leave_out=True)
    assert (left.animals, left.left_out) == (40, 9)


@pytest.mark.parametrize("far", [1e5, 1e8, -1e9])
def test_a_centre_far_from_the_rows_is_refused(far):
    """A partner's specification could move a column so far off that one horse's word hides behind the intercept."""
    table = cohort([2] * 30)
    table = table.assign(z=(table["horse"] == "h07").astype(float))
    honest = specified(table, ["z"])
    place = honest.design(table).names.index("z")
    with pytest.raises(InputError, match=r"'?z'?.* 1 horse"):
        file_of(table, honest, 5)
    centre = tuple(far if k == place else own for k, own in enumerate(honest.centre))
    with pytest.raises(InputError, match=r"'z' lies .* times its range from the centre"):
        file_of(table, replace(honest, centre=centre), 5)


def test_a_column_far_from_zero_without_an_intercept_is_refused():
    table = cohort([2] * 30)
    table = table.assign(
        z=1.77e9 + 100.0 * (table["horse"] == "h07") + np.random.default_rng(1).normal(size=len(table))
    )
    with pytest.raises(InputError, match="times its range from the centre"):
        file_of(table, specified(table, ["z"], intercept=False), 5)

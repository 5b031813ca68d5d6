"""Statistics made in parts, merged and fitted, against the fit of all rows together, on public reference data."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from hoofcohort.errors import InputError, UnidentifiableLevelError
from hoofcohort.models import Grouping, fit_mixed_model
from hoofcohort.models.coding import Coding
from hoofcohort.models.gathering import merge
from hoofcohort.models.row_groups import group_rows
from hoofcohort.models.rowless import fit_statistics
from hoofcohort.models.solution import Choices
from hoofcohort.models.specify import specify
from hoofcohort.models.streaming import summarise
from reference import REFERENCE

DATA = REFERENCE / "data"
WORDS = {"diet", "terrain", "limb", "foot", "method", "fore_hind", "nutrient", "amd", "Side", "Variety", "Sex"}
CASES = {
    "visits": ("cohort_visit_pub", "y", ["diet", "trim", "limb"], ["horse", "foot"], ["horse:visit"]),
    "yards and visits": (
        "default_model", "underrun", ["concentrate", "pasture", "trim", "fore_hind", "method"],
        ["yard", "horse", "foot"], ["horse:visit"],
    ),
    "three levels": (
        "yard3_pub", "y", ["diet", "terrain", "age", "mass", "trim", "limb"], ["yard", "horse", "foot"], [],
    ),
    "ragged": ("cohort_unbal_pub", "y", ["diet", "limb", "trim", "diet:limb"], ["horse", "foot"], []),
    "one level": ("cohort30_pub", "y", ["diet", "terrain", "age", "mass", "trim", "limb"], ["horse"], []),
    "aliased": ("rankdef_pub", "y", ["diet", "terrain", "limb", "diet:terrain"], ["horse", "foot"], []),
    "crossing in the yard": ("yard3_pub", "y", ["diet", "trim"], ["yard", "horse"], ["yard:visit"]),
    "badly scaled": ("illscaled_pub", "y", ["diet", "mass_g", "date", "trim", "limb"], ["horse", "foot"], []),
    "without means": ("cohort40_pub", "y", [], ["horse", "foot"], []),
}  # fmt: skip


def table_of(case):
    name, outcome, terms, levels, _ = CASES[case]
    used = [outcome, *(part for term in terms for part in term.split(":"))]
    return pd.read_csv(DATA / f"{name}.csv").dropna(subset=used).sort_values(levels, kind="stable")


def codings_of(rows, terms):
    names = dict.fromkeys(part for term in terms for part in term.split(":"))
    return [
        Coding(name, "words", (name,), tuple(sorted(rows[name].unique()))) if name in WORDS
        else Coding(name, "number", (name,))
        for name in names
    ]  # fmt: skip


def specification_of(case, rows, intercept=True):
    _, outcome, terms, levels, also = CASES[case]
    return specify(
        rows, outcome, terms, codings_of(rows, terms), {name: (name,) for name in levels},
        {name: (name.split(":")[1],) for name in also}, intercept,
    )  # fmt: skip


def pooled_fit(rows, specification, choices):
    labels = {name: rows[name].to_numpy() for name in specification.levels}
    also = {name: rows[name.split(":")[1]].to_numpy() for name in specification.also}
    return fit_mixed_model(
        rows[specification.outcome].to_numpy(), specification.design(rows), Grouping.from_labels(labels, also),
        choices.method, choices.df, choices.means,
    )  # fmt: skip


def in_parts(rows, specification, parts):
    """Summarise every so many outermost groups apart, and merge."""
    group = pd.factorize(rows[specification.levels[0]])[0]
    return merge([summarise(lambda own=rows[group % parts == part]: [own], specification) for part in range(parts)])


def assert_same(ours, theirs, tolerance):
    """Compare two records; coefficients to within so much of their standard errors."""
    assert list(ours) == list(theirs)
    for key in ("rows_used", "groups", "method", "df_method", "boundary", "dropped_terms", "converged"):
        assert ours[key] == theirs[key], key
    assert ours["criterion"] == pytest.approx(theirs["criterion"], rel=tolerance)
    largest = max(row["variance"] for row in theirs["variances"])
    close(
        [row["variance"] for row in ours["variances"]],
        [row["variance"] for row in theirs["variances"]],
        tolerance,
        largest,
    )
    for kind in ("coefficients", "means", "contrasts"):
        assert len(ours[kind]) == len(theirs[kind])
        for one, other in zip(ours[kind], theirs[kind], strict=True):
            assert {k: v for k, v in one.items() if isinstance(v, str)} == {
                k: v for k, v in other.items() if isinstance(v, str)
            }
            if other["estimate"] is None:
                assert one["estimate"] is None
                continue
            for key in ("estimate", "std_error", "low", "high"):
                close(one[key], other[key], tolerance, max(other["std_error"], abs(other["estimate"])))
            close(one["df"], other["df"], 10 * tolerance)
    assert [row["term"] for row in ours["tests"]] == [row["term"] for row in theirs["tests"]]
    for one, other in zip(ours["tests"], theirs["tests"], strict=True):
        close([one["f"], one["den_df"]], [other["f"], other["den_df"]], 10 * tolerance)
    for key in ("icc", "r2"):
        close(list(ours[key].values()), list(theirs[key].values()), tolerance, 1.0)


def close(ours, theirs, tolerance, size=None):
    floor = 0.0 if size is None else tolerance * size
    np.testing.assert_allclose(ours, theirs, rtol=tolerance, atol=floor)


CHOICES = [Choices(), Choices(df="satterthwaite"), Choices("ml")]


@pytest.mark.parametrize("case", CASES)
@pytest.mark.parametrize("choices", CHOICES, ids=["Kenward-Roger", "Satterthwaite", "maximum likelihood"])
def test_parts_give_the_fit_of_all_rows(case, choices):
    rows = table_of(case)
    specification = specification_of(case, rows)
    choices = replace(choices, means=("diet",) if "diet" in CASES[case][2] else ())
    found = fit_statistics(in_parts(rows, specification, 3), choices).to_dict()
    assert_same(found, pooled_fit(rows, specification, choices).to_dict(), 1e-10)


def test_without_an_intercept():
    rows = table_of("ragged")
    specification = specification_of("ragged", rows, intercept=False)
    assert not any(specification.centre)
    found = fit_statistics(in_parts(rows, specification, 4)).to_dict()
    assert_same(found, pooled_fit(rows, specification, Choices()).to_dict(), 1e-10)


def test_shares_stand_at_their_mean():
    rows = table_of("three levels")
    rng = np.random.default_rng(3)
    shares = rng.dirichlet(np.ones(3), rows["horse"].nunique())[pd.factorize(rows["horse"])[0]]
    rows = rows.assign(**{f"keeping__{word}": shares[:, place] for place, word in enumerate("abc")})
    codings = [
        Coding("keeping", "shares", tuple(f"keeping__{word}" for word in "abc"), ("a", "b", "c")),
        Coding("limb", "words", ("limb",), ("fore", "hind")),
    ]
    levels = {name: (name,) for name in ("yard", "horse", "foot")}
    specification = specify(rows, "y", ["keeping", "limb", "keeping:limb"], codings, levels)
    choices = Choices(means=("keeping", "limb"))
    found = fit_statistics(in_parts(rows, specification, 3), choices).to_dict()
    assert_same(found, pooled_fit(rows, specification, choices).to_dict(), 1e-10)


def test_the_outcome_s_mean_may_be_a_million_times_its_spread():
    rows = table_of("visits")
    rows["y"] += 1e7
    specification = specification_of("visits", rows)
    found = fit_statistics(in_parts(rows, specification, 3)).to_dict()
    assert_same(found, pooled_fit(rows, specification, Choices()).to_dict(), 1e-8)


def test_horses_may_differ_ten_thousand_times_as_much_as_visits():
    rows = table_of("visits")
    rows["y"] += 1e4 * np.random.default_rng(5).normal(size=40)[pd.factorize(rows["horse"])[0]]
    specification = specification_of("visits", rows)
    ours = fit_statistics(in_parts(rows, specification, 3)).to_dict()
    theirs = pooled_fit(rows, specification, Choices()).to_dict()
    assert ours["converged"]
    for kind, what in (("variances", "variance"), ("coefficients", "std_error")):
        close([row[what] for row in ours[kind]], [row[what] for row in theirs[kind]], 1e-10)


def test_horses_share_a_pattern_whatever_their_feet_and_visits_are_called():
    rows = table_of("visits")
    rng = np.random.default_rng(2)
    renamed = rows.copy()
    for name in ("foot", "visit"):
        values = rows[name].unique()
        names = {
            (horse, value): place
            for horse in rows["horse"].unique()
            for value, place in zip(values, rng.permutation(len(values)), strict=True)
        }
        renamed[name] = [names[pair] for pair in zip(rows["horse"], rows[name], strict=True)]
    specification = specification_of("visits", rows)
    ours, theirs = (summarise(lambda own=own: [own], specification) for own in (renamed, rows))
    assert [cell.key for cell in ours.cells] == [cell.key for cell in theirs.cells]
    assert [cell.blocks for cell in ours.cells] == [cell.blocks for cell in theirs.cells]
    assert_same(fit_statistics(ours).to_dict(), fit_statistics(theirs).to_dict(), 1e-10)


@pytest.mark.parametrize("size", [1, 7, 50])
def test_rows_that_come_in_chunks_give_the_statistics_of_all(size):
    rows = table_of("yards and visits")
    specification = specification_of("yards and visits", rows)
    chunks = [rows.iloc[start : start + size] for start in range(0, len(rows), size)]
    ours, theirs = summarise(lambda: chunks, specification), summarise(lambda: [rows], specification)
    assert (ours.rows, ours.animals, ours.sizes()) == (theirs.rows, theirs.animals, theirs.sizes())
    assert [cell.key for cell in ours.cells] == [cell.key for cell in theirs.cells]
    np.testing.assert_allclose(ours.root, theirs.root, atol=1e-11 * np.abs(theirs.root).max())
    assert_same(fit_statistics(ours).to_dict(), fit_statistics(theirs).to_dict(), 1e-10)


def test_a_group_that_comes_again_is_refused():
    rows = table_of("yards and visits")
    specification = specification_of("yards and visits", rows)
    first = rows[rows["yard"] == rows["yard"].iloc[0]]
    with pytest.raises(InputError, match=f"rows of '{first['yard'].iloc[0]}'.*sort the rows"):
        summarise(lambda: [rows, first], specification)


def test_the_factor_of_all_rows_is_that_of_their_columns():
    rows = table_of("badly scaled")
    specification = specification_of("badly scaled", rows)
    root = in_parts(rows, specification, 5).root
    design = specification.design(rows)
    columns = np.column_stack([design.matrix, rows["y"]]) - np.array(specification.centre)
    exact = columns.astype(np.longdouble).T @ columns.astype(np.longdouble)
    size = np.sqrt(np.diag(exact))
    np.testing.assert_allclose((root.T @ root) / np.outer(size, size), exact / np.outer(size, size), atol=1e-13)


def test_groups_are_numbered_as_by_their_labels():
    rows = table_of("yards and visits").sample(frac=1, random_state=0)
    specification = specification_of("yards and visits", rows)
    ours = group_rows(rows, specification)
    theirs = Grouping.from_labels(
        {name: rows[name].to_numpy() for name in ("yard", "horse", "foot")}, {"horse:visit": rows["visit"].to_numpy()}
    )
    assert ours.sizes() == theirs.sizes()
    assert ours.hosts == theirs.hosts
    for mine, other, parent in zip(ours.codes, theirs.codes, ours.parents, strict=True):
        pairs = set(zip(mine, other, strict=True))
        assert len(pairs) == mine.max() + 1 == other.max() + 1
        assert (np.diff(parent) >= 0).all()


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"outcome": "age"}, "outcome: y and age"),
        ({"levels": ["horse"], "also": []}, "levels: horse, foot and horse"),
        ({"terms": ["diet", "trim"]}, "terms: diet, trim, limb and diet, trim"),
    ],
)
def test_parts_about_different_things_are_not_merged(change, said):
    rows = table_of("visits")
    _, outcome, terms, levels, also = CASES["visits"]
    asked = {"outcome": outcome, "terms": terms, "levels": levels, "also": also} | change
    own = specify(
        rows, asked["outcome"], asked["terms"], codings_of(rows, asked["terms"]), {n: (n,) for n in asked["levels"]},
        {n: (n.split(":")[1],) for n in asked["also"]},
    )  # fmt: skip
    with pytest.raises(InputError, match=said):
        merge([summarise(lambda: [rows], specification_of("visits", rows)), summarise(lambda: [rows], own)])


def test_words_that_were_not_agreed_are_refused():
    rows = table_of("visits")
    agreed = specification_of("visits", rows[rows["diet"] != "hay"])
    with pytest.raises(InputError, match="column 'diet': 'hay' is not among the agreed words"):
        summarise(lambda: [rows], agreed)


@pytest.mark.parametrize(
    ("levels", "kept", "said"),
    [
        (["horse", "foot", "visit"], lambda rows: rows, "one row in each"),
        (["horse", "foot"], lambda rows: rows[rows["horse"] == "H001"], "single group"),
        (["horse", "foot"], lambda rows: rows[rows["foot"] == "LF"], "in the same way"),
        (["yard", "horse"], lambda rows: rows.assign(yard=rows["horse"]), "in the same way"),
    ],
)
def test_levels_that_cannot_be_told_apart_are_refused_as_with_rows(levels, kept, said):
    rows = kept(table_of("visits"))
    specification = specify(rows, "y", ["trim"], codings_of(rows, ["trim"]), {name: (name,) for name in levels})
    for fit in (
        lambda: fit_statistics(summarise(lambda: [rows], specification)),
        lambda: pooled_fit(rows, specification, Choices()),
    ):
        with pytest.raises(UnidentifiableLevelError, match=said):
            fit()

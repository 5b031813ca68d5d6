"""The calibration counts what it says, and the table that the package carries is what it counts."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from hoofcohort.calibration import coverage
from hoofcohort.calibration.__main__ import main
from hoofcohort.calibration.cells import EFFECTS, LEVELS, METHODS, OUTCOMES, Cell, cells
from hoofcohort.calibration.cohorts import draw
from hoofcohort.calibration.coverage import FUNCTIONS, TRUTH, count, cover, grouping_of
from hoofcohort.calibration.table import KEY, MEANINGS, as_markdown, gather, outside
from hoofcohort.errors import ModelError
from hoofcohort.models import Covariate, build_design, fit_mixed_model

COMMITTED = Path(__file__).parents[2] / "src/hoofcohort/report/calibration.csv"
BALANCED = Cell(12, "balanced", "normal", "clear")
HARD = Cell(8, "ragged", "normal", "slight")


@pytest.fixture(scope="module")
def committed() -> pd.DataFrame:
    return pd.read_csv(COMMITTED, comment="#")


def alone(cohorts, outcome, df="kenward-roger"):
    """Fit one outcome by the public function."""
    variables = [Covariate(name, cohorts.exposures[:, column]) for column, name in enumerate(LEVELS)]
    return fit_mixed_model(outcome, build_design(variables, list(LEVELS)), grouping_of(cohorts), df=df)


@pytest.mark.parametrize("cell", [HARD, BALANCED], ids=lambda cell: cell.name)
def test_outcomes_fitted_together_give_what_each_gives_alone(cell):
    """Estimates, errors, df, intervals and joint tests; singular fits among them."""
    cohorts = draw(cell, 0)
    found = count(cohorts)
    singular = np.flatnonzero(found["boundary"])[:3]
    assert len(singular) or cell != HARD
    for which in {0, 1, 2, *singular}:
        outcome = cohorts.outcomes[:, which]
        for way, df in enumerate(("kenward-roger", "satterthwaite")):
            fit = alone(cohorts, outcome, df)
            rows = fit.linear(FUNCTIONS)
            np.testing.assert_allclose(found["estimate"][which], [row.estimate for row in rows], rtol=1e-8)
            np.testing.assert_allclose(found["error"][which, way], [row.std_error for row in rows], rtol=1e-7)
            np.testing.assert_allclose(found["df"][which, way], [row.df for row in rows], rtol=1e-6)
            held = [row.low <= truth <= row.high for row, truth in zip(rows, TRUTH, strict=True)]
            assert found["held"][which, way].tolist() == held
            test = alone(cohorts, outcome - cohorts.exposures @ TRUTH, df).joint_test(FUNCTIONS)
            assert found["joint"][which, way] == float(test.p > 0.05)
        assert found["boundary"][which] == bool(fit.boundary)
        assert found["converged"][which]


def dense(cohorts, outcome, variances):
    """Coefficients and covariance at given variances by generalised least squares on the whole matrix."""
    x = np.column_stack([np.ones(len(outcome)), cohorts.exposures])
    visit, foot = cohorts.horse * 10 + cohorts.visit, cohorts.horse * 10 + cohorts.foot
    v = variances["residual"] * np.eye(len(x))
    for name, codes in (("horse", cohorts.horse), ("foot", foot), ("horse:visit", visit)):
        v += variances[name] * (codes[:, None] == codes[None, :])
    inverse = np.linalg.inv(v)
    covariance = np.linalg.inv(x.T @ inverse @ x)
    return covariance @ x.T @ inverse @ outcome, covariance


def test_z_intervals_and_the_chi_squared_test_are_those_of_dense_algebra():
    cohorts = draw(BALANCED, 1)
    found = count(cohorts)
    verdicts = set()
    for which in range(OUTCOMES):
        outcome = cohorts.outcomes[:, which]
        estimate, covariance = dense(cohorts, outcome, alone(cohorts, outcome).variances)
        np.testing.assert_allclose(found["estimate"][which], estimate[1:], rtol=1e-7)
        error = np.sqrt(np.diag(covariance))[1:]
        np.testing.assert_allclose(found["error"][which, 2], error, rtol=1e-7)
        np.testing.assert_allclose(found["width"][which, 2], 2 * stats.norm.ppf(0.975) * error, rtol=1e-7)
        miss = estimate[1:] - TRUTH
        verdicts.add(float(stats.chi2.sf(miss @ np.linalg.solve(covariance[1:, 1:], miss), 3) > 0.05))
        assert found["held"][which, 2].tolist() == (np.abs(miss) <= 1.96 * error).tolist()
        assert found["joint"][which, 2] == float(
            stats.chi2.sf(miss @ np.linalg.solve(covariance[1:, 1:], miss), 3) > 0.05
        )
    assert verdicts == {0.0, 1.0}


def test_coverage_is_one_less_the_type_i_error_since_a_known_difference_only_moves_the_estimate():
    cohorts = draw(Cell(12, "ragged", "skewed", "slight"), 1)
    for which in range(5):
        outcome = cohorts.outcomes[:, which]
        fits = (alone(cohorts, own).linear(FUNCTIONS) for own in (outcome, outcome - cohorts.exposures @ TRUTH))
        for with_effect, without, truth in zip(*fits, TRUTH, strict=True):
            assert with_effect.estimate - truth == pytest.approx(without.estimate, abs=1e-6)
            assert with_effect.std_error == pytest.approx(without.std_error, rel=1e-6)
            assert with_effect.df == pytest.approx(without.df, rel=1e-5)
            assert (with_effect.low <= truth <= with_effect.high) == (without.p >= 0.05)


def test_a_cell_is_summed_up_from_its_cohorts():
    table = cover(BALANCED, 3).set_index(["level", "method"])
    parts = [count(draw(BALANCED, number)) for number in range(3)]
    row = table.loc[("visit", "Satterthwaite")]
    held = np.array([own["held"][:, 1, 1] for own in parts])
    assert row.coverage == held.mean()
    assert row.mc_se == pytest.approx(held.mean(axis=1).std(ddof=1) / np.sqrt(3))
    assert row.mean_width == pytest.approx(np.mean([own["width"][:, 1, 1] for own in parts]))
    assert row.median_df == pytest.approx(np.median([own["df"][:, 1, 1] for own in parts]))
    errors = np.array([own["error"][:, 1, 1] for own in parts])
    misses = np.array([own["estimate"][:, 1] - EFFECTS[2] for own in parts])
    assert row.error_ratio == pytest.approx(np.sqrt((errors**2).mean()) / np.sqrt((misses**2).mean()))
    assert row.at_boundary == np.mean([own["boundary"] for own in parts])
    assert (row.cohorts, row.given, row.refused, row.unconverged, row.designs) == (150, 150, 0, 0, 3)
    assert len(table) == 4 * len(METHODS)


def test_a_share_leaves_out_what_is_not_given():
    held = np.array([[1.0, np.nan, 0.0], [1.0, 1.0, 1.0]])
    found = coverage._share(held)
    assert found["coverage"] == pytest.approx(0.8)
    assert found["given"] == 5
    assert found["mc_se"] == pytest.approx(np.sqrt(2 * (0.6**2 + 0.6**2)) / 5)


def test_refused_cohorts_are_counted_and_left_out(monkeypatch):
    def refuse_the_first(cohorts, real=count, seen=[]):  # noqa: B006
        seen.append(1)
        return None if len(seen) == 1 else real(cohorts)

    monkeypatch.setattr(coverage, "count", refuse_the_first)
    table = cover(BALANCED, 2)
    assert set(table.refused) == {OUTCOMES}
    assert set(table.cohorts) == {2 * OUTCOMES}
    assert set(table.given) == {OUTCOMES}


def test_a_model_that_the_engine_refuses_is_none():
    cohorts = draw(BALANCED, 0)
    constant = replace(cohorts, exposures=np.ones_like(cohorts.exposures))
    with pytest.raises(ModelError):
        coverage._fitted(constant)
    assert count(constant) is None


def test_fifty_cohorts_give_what_they_gave():
    """Counts by level and method as first counted: draws, fits and counting have not changed since."""
    table = cover(HARD, 1)
    found = {
        level: [round(OUTCOMES * row.coverage) for row in rows.itertuples()] for level, rows in table.groupby("level")
    }
    assert found == {"horse": [49, 49, 46], "visit": [48, 47, 46], "foot": [49, 48, 48], "all three": [49, 49, 46]}


def test_the_committed_table_has_every_cell_level_and_method_once(committed):
    assert list(committed.columns) == list(MEANINGS)
    assert list(committed[KEY].drop_duplicates().itertuples(index=False, name=None)) == [
        tuple(vars(cell).values()) for cell in cells()
    ]
    assert (
        len(committed)
        == len(list(cells())) * 4 * len(METHODS)
        == len(committed.drop_duplicates([*KEY, "level", "method"]))
    )
    designs = {tuple(vars(cell).values()): cell.designs for cell in cells()}
    assert all(row.designs == designs[tuple(getattr(row, key) for key in KEY)] for row in committed.itertuples())
    assert committed.cohorts.eq(OUTCOMES * committed.designs).all()
    assert committed.cohorts.min() >= 2000
    single = committed[committed.level != "all three"]
    binomial = np.sqrt(committed.coverage * (1 - committed.coverage) / committed.given)
    ratio = committed.mc_se / binomial  # designs hardly differ in coverage: on average the errors are binomial
    assert ratio.mean() == pytest.approx(1, abs=0.05)
    assert ratio.between(0.6, 1.6).all()
    assert single.given.eq(single.cohorts - single.refused).all()


def test_the_committed_head_says_how_it_was_made():
    head = [line for line in COMMITTED.read_text().splitlines() if line.startswith("#")]
    assert head[1] == "# Made by: snakemake --cores 2 calibration"
    assert "seed 20261125" in head[0]
    assert ", ".join(map(str, EFFECTS)) in head[3]
    assert {line.split(":")[0].removeprefix("# ") for line in head[4:]} == set(MEANINGS)


def test_the_committed_counts_are_those_that_a_tiny_run_begins(committed):
    """The first cohorts of a cell lie within the spread of its whole count."""
    cell = Cell(20, "balanced", "normal", "clear")
    whole = committed[(committed[KEY] == list(vars(cell).values())).all(axis=1)].set_index(["level", "method"])
    for row in cover(cell, 2).itertuples():
        expected = whole.loc[(row.level, row.method)]
        low, high = stats.binom.interval(0.9999, row.cohorts, expected.coverage)
        assert low <= round(row.cohorts * row.coverage) <= high
        if row.level != "all three":
            assert row.mean_width == pytest.approx(expected.mean_width, rel=0.2)
        if row.level != "all three" and row.method != "z":
            assert row.median_df == pytest.approx(expected.median_df, rel=0.15)


def test_the_program_writes_cells_and_joins_only_all_of_them(tmp_path, capsys):
    main(["cell", BALANCED.name, "--designs", "1", "--out", str(tmp_path / "one.csv")])
    one = pd.read_csv(tmp_path / "one.csv")
    parts = [tmp_path / f"{cell.name}.csv" for cell in cells()]
    for cell, part in zip(cells(), parts, strict=True):  # what joins them does not look at the numbers
        one.assign(**vars(cell)).to_csv(part, index=False)
    main(["table", *map(str, reversed(parts)), "--out", str(tmp_path / "t.csv"), "--figure", str(tmp_path / "f.svg")])
    found = pd.read_csv(tmp_path / "t.csv", comment="#")
    assert list(found[KEY].drop_duplicates().itertuples(index=False, name=None)) == [
        tuple(vars(cell).values()) for cell in cells()
    ]
    assert "outside 94% to 96%" in capsys.readouterr().out
    text = (tmp_path / "f.svg").read_text()
    assert all(name in text for name in (*METHODS, "exposure of the visit", "ragged, skewed"))
    with pytest.raises(ValueError, match="39 of 40"):
        gather(parts[1:], tmp_path / "u.csv", {})
    assert not (tmp_path / "u.csv").exists()


def test_rows_outside_are_named():
    table = pd.DataFrame({"method": ["Kenward-Roger"] * 3 + ["z"], "coverage": [0.939, 0.94, 0.961, 0.5]})
    assert list(outside(table).coverage) == [0.939, 0.961]


@pytest.mark.slow
def test_a_whole_cell_repeats_the_committed_counts(committed):
    """Every draw is seeded: but for a verdict on the edge, which the last digit may turn, the counts are the same."""
    whole = committed[(committed[KEY] == list(vars(BALANCED).values())).all(axis=1)].reset_index(drop=True)
    again = cover(BALANCED, int(whole.designs.iloc[0]))
    assert list(again.level + again.method) == list(whole.level + whole.method)
    assert ((again.coverage - whole.coverage).abs() * whole.given).max() <= 2
    np.testing.assert_allclose(again.mean_width.dropna(), whole.mean_width.dropna(), rtol=1e-3)


def test_the_developers_page_shows_the_committed_table_and_names_what_lies_outside(committed):
    page = (COMMITTED.parents[3] / "DEVELOPERS.md").read_text()
    assert as_markdown(committed, "normal") in page
    named = outside(committed[(committed.horses >= 12) & (committed.errors == "normal")])
    section = page.split("Kenward-Roger lay outside 94 to 96%")[1].split("\n\n")[1]
    assert len(section.splitlines()) == 2 + len(named)
    for row in named.itertuples():
        level = "F test" if row.level == "all three" else row.level
        line = f"| {row.horses} | {row.shape} | {row.spread} | {level} | {100 * row.coverage:.1f}% |"
        assert line in section

"""Refits of many outcomes at once are held to fits of the same outcomes one by one, and to dense matrix algebra."""

import numpy as np
import pytest

from hoofcohort.models import Covariate, Grouping, build_design, fit_mixed_model
from hoofcohort.models.basis import orthonormal_basis
from hoofcohort.models.bootstrap import projected
from hoofcohort.models.narrowed import refit_without
from hoofcohort.models.profiled import profiled
from hoofcohort.models.refits import refit
from hoofcohort.models.replicates import Replicates

SHAPES = {
    "feet": {"visit": False},
    "visits": {},
    "ragged": {"missing": 0.3},
    "yards": {"missing": 0.2, "yards": 5},
    "yards, no visits": {"visit": False, "yards": 5},
    "farriers": {"missing": 0.2, "yards": 5, "farriers": 4},
    "boundary": {"missing": 0.2, "sds": (0.0, 0.3, 0.0)},
    "few rows": {"horses": 7, "visits": 2},
}


def cohort(horses=12, visits=3, missing=0.0, yards=0, farriers=0, visit=True, sds=(1.0, 0.7, 0.8), outcomes=12):
    """Return a grouping, columns and outcomes."""
    rng = np.random.default_rng(7)
    horse, foot, day = (grid.ravel() for grid in np.meshgrid(range(horses), range(4), range(visits), indexing="ij"))
    kept = rng.random(len(horse)) >= missing
    horse, foot, day = horse[kept], foot[kept], day[kept]
    nested = {"yard": horse % yards} if yards else {}
    grouping = Grouping.from_labels(
        nested | {"horse": horse, "foot": foot},
        {"horse:visit": day} if visit else None,
        {"farrier": rng.integers(0, farriers, len(horse))} if farriers else None,
    )
    y = rng.normal(size=(len(horse), outcomes))
    for sd, codes, parents in zip(np.resize(sds, len(grouping.names)), grouping.codes, grouping.parents, strict=True):
        y += sd * rng.normal(size=(len(parents), outcomes))[codes]
    columns = {"age": rng.normal(size=horses)[horse], "load": rng.normal(size=len(horse))}
    return grouping, columns, y


def refitted(grouping, columns, y, restricted, held=None):
    """Return the refits and the outcomes' scales."""
    matrix = np.column_stack([np.ones(len(y)), *columns.values()])
    q = orthonormal_basis(matrix).q
    rest = y - q @ (q.T @ y)
    scale = np.sqrt((rest**2).sum(axis=0) / (len(y) - q.shape[1]))
    found = refit(Replicates.of(q, rest / scale, grouping), restricted, np.ones(len(grouping.names)), held)
    return found, scale


@pytest.mark.parametrize("method", ["reml", "ml"])
@pytest.mark.parametrize("shape", SHAPES)
def test_every_refit_is_the_fit_of_that_outcome(shape, method):
    grouping, columns, y = cohort(**SHAPES[shape])
    design = build_design([Covariate(name, values) for name, values in columns.items()], list(columns))
    found, scale = refitted(grouping, columns, y, method == "reml")
    assert found.converged.all()
    for which in range(y.shape[1]):
        fit = fit_mixed_model(y[:, which], design, grouping, method)
        own = np.roll(found.variances[which], -1) * scale[which] ** 2
        expected = np.array(list(fit.variances.values()))
        assert own == pytest.approx(expected, rel=1e-7, abs=1e-7 * expected.sum())
        assert [name for name, value in zip(fit.variances, own, strict=True) if value == 0] == fit.boundary
        assert found.at.criterion[which] == pytest.approx(fit.optimum.at.criterion, abs=1e-8)
        assert found.at.estimate[which] == pytest.approx(fit.optimum.at.estimate, abs=1e-8)


def test_the_boundary_case_has_refits_at_the_boundary():
    grouping, columns, y = cohort(**SHAPES["boundary"])
    found, _ = refitted(grouping, columns, y, restricted=True)
    at_zero = (found.at.ratios == 0).any(axis=1)
    assert at_zero.sum() >= 3
    assert (found.at.gradient[found.at.ratios == 0] >= 0).all()


def test_a_level_held_at_zero_is_a_model_without_it():
    grouping, columns, y = cohort(**SHAPES["ragged"])
    found, scale = refitted(grouping, columns, y, restricted=True, held=np.array([False, False, True]))
    design = build_design([Covariate(name, values) for name, values in columns.items()], list(columns))
    labels = grouping.labels[1]
    horse, foot = np.array([labels[group].split(":") for group in grouping.codes[1]]).T
    without = Grouping.from_labels({"horse": horse, "foot": foot})
    assert (found.at.ratios[:, 2] == 0).all()
    for which in range(y.shape[1]):
        fit = fit_mixed_model(y[:, which], design, without)
        assert found.at.criterion[which] == pytest.approx(fit.optimum.at.criterion, abs=1e-8)
        assert found.at.residual[which] * scale[which] ** 2 == pytest.approx(fit.variances["residual"], rel=1e-7)


def dense_criterion(q, y, indicators, ratios):
    """Return -2 log restricted likelihood at its best residual variance, by dense algebra."""
    v = np.eye(len(y)) + sum(ratio * z @ z.T for ratio, z in zip(ratios, indicators, strict=True))
    solved = np.linalg.solve(v, np.column_stack([q, y]))
    inner = q.T @ solved[:, :-1]
    quadratic = y @ solved[:, -1] - (q.T @ solved[:, -1]) @ np.linalg.solve(inner, q.T @ solved[:, -1])
    degrees = len(y) - q.shape[1]
    return (
        np.linalg.slogdet(v)[1] + np.linalg.slogdet(inner)[1] + degrees * (np.log(2 * np.pi * quadratic / degrees) + 1)
    )


def test_criterion_and_derivatives_are_those_of_dense_algebra():
    grouping, columns, y = cohort(horses=6, missing=0.2, yards=3, farriers=3, outcomes=2)
    q = orthonormal_basis(np.column_stack([np.ones(len(y)), *columns.values()])).q
    y = y - q @ (q.T @ y)
    indicators = [np.eye(len(own))[codes] for codes, own in zip(grouping.codes, grouping.parents, strict=True)]
    ratios = np.random.default_rng(1).uniform(0.2, 1.5, (2, len(indicators)))
    found = profiled(Replicates.of(q, y, grouping).sweep(ratios), ratios, len(y), restricted=True)
    step = 1e-4
    for which in range(2):

        def at(shift, which=which):
            return dense_criterion(q, y[:, which], indicators, ratios[which] + shift)

        assert found.criterion[which] == pytest.approx(at(0.0), abs=1e-9)
        moves = step * np.eye(len(indicators))
        slopes = [(at(move) - at(-move)) / (2 * step) for move in moves]
        assert found.gradient[which] == pytest.approx(np.array(slopes), abs=1e-5)
        bends = [
            [(at(a + b) - at(a - b) - at(b - a) + at(-a - b)) / (4 * step**2) for a in moves] for b in moves
        ]  # fmt: skip
        assert found.hessian[which] == pytest.approx(np.array(bends), abs=1e-4)


@pytest.mark.parametrize("shape", ["feet", "ragged", "yards", "farriers"])
def test_leaving_a_grouping_out_is_holding_its_variance_at_zero(shape):
    grouping, columns, y = cohort(**SHAPES[shape])
    q = orthonormal_basis(np.column_stack([np.ones(len(y)), *columns.values()])).q
    _, rest, _ = projected(q, y)
    batch, near = Replicates.of(q, rest, grouping), np.ones(len(grouping.names))
    for position in range(len(near)):
        found = refit_without(batch, q, rest, grouping, position, near)
        held = refit(batch, True, near, np.arange(len(near)) == position)
        assert found.at.criterion == pytest.approx(held.at.criterion, abs=1e-8)
        assert found.variances == pytest.approx(held.variances, rel=1e-7, abs=1e-8)
        assert found.at.gradient == pytest.approx(held.at.gradient, rel=1e-5, abs=1e-5)


@pytest.mark.parametrize("shape", ["feet", "ragged", "yards", "boundary", "few rows"])
def test_going_on_from_a_null_model_ends_where_a_fresh_search_does(shape):
    grouping, columns, y = cohort(**SHAPES[shape])
    q = orthonormal_basis(np.column_stack([np.ones(len(y)), *columns.values()])).q
    _, rest, _ = projected(q, y)
    batch, near = Replicates.of(q, rest, grouping), np.ones(len(grouping.names))
    fresh = refit(batch, True, near)
    for position in range(len(near)):
        null = refit_without(batch, q, rest, grouping, position, near)
        found = refit(batch, True, near, narrower=null)
        assert found.at.criterion == pytest.approx(fresh.at.criterion, abs=1e-8)
        assert found.variances == pytest.approx(fresh.variances, rel=1e-6, abs=1e-7)


def test_a_cohort_of_a_single_grouping_has_a_closed_form_without_it():
    rng = np.random.default_rng(2)
    y = rng.normal(size=(30, 3))
    q = orthonormal_basis(np.column_stack([np.ones(30), rng.normal(size=30)])).q
    _, rest, _ = projected(q, y)
    grouping = Grouping.from_labels({"horse": np.repeat(np.arange(6), 5)})
    found = refit_without(Replicates.of(q, rest, grouping), q, rest, grouping, 0, np.ones(1))
    assert found.at.residual == pytest.approx((rest**2).sum(axis=0) / 28)
    assert found.at.criterion == pytest.approx(28 * (np.log(2 * np.pi * found.at.residual) + 1))

"""The parametric bootstrap, held to a bootstrap that refits outcome by outcome, and to exact distributions."""

import numpy as np
import pytest

from hoofcohort.errors import ModelError
from hoofcohort.models import Covariate, Grouping, build_design, fit_mixed_model
from hoofcohort.models.bootstrap import parametric_bootstrap, simulated


def balanced(groups=8, each=6, sd=1.0, seed=3):
    """Return a one-way layout with a covariate, and its fit."""
    rng = np.random.default_rng(seed)
    codes = np.repeat(np.arange(groups), each)
    x = rng.normal(size=groups * each)
    y = 50 + 2 * x + sd * rng.normal(size=groups)[codes] + rng.normal(size=len(codes))
    return fit_mixed_model(y, build_design([Covariate("x", x)], ["x"]), Grouping.from_labels({"group": codes}))


def test_every_replicate_is_the_fit_of_the_simulated_outcome():
    fit = balanced()
    drawn = parametric_bootstrap(fit, replicates=20, seed=5)
    errors = next(simulated(fit, fit.optimum.at.variances, 20, 5))
    for which in range(20):
        y = fit.fixed_fitted + fit.scale * errors[:, which]
        again = fit_mixed_model(y, fit.design, fit.grouping)
        assert drawn.variances[which] == pytest.approx(list(again.variances.values()), rel=1e-7, abs=1e-9)
        assert drawn.coefficients[which] == pytest.approx(again.coefficients, rel=1e-7)


def test_spread_and_bias_are_those_that_the_model_implies():
    fit = balanced(groups=30)
    drawn = parametric_bootstrap(fit, replicates=4000, seed=1)
    found = drawn.to_dict()["coefficients"]
    # at given variances the generalised least squares estimate is normal with the model's own covariance
    covariance = fit.transform @ fit.optimum.at.covariance @ fit.transform.T * fit.scale**2
    assert [row["std_error"] for row in found] == pytest.approx(np.sqrt(np.diag(covariance)), rel=0.05)
    assert all(abs(row["bias"]) < 4 * row["std_error"] / np.sqrt(4000) for row in found)


def test_the_residual_variance_follows_its_chi_square_distribution():
    from scipy.stats import chi2, kstest

    rng = np.random.default_rng(2)
    codes = np.repeat(np.arange(12), 5)
    y = 3 * rng.normal(size=12)[codes] + rng.normal(size=60)
    fit = fit_mixed_model(y, build_design([], [], rows=60), Grouping.from_labels({"group": codes}))
    drawn = parametric_bootstrap(fit, replicates=2000, seed=1)
    # with the groups' variance far from zero the REML estimate is the within-group mean square, 48 degrees of freedom
    assert kstest(drawn.variances[:, 1] * 48 / fit.variances["residual"], chi2(48).cdf).pvalue > 1e-3


def test_a_variance_at_zero_is_counted():
    fit = balanced(sd=0.0, seed=6)
    assert fit.boundary == ["group"]
    found = parametric_bootstrap(fit, replicates=400, seed=1).to_dict()
    group, residual = found["variances"]
    assert 0.4 < group["share_at_zero"] < 0.8
    assert group["low"] == 0.0 < group["high"]
    assert residual["share_at_zero"] == 0.0
    assert found["icc"][0]["high"] < 1


def test_intervals_are_the_percentiles():
    drawn = parametric_bootstrap(balanced(), replicates=200, seed=1, confidence=0.9)
    row = drawn.to_dict()["sds"][1]
    assert (row["low"], row["high"]) == pytest.approx(np.quantile(np.sqrt(drawn.variances[:, 1]), [0.05, 0.95]))


def test_the_order_of_the_rows_changes_nothing():
    rng = np.random.default_rng(4)
    horse, foot = np.repeat(np.arange(9), 8), np.tile(np.repeat(np.arange(4), 2), 9)
    x = rng.normal(size=72)
    y = rng.normal(size=9)[horse] + rng.normal(size=72)
    found = []
    for order in (np.arange(72), rng.permutation(72)):
        groups = Grouping.from_labels({"horse": horse[order], "foot": foot[order]})
        fit = fit_mixed_model(y[order], build_design([Covariate("x", x[order])], ["x"]), groups)
        found.append(parametric_bootstrap(fit, 50, seed=3))
    assert found[0].variances == pytest.approx(found[1].variances, rel=1e-6, abs=1e-8)
    assert found[0].coefficients == pytest.approx(found[1].coefficients, rel=1e-6)


def test_the_seed_decides_and_batches_do_not(monkeypatch):
    fit = balanced()
    first, again = (parametric_bootstrap(fit, 60, seed=9).to_dict() for _ in range(2))
    assert first == again
    monkeypatch.setattr("hoofcohort.models.bootstrap.CHUNK_BYTES", 1)
    in_batches = parametric_bootstrap(fit, 60, seed=9).to_dict()
    assert in_batches["sds"][0]["high"] == pytest.approx(first["sds"][0]["high"], rel=1e-9)
    assert parametric_bootstrap(fit, 60, seed=10).to_dict()["sds"] != first["sds"]


@pytest.mark.parametrize(("replicates", "seed", "said"), [(19, 1, "20 to 1,000,000"), (100, -1, "seed is -1")])
def test_requests_without_sense_are_refused(replicates, seed, said):
    with pytest.raises(ModelError, match=said):
        parametric_bootstrap(balanced(), replicates, seed)

"""The engine where numbers are difficult: right to many digits, or refused with the reason.

Balanced cohorts have closed-form answers (the analysis of variance), here in exact fractions.
"""

from fractions import Fraction

import numpy as np
import pytest

from hoofcohort.errors import ModelError, UnidentifiableLevelError
from hoofcohort.models import Covariate, Grouping, build_design, fit_mixed_model, optimise

HORSES, FEET, VISITS = 12, 4, 3
HORSE, FOOT, VISIT = (index.ravel() for index in np.indices((HORSES, FEET, VISITS)))


def drawn(seed, horse, foot, visit, residual, mean=0.0):
    draw = np.random.default_rng(seed)
    y = mean + horse * draw.normal(size=HORSES)[HORSE] + foot * draw.normal(size=(HORSES, FEET))[HORSE, FOOT]
    return y + visit * draw.normal(size=(HORSES, VISITS))[HORSE, VISIT] + residual * draw.normal(size=len(HORSE))


def means(values, *axes):
    """Return the means of exact values over groups of equal size."""
    groups = {}
    for key, value in zip(zip(*axes, strict=True), values, strict=True):
        groups.setdefault(key, []).append(value)
    return {key: sum(own) / len(own) for key, own in groups.items()}


def analysis_of_variance(y, crossed):
    """Return the exact variances of horse, foot (and visit) and the residual, and the standard error of the mean."""
    values = [Fraction(float(value)) for value in y]
    h, f, v = HORSE.tolist(), FOOT.tolist(), VISIT.tolist()
    horse, foot, visit = means(values, h), means(values, h, f), means(values, h, v)
    mean = sum(values) / len(values)
    of_horse = FEET * VISITS * sum((m - mean) ** 2 for m in horse.values()) / (HORSES - 1)
    of_foot = VISITS * sum((foot[a, b] - horse[(a,)]) ** 2 for a, b in foot) / (HORSES * (FEET - 1))
    error = float(of_horse / len(values)) ** 0.5
    if not crossed:
        rest = sum((x - foot[a, b]) ** 2 for x, a, b in zip(values, h, f, strict=True))
        rest /= HORSES * FEET * (VISITS - 1)
        return [float(s) for s in ((of_horse - of_foot) / (FEET * VISITS), (of_foot - rest) / VISITS, rest)], error
    of_visit = FEET * sum((visit[a, c] - horse[(a,)]) ** 2 for a, c in visit) / (HORSES * (VISITS - 1))
    cells = zip(values, h, f, v, strict=True)
    rest = sum((x - foot[a, b] - visit[a, c] + horse[(a,)]) ** 2 for x, a, b, c in cells)
    rest /= HORSES * (FEET - 1) * (VISITS - 1)
    variances = (of_horse - of_foot - of_visit + rest) / (FEET * VISITS)
    return [float(s) for s in (variances, (of_foot - rest) / VISITS, (of_visit - rest) / FEET, rest)], error


SIZES = [
    (1, 1, 1, 1, 0),
    (1e4, 1, 1, 1, 0),
    (1e4, 1e2, 1e2, 1, 1e9),
    (1, 1e4, 1, 1, 0),
    (1, 1, 1e3, 1, 0),
    (1, 1, 1, 1, 1e12),
    (1e-4, 1e-4, 1e-4, 1e-8, 1e4),
    (1e-150, 1e-150, 1e-150, 1e-150, 0),
    (1e150, 1e150, 1e150, 1e150, 0),
]


@pytest.mark.parametrize("crossed", [False, True])
@pytest.mark.parametrize("sizes", SIZES)
def test_variances_of_any_size_are_those_of_the_analysis_of_variance(sizes, crossed):
    y = drawn(5, sizes[0], sizes[1], sizes[2] if crossed else 0.0, *sizes[3:])
    variances, error = analysis_of_variance(y, crossed)
    assert min(variances) > 0, "the closed form holds inside the boundary only"
    levels = {"horse": HORSE, "foot": FOOT}
    grouping = Grouping.from_labels(levels, {"horse:visit": VISIT} if crossed else None)
    fit = fit_mixed_model(y, build_design([], [], rows=len(y)), grouping)
    assert fit.optimum.converged
    np.testing.assert_allclose(list(fit.variances.values()), variances, rtol=1e-8)
    mean = fit.linear([[1.0]])[0]
    assert mean.std_error == pytest.approx(error, rel=1e-9)
    assert mean.df == pytest.approx(HORSES - 1, rel=1e-9)


def test_nearly_collinear_columns_and_far_off_units_give_the_same_model():
    draw = np.random.default_rng(1)
    first, apart = draw.normal(size=(2, len(HORSE)))
    y = drawn(2, 1, 0.5, 0.5, 1) + first
    grouping = Grouping.from_labels({"horse": HORSE, "foot": FOOT}, {"horse:visit": VISIT})

    def fitted(second, names=("a", "b")):
        design = build_design([Covariate("a", first), Covariate("b", second)], names)
        return fit_mixed_model(y, design, grouping)

    plain, near, far = fitted(apart), fitted(first + 1e-5 * apart), fitted(1e6 + apart)
    b = [fit.linear([[0.0, 0.0, 1.0]])[0] for fit in (plain, near, far)]
    assert b[1].estimate * 1e-5 == pytest.approx(b[0].estimate, rel=1e-8)
    assert b[2].estimate == pytest.approx(b[0].estimate, rel=1e-8)
    assert b[1].df == pytest.approx(b[0].df, rel=1e-7)
    np.testing.assert_allclose(list(near.variances.values()), list(plain.variances.values()), rtol=1e-7)
    dropped = fitted(first + 1e-9 * apart)
    assert dropped.dropped_terms == ["b"]
    assert any("'b' is a combination" in message for message in dropped.messages)


@pytest.mark.parametrize("seed", range(6))
def test_every_start_ends_at_the_same_answer(seed, monkeypatch):
    sizes = [(1, 1, 1, 1), (0, 1, 0.2, 1), (1, 0, 0, 1), (0, 0, 0, 1), (3, 0.1, 2, 0.3), (0.2, 0.2, 0, 1)][seed]
    y = drawn(seed, *sizes)
    keep = np.random.default_rng(seed).random(len(y)) < 0.8
    labels = {"horse": HORSE[keep], "foot": FOOT[keep]}
    grouping = Grouping.from_labels(labels, {"horse:visit": VISIT[keep]})
    design = build_design([], [], rows=int(keep.sum()))
    found = []
    for start in (1e-4, 0.05, 1.0, 30.0, 1e4):
        monkeypatch.setattr(optimise, "STARTS", (start, start))
        fit = fit_mixed_model(y[keep], design, grouping)
        assert fit.optimum.converged
        found.append([*fit.variances.values(), fit.criterion])
    scale = max(found[0][:-1])
    np.testing.assert_allclose(found[1:], [found[0]] * 4, rtol=1e-7, atol=1e-9 * scale)


def test_structures_that_hold_no_information_are_refused_by_name():
    y = drawn(1, 1, 1, 1, 1)
    design = build_design([], [], rows=len(y))
    once = (FOOT == 0) & (VISIT == 0)
    with pytest.raises(UnidentifiableLevelError, match="'horse' has one row in each"):
        fit_mixed_model(y[once], build_design([], [], rows=HORSES), Grouping.from_labels({"horse": HORSE[once]}))
    first = VISIT == 0
    with pytest.raises(UnidentifiableLevelError, match="'foot' has one row in each"):
        fit_mixed_model(
            y[first],
            build_design([], [], rows=int(first.sum())),
            Grouping.from_labels({"horse": HORSE[first], "foot": FOOT[first]}),
        )
    left = FOOT == 0
    with pytest.raises(UnidentifiableLevelError, match="'horse' and 'foot' group the rows in the same way"):
        fit_mixed_model(
            y[left],
            build_design([], [], rows=int(left.sum())),
            Grouping.from_labels({"horse": HORSE[left], "foot": FOOT[left]}),
        )
    with pytest.raises(UnidentifiableLevelError, match="'yard' has a single group"):
        fit_mixed_model(y, design, Grouping.from_labels({"yard": np.zeros(len(y)), "horse": HORSE}))


def test_an_outcome_without_residual_is_refused_not_fitted():
    with pytest.raises(ModelError, match="no residual variation"):
        fit_mixed_model(
            drawn(1, 1, 1, 0, 1e-9),
            build_design([], [], rows=len(HORSE)),
            Grouping.from_labels({"horse": HORSE, "foot": FOOT}),
        )


def test_seven_horses_unequal_in_everything():
    """Seven horses, one with a single reading, one with a single foot, and no difference between them: R's answers.

    m <- lmer(y ~ x + (1|h) + (1|h:f) + (1|h:v), d, control = lmerControl(optCtrl = list(xtol_abs = 1e-14,
    ftol_abs = 1e-14, maxeval = 1e5))); REMLcrit(m); coef(summary(m, ddf = "Kenward-Roger"))  # lme4 1.1-31, pbkrtest
    """
    h = np.repeat(np.arange(7), [1, 3, 12, 8, 2, 6, 9])
    draw = np.random.default_rng(7)
    f = np.concatenate([[0], [0, 0, 0], np.repeat(range(4), 3), np.repeat(range(4), 2), [0, 1], [0, 0, 1, 1, 2, 3],
                        np.repeat(range(3), 3)])  # fmt: skip
    v = np.concatenate([[0], [0, 1, 2], np.tile(range(3), 4), np.tile(range(2), 4), [0, 0], [0, 1, 0, 1, 0, 0],
                        np.tile(range(3), 3)])  # fmt: skip
    x = draw.normal(size=len(h)).round(3)
    y = (draw.normal(size=7)[h] + draw.normal(size=(7, 4))[h, f] + draw.normal(size=(7, 3))[h, v]).round(3)
    y = (y + 0.5 * x + draw.normal(size=len(h))).round(3)
    fit = fit_mixed_model(
        y, build_design([Covariate("x", x)], ["x"]), Grouping.from_labels({"h": h, "f": f}, {"h:v": v})
    )
    assert fit.boundary == ["h"]
    assert fit.criterion == pytest.approx(146.62183317, abs=1e-8)
    expected = {"h": 0, "f": 0.94440564, "h:v": 0.36631337, "residual": 1.14749899}
    assert fit.variances == pytest.approx(expected, rel=1e-5)
    for estimate, row in zip(
        fit.linear(np.eye(2)),
        [(-0.150692877, 0.379653770, 5.04950272), (0.511713740, 0.333171604, 32.02302001)],
        strict=True,
    ):
        assert (estimate.estimate, estimate.std_error, estimate.df) == pytest.approx(row, rel=2e-6)

"""Whether a level adds anything: likelihood-ratio tests of every variance of the adjusted model, by simulation."""

from __future__ import annotations

from typing import Any

from hoofcohort.errors import ModelError
from hoofcohort.models import Fit
from hoofcohort.models.likelihood_ratio import likelihood_ratio_test

REPLICATES = 199
"""Simulated outcomes a level: the smallest p value is then 0.005, and one near 0.05 has a standard error of 0.015.

Enough to tell whether a level adds anything, which is all that the test is for: the level stays in the model either
way.
``hoofcohort model --bootstrap`` draws as many as one likes.
"""
SEED = 20260301
MOST_READINGS = 5000
"""More readings than this are not simulated: it would take minutes (the project's own limit, no source)."""


def variance_tests(fit: Fit) -> dict[str, Any]:
    """Test the variance of every level of a fitted model.

    Returns
    -------
    dict
        ``levels``, the fields of :class:`hoofcohort.models.likelihood_ratio.LikelihoodRatioTest` per level that could
        be tested; ``replicates`` that were asked for; and ``skipped``, a reason per level that could not be tested.
    """
    names, tested, skipped = fit.grouping.names, {}, {}
    reason = ""
    if not fit.optimum.converged:
        reason = "the model did not converge"
    elif fit.grouping.rows > MOST_READINGS:
        reason = f"more than {MOST_READINGS:,} readings"
    for name in names:
        try:
            if reason:
                raise ModelError(reason)
            tested[name] = likelihood_ratio_test(fit, name, replicates=REPLICATES, seed=SEED).to_dict()
        except ModelError as error:
            skipped[name] = str(error)
    return {"replicates": REPLICATES, "levels": tested, "skipped": skipped}

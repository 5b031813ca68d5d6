"""Mixed models for grouped data, exact at any size, with small-sample inference.

Knows arrays and groupings, nothing of horses. Start with :func:`fit_mixed_model`.
"""

from hoofcohort.models.design import Covariate, Curve, Design, Factor, Shares, build_design
from hoofcohort.models.fit import Estimate, Fit, Test, fit_mixed_model
from hoofcohort.models.grouping import Grouping
from hoofcohort.models.random_effects import RandomEffects, random_effects

__all__ = [
    "Covariate", "Curve", "Design", "Estimate", "Factor", "Fit", "Grouping", "RandomEffects", "Shares", "Test",
    "build_design", "fit_mixed_model", "random_effects",
]  # fmt: skip

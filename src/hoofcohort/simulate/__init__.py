"""An invented cohort of any size whose true effects are known, with realistic mistakes on request."""

from __future__ import annotations

from hoofcohort.simulate.cohort import Cohort, simulate_cohort

__all__ = ["Cohort", "simulate_cohort"]

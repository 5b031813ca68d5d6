"""How each horse was kept over the days in which the horn under study grew."""

from __future__ import annotations

from hoofcohort.exposure.windows import exposure_windows

__all__ = ["exposure_windows"]

"""The settings of the calibration. Imports nothing heavy: the workflow reads it at every start."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product

SEED = 20_261_125
HORSES = (8, 12, 20, 40, 80)
SHAPES = ("balanced", "ragged")
ERRORS = ("normal", "skewed")
SPREADS = {"clear": (1.5, 1.0, 0.6, 1.0), "slight": (0.5, 0.3, 0.3, 1.0)}
"""SD of horses, of feet, of visits and of single readings, in the outcome's unit. Invented."""

EFFECTS = (10.0, 1.0, -0.5, 0.5)
"""Intercept and the true differences per unit of the horse's, the visit's and the foot's exposure. Invented."""

OUTCOMES = 50
"""Cohorts that share a shape and exposures: they are fitted together."""

LEVELS = ("horse", "visit", "foot")
METHODS = ("Kenward-Roger", "Satterthwaite", "z")
NOMINAL = 0.95
FEET, VISITS, MOST_VISITS = 4, 3, 4
KEPT = 0.85
"""Share of the readings of a ragged cohort that were taken."""


@dataclass(frozen=True)
class Cell:
    """One setting of the calibration; each field is a value of the constant of its name."""

    horses: int
    shape: str
    errors: str
    spread: str

    @property
    def name(self) -> str:
        """The cell as one word: 12-ragged-normal-clear."""
        return f"{self.horses}-{self.shape}-{self.errors}-{self.spread}"

    @property
    def designs(self) -> int:
        """Designs to draw: more where the table is to tell 95% from 94% and 96%."""
        return 200 if self.errors == "normal" and self.horses >= 12 else 40

    @classmethod
    def from_name(cls, name: str) -> Cell:
        """Read the word back; KeyError when there is no such cell."""
        return {cell.name: cell for cell in cells()}[name]


def cells() -> Iterator[Cell]:
    """Yield every cell, in the order of the table."""
    for values in product(HORSES, SHAPES, ERRORS, SPREADS):
        yield Cell(*values)

"""How a variable of a model is made from the columns of a table."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from hoofcohort.errors import InputError
from hoofcohort.models.design import Covariate, Curve, Factor, Shares, Variable
from hoofcohort.models.splines import Polynomial, Shape, Spline

if TYPE_CHECKING:
    import pandas as pd

Array = NDArray[np.floating]
KINDS = ("number", "words", "shares")


@dataclass(frozen=True)
class Coding:
    """How a variable is made from columns of a table.

    Attributes
    ----------
    name : str
    kind : {"number", "words", "shares"}
    columns : tuple of str
        One column; for shares one for each of ``values``.
    values : tuple of str
        The words, the base first; empty for a number.
    shape : Shape, optional
        Of a number that enters as a curve.
    """

    name: str
    kind: str
    columns: tuple[str, ...]
    values: tuple[str, ...] = ()
    shape: Shape | None = None

    @property
    def fits_together(self) -> bool:
        """Whether the kind is known and has the columns and words that it needs, each once."""
        words = len(set(self.values))
        if self.kind not in KINDS or words < len(self.values):
            return False
        return len(self.columns) == (words if self.kind == "shares" else 1) and bool(words) == (self.kind != "number")

    def variable(self, frame: pd.DataFrame) -> Variable:
        """Return the variable of the rows of a table that has all of ``columns`` and misses none of their values.

        Raises
        ------
        InputError
            For a word that is not among ``values``, or a cell that is no number where there should be one.
        """
        if self.kind == "words":
            return Factor(self.name, self._codes(frame[self.columns[0]]), self.values)
        numbers = np.column_stack([finite_numbers(frame[column]) for column in self.columns])
        if self.kind == "shares":
            return Shares(self.name, numbers, self.values)
        return self._covariate(numbers[:, 0])

    def stand_in(self, mean: Array) -> Variable:
        """Return the variable of a single row at which it has its mean, shape (number of columns,)."""
        if self.kind == "words":
            return Factor(self.name, np.zeros(1, np.int64), self.values)
        if self.kind == "shares":
            return Shares(self.name, mean[None, :], self.values)
        return self._covariate(mean)

    def _covariate(self, numbers: Array) -> Covariate:
        return Covariate(self.name, numbers) if self.shape is None else Curve(self.name, numbers, self.shape)

    def _codes(self, column: pd.Series) -> NDArray[np.int64]:
        import pandas as pd

        present, words = pd.factorize(column)
        found = pd.Index(self.values).get_indexer(pd.Index([str(word) for word in words]))
        if (found < 0).any():
            unknown = ", ".join(f"'{word}'" for word in sorted(str(word) for word in words[found < 0]))
            raise InputError(
                f"column '{column.name}': {unknown} is not among the agreed words ({', '.join(self.values)}); correct "
                "the rows, or agree on new words and make every statistics file again with them (--words)"
            )
        return found[present].astype(np.int64)


def finite_numbers(column: pd.Series) -> Array:
    """Return a column as numbers.

    Raises
    ------
    InputError
        When a cell is no number, or not finite.
    """
    import pandas as pd

    numbers = pd.to_numeric(column, errors="coerce").to_numpy(float)
    wrong = ~np.isfinite(numbers)
    if wrong.any():
        raise InputError(f"column '{column.name}': '{column[wrong].iloc[0]}' is not a number; correct the cell")
    return numbers


def shown(coding: Coding | None) -> str:
    """Say how a variable is coded, in a few words."""
    if coding is None:
        return "none"
    words = coding.values  # noqa: PD011
    curve = f" as {coding.shape}" if coding.shape else ""
    return f"{coding.kind} {', '.join(words or coding.columns)}{curve}"


def shape_of(value: Any) -> Shape | None:
    """Read a shape back from plain values."""
    if value is None:
        return None
    if "knots" in value:
        return Spline(tuple(float(knot) for knot in value["knots"]))
    return Polynomial(int(value["degree"]), float(value["centre"]), float(value["scale"]))

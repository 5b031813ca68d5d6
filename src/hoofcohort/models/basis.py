"""An orthonormal basis of the fixed-effect columns, found left to right, with the columns it cannot use named."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hoofcohort.errors import ModelError

Array = NDArray[np.floating]
ALIAS_TOLERANCE = 1e-7
"""A column whose part outside the span of the earlier ones is below this share of its length is aliased (as in R)."""


@dataclass(frozen=True)
class Basis:
    """``X[:, kept] = q @ r`` with orthonormal q, and ``X[:, dropped] = X[:, kept] @ alias``.

    Attributes
    ----------
    q : array, shape (n, p)
    r : array, shape (p, p), upper triangular
    kept, dropped : int arrays
        Positions among the columns of X.
    alias : array, shape (p, len(dropped))
    columns : int
        Number of columns of X.
    """

    q: Array
    r: Array
    kept: NDArray[np.intp]
    dropped: NDArray[np.intp]
    alias: Array
    columns: int

    @property
    def log_determinant(self) -> float:
        """Log of ``|det r|``."""
        return float(np.log(np.abs(np.diag(self.r))).sum())

    def restrict(self, hypotheses: Array) -> tuple[Array, NDArray[np.bool_]]:
        """Express linear functions of all coefficients in the kept ones.

        Parameters
        ----------
        hypotheses : array, shape (k, columns)

        Returns
        -------
        array, shape (k, p)
            The same functions of the kept coefficients.
        bool array, shape (k,)
            Whether the data can estimate each of them.
        """
        inside = hypotheses[:, self.kept]
        gap = np.abs(hypotheses[:, self.dropped] - inside @ self.alias)
        size = 1.0 + np.abs(hypotheses).max(axis=1, initial=0.0)
        return inside, gap.max(axis=1, initial=0.0) <= 1e-6 * size


def orthonormal_basis(matrix: Array, sizes: Array | None = None, count: int | None = None) -> Basis:
    """Find the basis by Gram-Schmidt, twice over, skipping every column that earlier ones already span.

    Parameters
    ----------
    matrix : array, shape (n, p)
        X, or a triangular factor of it; the basis is then of the same columns in the factor's coordinates.
    sizes : array, shape (p,), optional
        Lengths of the columns against which their parts outside the span are judged; their own by default.
    count : int, optional
        Number of rows, where ``matrix`` is a triangular factor of them.

    Raises
    ------
    ModelError
        When no column can be used, or there are not more rows than columns.
    """
    rows, columns = matrix.shape
    lengths = np.linalg.norm(matrix, axis=0) if sizes is None else sizes
    q = np.empty((rows, columns), order="F")
    r = np.zeros((columns, columns))
    kept: list[int] = []
    dropped: list[int] = []
    for column in range(columns):
        used = len(kept)
        vector = np.array(matrix[:, column], dtype=float)
        for _ in range(2):
            projection = q[:, :used].T @ vector
            vector -= q[:, :used] @ projection
            r[:used, column] += projection
        rest = np.linalg.norm(vector)
        if rest <= ALIAS_TOLERANCE * lengths[column] or used == rows:
            dropped.append(column)
            continue
        q[:, used] = vector / rest
        r[used, column] = rest
        kept.append(column)
    if not kept:
        raise ModelError("the fixed part of the model has no usable column")
    rows = rows if count is None else count
    if rows <= len(kept):
        raise ModelError(f"{rows} rows cannot support {len(kept)} fixed-effect columns; use fewer terms or more rows")
    used = len(kept)
    triangle = r[:used][:, kept]
    alias = np.linalg.solve(triangle, r[:used][:, dropped])
    return Basis(q[:, :used], triangle, np.array(kept, np.intp), np.array(dropped, np.intp), alias, columns)

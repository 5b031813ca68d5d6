"""Type III hypotheses: each term's effect, averaged over the factors it interacts with.

Start from the estimable functions of the overparametrised model, and make those of a term orthogonal to those of every
term that contains it: the third of the four types of estimable functions of the linear models literature, from
memory. R's lmerTest gives the same (tests/models/test_reference.py) whenever the main effects of every interaction are
in the model; for ``x`` beside ``d:x`` without ``d`` it tests the slope at the base of d, and we the mean slope.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from hoofcohort.models.basis import Basis
from hoofcohort.models.design import Covariate, Curve, Design, Shares, Variable, build_design, overparametrised

Array = NDArray[np.floating]


def type_three(design: Design, basis: Basis) -> dict[str, Array]:
    """Return per term its hypotheses on the kept coefficients, shape (rank, p); terms without any are left out."""
    if len(design.terms) == 1:
        return _sequential(design, basis)
    every, names = _overparametrisation(design)
    kept_terms = design.term_of[basis.kept]
    functions = every[basis.kept].T + every[basis.dropped].T @ basis.alias.T
    functions[np.abs(functions) < 1e-7 * np.abs(functions).max()] = 0.0
    columns = {term: np.flatnonzero(kept_terms == place) for place, term in enumerate(design.terms)}
    for term in sorted(design.terms, key=lambda term: -term.count(":")):
        above = [other for other in design.terms if _contained(design, term, other)]
        place = columns[term]
        around = np.concatenate([columns[other] for other in above]) if above else np.zeros(0, np.intp)
        if len(around) and len(place):
            basis_above = functions[:, around]
            solution = np.linalg.lstsq(basis_above, functions[:, place], rcond=None)[0]
            functions[:, place] -= basis_above @ solution
    where = {name: place for place, name in enumerate(names)}
    rows = functions[[where[design.names[column]] for column in basis.kept]]
    return {term: rows[:, place].T for term, place in columns.items() if len(place)}


@dataclass(frozen=True)
class _Columns:
    """A shape whose columns are given."""

    labels: tuple[str, ...]
    matrix: Array

    def columns(self, values: object) -> Array:
        """Return the columns, whatever the values."""
        return self.matrix


def _overparametrisation(design: Design) -> tuple[Array, list[str]]:
    """Return the columns with every variable coded in full, as combinations of the design's, and their names.

    Found on invented rows, since it depends on the coding alone: shape (p, columns in full), of 0, 1 and -1.
    """
    rng = np.random.default_rng(0)
    rows = 4 * len(design.names) + 100
    invented = [_invented(variable, rows, rng) for variable in design.variables.values()]
    coded = build_design(invented, design.terms, design.intercept, rows)
    complete, names = overparametrised(coded)
    found = np.linalg.lstsq(coded.matrix, complete, rcond=None)[0]
    return np.rint(found), names


def _invented(variable: Variable, rows: int, rng: np.random.Generator) -> Variable:
    """Return a variable of the same kind with values that no relation binds."""
    if isinstance(variable, Curve):
        shape: Any = _Columns(variable.shape.labels, rng.normal(size=(rows, len(variable.shape.labels))))
        return Curve(variable.name, np.zeros(rows), shape)
    if isinstance(variable, Covariate):
        return Covariate(variable.name, rng.normal(size=rows))
    return Shares(variable.name, rng.dirichlet(np.ones(len(variable.values)), rows), variable.values)


def _sequential(design: Design, basis: Basis) -> dict[str, Array]:
    """Return the hypotheses of a model's only term as lmerTest writes them, triangular.

    The same hypotheses; only Satterthwaite's way of splitting several of them depends on how they are written.
    """
    rows = (basis.r / np.diag(basis.r)[:, None])[design.term_of[basis.kept] == 0]
    return {design.terms[0]: rows} if len(rows) else {}


def _contained(design: Design, term: str, other: str) -> bool:
    """Tell whether every variable of a term is in the other, which adds categorical variables only."""
    inner, outer = set(term.split(":")), set(other.split(":"))
    return inner < outer and not any(isinstance(design.variables[name], Covariate) for name in outer - inner)

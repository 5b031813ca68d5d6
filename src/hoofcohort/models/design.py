"""Fixed-effect columns from variables and terms, without formula strings.

A categorical variable is coded against its base (treatment coding) wherever the rest of its term is already in the
model, and in full where it is not, so that a model spans the same space however its terms are written.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike, NDArray

from hoofcohort.errors import ModelError, nearest
from hoofcohort.models.splines import Shape

Array = NDArray[np.floating]
INTERCEPT = "(intercept)"


@dataclass(frozen=True)
class Covariate:
    """A numeric variable: ``values``, shape (n,), finite."""

    name: str
    values: ArrayLike


@dataclass(frozen=True)
class Curve(Covariate):
    """A numeric variable that enters by several columns, the first of them its own values: a spline or a polynomial."""

    shape: Shape


@dataclass(frozen=True)
class Factor:
    """A categorical variable: ``codes``, shape (n,), into ``values``; the first value is the base."""

    name: str
    codes: ArrayLike
    values: tuple[str, ...]


@dataclass(frozen=True)
class Shares:
    """Shares of a whole: ``matrix``, shape (n, k), rows summing to one, of ``values``; the first is the base."""

    name: str
    matrix: ArrayLike
    values: tuple[str, ...]


Variable = Covariate | Factor | Shares


@dataclass(frozen=True)
class Design:
    """The fixed-effect columns.

    Attributes
    ----------
    matrix : array, shape (n, p)
    names : tuple of str, length p
        ``(intercept)``, ``age``, ``age[spline 1]``, ``diet[hay]``, ``diet[hay]:age``.
    terms : tuple of str
        Terms in the order of their columns, the intercept not among them.
    term_of : int array, shape (p,)
        Term of each column; -1 for the intercept.
    variables : dict of str to Variable
    intercept : bool
    coded : dict
        For every term, the variables that are coded in full there.
    """

    matrix: Array
    names: tuple[str, ...]
    terms: tuple[str, ...]
    term_of: NDArray[np.intp]
    variables: Mapping[str, Variable]
    intercept: bool
    coded: Mapping[str, frozenset[str]] = field(default_factory=dict)

    def row(self, settings: Mapping[str, ArrayLike]) -> Array:
        """Return the columns, shape (p,), at given values: a number, or weights over a variable's values.

        Linear in every variable on its own, so weights that average over values give the average. A :class:`Curve`
        takes one number, at which its basis is evaluated, or the basis' columns themselves.
        """
        parts = [np.ones(1)] if self.intercept else []
        for term in self.terms:
            blocks = []
            for name in term.split(":"):
                value, variable = np.atleast_1d(np.asarray(settings[name], float)), self.variables[name]
                if isinstance(variable, Curve) and len(value) == 1:
                    value = variable.shape.columns(value)[0]
                categorical = not isinstance(variable, Covariate)
                blocks.append(value[1:] if categorical and name not in self.coded[term] else value)
            parts.append(_products([block[None, :] for block in blocks])[0])
        return np.concatenate(parts)

    def means_matrix(self, name: str) -> tuple[Array, tuple[str, ...]]:
        """Return functions, shape (k, p), whose values are the marginal means of a categorical variable.

        Covariates and other shares stand at their mean over the rows (a curve at its covariate's mean, not at the mean
        of its columns), other factors at equal weights. Several variables joined by ``:`` give the means of their
        cells; their values are joined by ``:`` too.

        Raises
        ------
        ModelError
            When the variable is not in the model, or is numeric.
        """
        asked = name.split(":")
        if len(set(asked)) < len(asked):
            raise ModelError(f"means of '{name}' name a variable twice")
        for part in asked:
            if part not in self.variables:
                raise ModelError(
                    f"means of '{part}': no such variable in the model{nearest(part, list(self.variables))}"
                )
            if isinstance(self.variables[part], Covariate):
                raise ModelError(f"means of '{part}': it is numeric; marginal means need a categorical variable")
        settings = {key: average(variable) for key, variable in self.variables.items()}
        cells: list[tuple[str, dict[str, ArrayLike]]] = [("", {})]
        for part in asked:
            variable = self.variables[part]
            assert not isinstance(variable, Covariate)
            values = variable.values
            cells = [
                (f"{label}:{value}" if label else value, {**chosen, part: np.eye(len(values))[place]})
                for label, chosen in cells
                for place, value in enumerate(values)
            ]
        rows = np.array([self.row(settings | chosen) for _, chosen in cells])
        return rows, tuple(label for label, _ in cells)

    def basis_functions(self, name: str) -> Array:
        """Return functions, shape (k, p): what each column of a numeric variable adds, the others at their average.

        Without interactions these are the variable's coefficients. With several columns (a :class:`Curve`), all of them
        zero means no association, all but the first zero means a straight line.

        Raises
        ------
        ModelError
            When the variable is not in the model, or is categorical.
        """
        if name not in self.variables:
            raise ModelError(f"no variable '{name}' in the model{nearest(name, list(self.variables))}")
        variable = self.variables[name]
        if not isinstance(variable, Covariate):
            raise ModelError(f"'{name}' is categorical; ask for its marginal means")
        settings = {key: average(own) for key, own in self.variables.items()}
        count = len(variable.shape.labels) if isinstance(variable, Curve) else 1
        at_zero = self.row(settings | {name: np.zeros(count)})
        return np.array([self.row(settings | {name: unit}) - at_zero for unit in np.eye(count)])


def build_design(
    variables: Iterable[Variable], terms: Sequence[str], intercept: bool = True, rows: int | None = None
) -> Design:
    """Build the columns of ``terms``, main effects before interactions.

    Parameters
    ----------
    variables : iterable of Variable
        Without missing values, all of the same length. Those in no term are ignored.
    terms : sequence of str
        Variable names, or names joined by ``:`` for interactions.
    intercept : bool
    rows : int, optional
        Number of rows, needed only when there are no terms.

    Raises
    ------
    ModelError
        For unknown variables, repeated terms, values that are not finite, or a model without columns.
    """
    known = {variable.name: variable for variable in variables}
    ordered = _ordered(terms, known)
    used = {name: known[name] for term in ordered for name in term.split(":")}
    if used:
        rows = len(_full(next(iter(used.values()))))
    blocks: list[Array] = []
    names: list[str] = []
    term_of: list[int] = []
    if intercept:
        blocks.append(np.ones((rows or 0, 1)))
        names.append(INTERCEPT)
        term_of.append(-1)
    coded: dict[str, frozenset[str]] = {}
    present: set[frozenset[str]] = {frozenset()} if intercept else set()
    for position, term in enumerate(ordered):
        parts = term.split(":")
        full = frozenset(
            part for part in parts
            if not isinstance(used[part], Covariate) and frozenset(parts) - {part} not in present
        )  # fmt: skip
        if full:
            present.add(frozenset())
        present.add(frozenset(parts))
        coded[term] = full
        columns, labels = _term_columns([used[part] for part in parts], full)
        blocks.append(columns)
        names += labels
        term_of += [position] * len(labels)
    if not blocks:
        raise ModelError("the fixed part of the model is empty; give at least one term or keep the intercept")
    matrix = np.hstack(blocks)
    return Design(matrix, tuple(names), tuple(ordered), np.array(term_of, np.intp), used, intercept, coded)


def overparametrised(design: Design) -> tuple[Array, list[str]]:
    """Return the columns with every categorical variable coded in full, and their names."""
    blocks: list[Array] = [np.ones((len(design.matrix), 1))] if design.intercept else []
    names = [INTERCEPT] if design.intercept else []
    for term in design.terms:
        parts = term.split(":")
        columns, labels = _term_columns([design.variables[part] for part in parts], frozenset(parts))
        blocks.append(columns)
        names += labels
    return np.hstack(blocks), names


def _ordered(terms: Sequence[str], known: Mapping[str, Variable]) -> list[str]:
    """Check the terms and put main effects first, otherwise keeping their order."""
    if INTERCEPT in known:
        raise ModelError(f"a variable cannot be named '{INTERCEPT}'; rename the column")
    seen: dict[frozenset[str], str] = {}
    for term in terms:
        parts = term.split(":")
        for part in parts:
            if part not in known:
                raise ModelError(f"term '{term}': no variable '{part}'{nearest(part, list(known))}")
        if len(set(parts)) < len(parts):
            raise ModelError(f"term '{term}' names a variable twice; add a column with the power instead")
        if frozenset(parts) in seen:
            raise ModelError(f"term '{term}' is given twice (as '{seen[frozenset(parts)]}'); leave one out")
        seen[frozenset(parts)] = term
    return sorted(terms, key=lambda term: term.count(":"))


def _full(variable: Variable) -> Array:
    """Return a variable's columns, shape (n, k), every value of a categorical one with its own."""
    if isinstance(variable, Curve):
        columns = variable.shape.columns(variable.values)
    elif isinstance(variable, Covariate):
        columns = np.asarray(variable.values, float)[:, None]
    elif isinstance(variable, Factor):
        columns = np.zeros((len(np.asarray(variable.codes)), len(variable.values)))
        columns[np.arange(len(columns)), np.asarray(variable.codes)] = 1.0
    else:
        columns = np.asarray(variable.matrix, float)
    if not np.isfinite(columns).all():
        raise ModelError(f"variable '{variable.name}' holds values that are missing or not finite; drop those rows")
    return columns


def average(variable: Variable) -> Array:
    """Return where a variable stands while marginal means are taken over another.

    A curve stands at its covariate's mean: the outcome at the mean value, as for a straight line, and not the mean of
    the curve over the rows. Differences between values of a variable that does not interact with it are the same.
    """
    if isinstance(variable, Factor):
        return np.full(len(variable.values), 1.0 / len(variable.values))
    if isinstance(variable, Covariate):
        return np.atleast_1d(np.asarray(variable.values, float).mean())
    return _full(variable).mean(axis=0)


def _term_columns(variables: Sequence[Variable], full: frozenset[str]) -> tuple[Array, list[str]]:
    """Return a term's columns and their names; the first variable varies fastest."""
    blocks, labels = [], [""]
    for variable in variables:
        columns = _full(variable)
        if isinstance(variable, Curve):
            own = [f"{variable.name}[{label}]" for label in variable.shape.labels]
        elif isinstance(variable, Covariate):
            own = [variable.name]
        else:
            own = [f"{variable.name}[{value}]" for value in variable.values]
            if variable.name not in full:
                columns, own = columns[:, 1:], own[1:]
        blocks.append(columns)
        labels = [f"{before}:{name}" if before else name for name in own for before in labels]
    return _products(blocks), labels


def _products(blocks: Sequence[Array]) -> Array:
    """Return all products of one column from each block; the first block varies fastest."""
    out = blocks[0]
    for block in blocks[1:]:
        out = (block[:, :, None] * out[:, None, :]).reshape(len(out), -1)
    return out

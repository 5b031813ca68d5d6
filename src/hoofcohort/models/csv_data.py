"""Read a CSV file of any kind into variables and groupings."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from hoofcohort.errors import InputError, nearest
from hoofcohort.models.design import Covariate, Factor, Variable
from hoofcohort.models.grouping import Grouping

MISSING = ("", "NA")
"""Cells that count as missing, after stripping blanks."""


@dataclass(frozen=True)
class ModelData:
    """The rows of a file that have every column the model uses.

    Attributes
    ----------
    outcome : array, shape (n,)
    variables : list of Variable
    grouping : Grouping
    rows_dropped : int
        Rows with a missing value in a used column.
    messages : list of str
    """

    outcome: NDArray[np.float64]
    variables: list[Variable]
    grouping: Grouping
    rows_dropped: int
    messages: list[str]


def read_model_data(
    path: str,
    outcome: str,
    terms: Sequence[str],
    levels: Sequence[str],
    also: Sequence[str] = (),
    categorical: Sequence[str] = (),
    crossed: Sequence[str] = (),
) -> ModelData:
    """Read the columns a model uses; cells are text until a column is known to be numeric.

    Raises
    ------
    InputError
        For an unreadable file, an unknown column, or an outcome or numeric column with a cell that is no number.
    """
    inner = [name.split(":", 1)[-1] for name in also]
    variables = list(dict.fromkeys(part for term in terms for part in term.split(":")))
    used = list(dict.fromkeys([outcome, *variables, *levels, *inner, *crossed]))
    table = read_columns(path, used, [*used, *categorical])
    present = ~np.logical_or.reduce([table[name].isin(MISSING) for name in used])
    kept = table[present]
    if kept.empty:
        raise InputError(f"{path}: no row has a value in every used column ({', '.join(used)})")
    messages = [
        f"{int((~present).sum())} of {len(table)} rows were left out for a missing value: "
        + ", ".join(f"{name} {count}" for name in used if (count := int(table[name].isin(MISSING).sum())))
        + "."
    ] if not present.all() else []  # fmt: skip
    values = numbers_or_words(kept[outcome], path)
    if values is None:
        raise InputError(f"{path}: the outcome '{outcome}' holds text ('{kept[outcome].iloc[0]}'); it must be numeric")
    grouping = Grouping.from_labels(
        {name: kept[name].to_numpy() for name in levels},
        {name: kept[column].to_numpy() for name, column in zip(also, inner, strict=True)},
        {name: kept[name].to_numpy() for name in crossed},
    )
    found = [_variable(kept[name], name in categorical, path) for name in variables]
    return ModelData(values, found, grouping, int((~present).sum()), messages)


def read_columns(path: str, used: Sequence[str], named: Sequence[str]) -> pd.DataFrame:
    """Read the used columns as text, indexed by line number.

    Raises
    ------
    InputError
        When the file cannot be read, a column is unknown or occurs twice, or a row has more or fewer cells than the
        header.
    """
    try:
        with open(path, encoding="utf-8-sig", newline="") as handle:
            reader = csv.reader(_without_nul(handle), strict=True)
            header = [name.strip() for name in next(reader, [])]
            places = _places(header, path, used, named)
            lines: list[int] = []
            cells: list[list[str]] = []
            for row in reader:
                if not row:
                    continue
                if len(row) != len(header):
                    raise InputError(
                        f"{path}, line {reader.line_num}: {len(row)} cells, but the header has {len(header)} columns; "
                        "a decimal comma, or a comma in a text without quotes, makes an extra cell"
                    )
                lines.append(reader.line_num)
                cells.append([row[place] for place in places])
    except OSError as error:
        raise InputError(f"{path}: cannot be read ({error.strerror})") from error
    except UnicodeDecodeError as error:
        raise InputError(f"{path}: is not UTF-8 text; save it as CSV in UTF-8") from error
    except csv.Error as error:
        raise InputError(f"{path}: cannot be read as comma-separated text ({error}); save it as CSV again") from error
    table = pd.DataFrame(cells, columns=list(used), index=lines, dtype=str)
    return table.apply(lambda column: column.str.strip())


def _without_nul(lines: Iterable[str]) -> Iterator[str]:
    for line in lines:
        if "\0" in line:
            raise csv.Error("it holds a NUL character")
        yield line


def _places(header: Sequence[str], path: str, used: Sequence[str], named: Sequence[str]) -> list[int]:
    """Return where the used columns stand in the header."""
    if not any(header):
        raise InputError(f"{path}: no header line; the first line must name the columns")
    if len(header) == 1 and ";" in header[0]:
        raise InputError(f"{path}: cells seem to be separated by semicolons; save the file as CSV with commas")
    faults = [f"no column '{name}'{nearest(name, header)}" for name in dict.fromkeys(named) if name not in header]
    faults += [f"{header.count(name)} columns are named '{name}'" for name in used if header.count(name) > 1]
    if faults:
        raise InputError(f"{path}: {'; '.join(faults)}; columns: {', '.join(header)}")
    return [header.index(name) for name in used]


def numbers_or_words(column: pd.Series, path: str) -> NDArray[np.float64] | None:
    """Return a column as numbers, or None when it is a column of words.

    A column in which most cells are numbers and some are not is an error: a slip, not a variable of hundreds of words.
    """
    numbers = pd.to_numeric(column, errors="coerce").to_numpy(float)
    wrong = ~np.isfinite(numbers)
    if not wrong.any():
        return numbers
    if wrong.mean() < 0.5:
        line = column.index[wrong][0]
        raise InputError(
            f"{path}, line {line}, column '{column.name}': '{column[line]}' is not a number, while "
            f"{int((~wrong).sum())} of the column's {len(column)} cells are; correct the cell, or name the column "
            "after --categorical"
        )
    return None


def _variable(column: pd.Series, categorical: bool, path: str) -> Variable:
    """Turn a column into a covariate when it is numeric and not listed, else into a factor with sorted values."""
    numbers = None if categorical else numbers_or_words(column, path)
    if numbers is not None:
        return Covariate(str(column.name), numbers)
    words = sorted(column.unique(), key=word_order)
    codes = pd.Categorical(column, categories=words).codes.astype(np.int64)
    return Factor(str(column.name), codes, tuple(words))


def word_order(word: str) -> tuple[int, float, str]:
    """Sort numbers by size and before words, words by their letters."""
    try:
        return 0, float(word), word
    except ValueError:
        return 1, 0.0, word

"""Groups of rows by number, and their medians, many columns at a time."""

from __future__ import annotations

import numpy as np
import pandas as pd


def numbered(*keys: np.ndarray) -> np.ndarray:
    """Return one number, from 0 in the order of first rows, for each different combination of keys; shape (n,)."""
    number: np.ndarray = pd.factorize(keys[0])[0]
    for key in keys[1:]:
        codes, different = pd.factorize(key)
        number = pd.factorize(number * (len(different) + 1) + codes)[0]
    return number


def group_medians(values: np.ndarray, groups: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return each row's group's median and number of values, column by column.

    Parameters
    ----------
    values : ndarray, shape (n, m)
        NaN where missing.
    groups : ndarray of int, shape (n,)
        Numbers from 0.

    Returns
    -------
    medians : ndarray, shape (n, m)
        NaN where the group has no value.
    counts : ndarray of int, shape (n, m)
    """
    medians = np.full(values.shape, np.nan)
    counts = np.zeros(values.shape, dtype=np.int64)
    if not len(values):
        return medians, counts
    order = np.argsort(groups, kind="stable")
    sizes = np.bincount(groups)
    starts = np.concatenate([[0], np.cumsum(sizes)[:-1]])
    for size in np.unique(sizes[sizes > 0]).tolist():
        rows = order[starts[sizes == size][:, None] + np.arange(size)]
        block = np.sort(values[rows], axis=1)
        count = (~np.isnan(block)).sum(axis=1)
        low = np.take_along_axis(block, np.maximum(count - 1, 0)[:, None, :] // 2, axis=1)[:, 0]
        high = np.take_along_axis(block, np.minimum(count // 2, size - 1)[:, None, :], axis=1)[:, 0]
        medians[rows] = ((low + high) / 2)[:, None, :]
        counts[rows] = count[:, None, :]
    return medians, counts

"""Add every index of the catalogue to the readings."""

from __future__ import annotations

import pandas as pd

from hoofcohort.indices.catalogue import CATALOGUE

FROM_HORSES = ("body_mass_kg",)


def derive(feet: pd.DataFrame, horses: pd.DataFrame) -> pd.DataFrame:
    """Return the readings with one more column per index.

    Parameters
    ----------
    feet : DataFrame
        Accepted readings, one row each. A measurement column that is absent counts as missing throughout.
    horses : DataFrame
        Accepted horses, one row per ``horse_id``; ``body_mass_kg`` is used, in kg.

    Returns
    -------
    DataFrame
        ``feet``'s rows and columns in their order, then the catalogue's columns in the catalogue's order: float64 in
        each index's unit, ``str`` for classes. Missing in, missing out; a zero divisor gives missing.
    """
    table = feet.copy()
    for column in FROM_HORSES:
        values = horses.set_index("horse_id")[column] if column in horses else pd.Series(dtype="float64")
        table[column] = feet["horse_id"].map(values.astype("float64"))
    needed = {column for index in CATALOGUE.values() for column in index.needs}
    for column in sorted(needed - set(table.columns)):
        table[column] = 1 if column == "replicate" else float("nan")
    indices = {name: index.compute(table) for name, index in CATALOGUE.items()}
    return feet.assign(**indices)

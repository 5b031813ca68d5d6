"""Draft a mapping from a file: a guess for every header, with how sure it is and a sample of the cells."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from hoofcohort.mapping.feet_in_a_row import feet_in_headers, remedy
from hoofcohort.mapping.guess import SAMPLE, Guess, guess_column, recognised
from hoofcohort.mapping.guessed_settings import in_ours
from hoofcohort.mapping.mapping import FLAT, FLAT_COLUMNS, Mapping, labels, targets
from hoofcohort.mapping.unit_of_column import doubt_unit
from hoofcohort.mapping.vocabulary import HORSE_NAMES, plain_header, unit_of_header
from hoofcohort.sheets.sheet import Sheet
from hoofcohort.tables import TABLES

_LOOKED_AT = 2000


@dataclass(frozen=True)
class Draft:
    """A mapping to be checked by a person, the guesses that it is made of, and what no mapping can put right."""

    mapping: Mapping
    guesses: tuple[Guess, ...]
    missing: tuple[str, ...]
    hints: tuple[str, ...] = ()


def draft(sheet: Sheet) -> Draft:
    """Guess what each column of a sheet is.

    Parameters
    ----------
    sheet : Sheet

    Returns
    -------
    Draft
        An order of day and month, or a decimal mark, that the cells do not decide is left open.
    """
    names = labels(sheet)
    per_foot = feet_in_headers(sheet.header)
    found, taken = _guesses(sheet, names, per_foot)
    table = _table(taken)
    fitting = targets(table)
    found = [guess if guess.to is None or guess.to.to in fitting else _left_out(guess, table) for guess in found]
    found = _doubt_units(sheet, found)
    mapping = Mapping(
        table=table,  # type: ignore[arg-type]
        columns={guess.header: guess.to for guess in found if guess.to is not None},
        ignore=[guess.header for guess in found if guess.to is None],
    )
    needed = TABLES["feet" if table == FLAT else table].columns
    missing = [column.name for column in needed if column.required and column.name not in taken]
    if table == FLAT:
        missing += [name for name in ("yard_id", "owner_id") if name not in taken]
    hints = (remedy([names[place] for place in per_foot]),) if per_foot else ()
    return Draft(mapping, tuple(found), tuple(missing), hints)


def _guesses(sheet: Sheet, names: list[str], per_foot: Collection[int]) -> tuple[list[Guess], set[str]]:
    """Return a guess for each column, the surest made first, and the columns of ours that they take."""
    taken: set[str] = set()
    guesses: dict[int, Guess] = {}

    def surely(place: int) -> tuple[int, bool, int]:
        rank = recognised(sheet.header[place])[1]
        return rank, plain_header(sheet.header[place]) in HORSE_NAMES, place

    for place in sorted(range(len(names)), key=surely):
        if place in per_foot:
            texts = _texts(sheet.columns[place])
            why = ("the header names one foot of several",)
            guesses[place] = Guess(names[place], None, "low", why, tuple(texts[:SAMPLE]))
            continue
        guess = guess_column(names[place], _with_unit(sheet, place), _texts(sheet.columns[place]), taken, sheet.typed)
        guesses[place] = guess
        if guess.to is not None:
            taken.add(guess.to.to)
    return [guesses[place] for place in range(len(names))], taken


def _doubt_units(sheet: Sheet, guesses: list[Guess]) -> list[Guess]:
    """Lower the confidence of columns whose header names no unit and whose numbers may be in another than ours."""
    numbers_in = {
        guess.to.to: in_ours(guess.to, _texts(sheet.columns[place]))
        for place, guess in enumerate(guesses)
        if guess.to is not None and FLAT_COLUMNS[guess.to.to].kind in ("number", "integer")
    }
    told = []
    for place, guess in enumerate(guesses):
        doubt = None
        if guess.to is not None and guess.to.to in numbers_in and not guess.to.unit:
            values, heights = numbers_in[guess.to.to], numbers_in.get("height_cm", np.empty(0))
            tall = np.full(len(values), np.median(heights)) if len(heights) else None
            said = unit_of_header(_with_unit(sheet, place))[1]
            doubt = None if said else doubt_unit(FLAT_COLUMNS[guess.to.to], values, tall)
        if doubt is None:
            told.append(guess)
            continue
        why = f"{doubt.why}: check whether they are {' or '.join(unit for unit, _ in doubt.units)}, and write the unit"
        told.append(replace(guess, confidence="low" if guess.confidence == "low" else "medium", why=(*guess.why, why)))
    return told


def _with_unit(sheet: Sheet, place: int) -> str:
    """Return a header with what a row of units below it says."""
    header = sheet.header[place]
    return f"{header} ({sheet.units[place]})" if sheet.units and sheet.units[place] and "(" not in header else header


def _texts(cells: np.ndarray | pd.Series) -> list[str]:
    different = pd.unique(np.asarray(cells, dtype=object)[:_LOOKED_AT])
    return [str(text) for text in different if text]


def _left_out(guess: Guess, table: str) -> Guess:
    return Guess(
        guess.header,
        None,
        "low",
        (f"looks like {guess.to.to if guess.to else ''}, which {table} has not",),
        guess.sample,
    )


def _table(taken: set[str]) -> str:
    def own(table: str) -> set[str]:
        return taken & set(TABLES[table].names) - {"horse_id"}

    if "foot" in taken or own("feet") >= {"visit_date"} or len(own("feet")) > len(own("horses") | own("management")):
        return FLAT if own("horses") or own("management") else "feet"
    return "management" if len(own("management")) > len(own("horses")) else "horses"

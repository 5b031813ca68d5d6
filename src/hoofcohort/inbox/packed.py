"""Parts made small: of the rows of many files each different text is kept once."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
import pyarrow as pa

from hoofcohort.inbox.part import IDENTITY, Part
from hoofcohort.tables import TABLES

NAMED = "named"
"""Besides the tables: what flat sheets pair, as ``Part.named``."""
COLUMNS = {**{name: table.names for name, table in TABLES.items()}, NAMED: IDENTITY}
_MANY = "feet"
"""The table whose rows are counted in millions; of the others Python's own texts take no room worth sparing."""


@dataclass(frozen=True)
class Packed:
    """Parts without their rows, and the rows.

    Attributes
    ----------
    parts : list of Part
    tables : dict of pyarrow.Table
        By table, and ``NAMED``: its columns as numbered texts, ``line``, ``part`` (number in ``parts``), and of the
        tables ``rejected`` and ``derived``.
    """

    parts: list[Part]
    tables: dict[str, pa.Table]


def pack(parts: Sequence[Part]) -> Packed:
    """Pack parts; they are left as they are."""
    tables = {}
    for name in COLUMNS:
        held = [(number, _frame(part, name)) for number, part in enumerate(parts)]
        tables[name] = _unified([_table(name, frame, number) for number, frame in held if frame is not None], name)
    return Packed([replace(part, tables={}, named=None) for part in parts], tables)


def _frame(part: Part, name: str) -> pd.DataFrame | None:
    return part.named if name == NAMED else part.tables.get(name)


def _table(name: str, frame: pd.DataFrame, part: int) -> pa.Table:
    size = len(frame)
    empty = pa.DictionaryArray.from_arrays(np.zeros(size, np.int32), pa.array([""]))
    columns: dict[str, pa.Array] = {}
    for column in COLUMNS[name]:
        cells = frame[column].to_numpy(dtype=object)
        if not any(cells):
            columns[column] = empty
            continue
        codes, texts = pd.factorize(cells)
        columns[column] = pa.DictionaryArray.from_arrays(codes.astype(np.int32), pa.array(texts, pa.string()))
    columns["line"] = pa.array(frame["line"].to_numpy(dtype=np.int64))
    columns["part"] = pa.array(np.full(size, part, np.int32))
    if name != NAMED:
        columns["rejected"] = pa.array(frame["status"].to_numpy(dtype=object) != "")
        columns["derived"] = pa.array(frame["derived"].to_numpy(dtype=bool))
    return pa.table(columns)


def _unified(tables: Sequence[pa.Table], name: str) -> pa.Table:
    if not tables:
        none = pd.DataFrame({column: np.empty(0, object) for column in (*COLUMNS[name], "status")})
        return _table(name, none.assign(line=0, derived=False), 0)
    return pa.concat_tables(tables).unify_dictionaries().combine_chunks()


def join(packed: Iterable[Packed]) -> Packed:
    """Put packed parts together in the order given."""
    parts: list[Part] = []
    tables: dict[str, list[pa.Table]] = {name: [] for name in COLUMNS}
    for one in packed:
        for name, table in one.tables.items():
            place = table.schema.get_field_index("part")
            numbers = pa.array(table["part"].to_numpy() + np.int32(len(parts)))
            tables[name].append(table.set_column(place, "part", numbers))
        parts += one.parts
    return Packed(parts, {name: _unified(held, name) for name, held in tables.items()})


def unpack(table: pa.Table, name: str) -> pd.DataFrame:
    """Return a packed table as a frame of text, with ``line``, ``part`` and, of the tables, ``status`` and ``derived``.

    Texts that are no part of a key stand as categories in the table of feet.
    """
    own = COLUMNS[name]
    frame = {column: _texts(table[column], name == _MANY and column not in TABLES[name].key) for column in own}
    frame["line"] = table["line"].to_numpy()
    frame["part"] = table["part"].to_numpy().astype(np.int64)
    if name != NAMED:
        fates = np.array(["", "rejected"], dtype=object)
        frame["status"] = pd.Series(fates[table["rejected"].to_numpy().astype(np.int8)], dtype=object)
        frame["derived"] = table["derived"].to_numpy()
    return pd.DataFrame(frame, copy=False)


def _texts(column: pa.ChunkedArray, numbered: bool) -> pd.Series | pd.Categorical:
    """Return Python's own texts, equal ones the same object, as pandas left alone would copy each; or categories."""
    whole = column.combine_chunks()
    if isinstance(whole, pa.ChunkedArray):
        whole = whole.chunk(0)
    texts = np.array(whole.dictionary.to_pylist(), dtype=object)
    codes = whole.indices.to_numpy(zero_copy_only=False)
    if numbered:
        return pd.Categorical.from_codes(codes, pd.Index(texts, dtype=object))  # type: ignore[call-overload]
    return pd.Series(texts[codes] if len(texts) else texts, dtype=object)


def numbered_texts(column: pd.Series) -> tuple[np.ndarray, np.ndarray]:
    """Return a column of text as numbers and the different texts; a text that no row holds may be among them."""
    if isinstance(column.dtype, pd.CategoricalDtype):
        return column.cat.codes.to_numpy(), column.cat.categories.to_numpy(dtype=object)
    codes, texts = pd.factorize(column.to_numpy(dtype=object))
    return codes, np.asarray(texts, dtype=object)

"""Rows for statistics, from a CSV file, or a Parquet file read in batches."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from hoofcohort.errors import InputError, nearest
from hoofcohort.models.coding import Coding
from hoofcohort.models.csv_data import MISSING, numbers_or_words, read_columns, word_order

if TYPE_CHECKING:
    import pandas as pd
    import pyarrow as pa
    import pyarrow.parquet as pq

BATCH = 200_000
"""Rows read at once from a Parquet file."""

SORTED_HERE = 1_000_000
"""Up to this many rows a file is read whole and sorted; a larger one must come sorted."""


@dataclass
class TableSource:
    """The rows of a file that miss no value in the used columns.

    Attributes
    ----------
    path : str
        A CSV file, or a Parquet file (``.parquet``).
    columns : sequence of str
        The columns used.
    outermost : sequence of str
        The columns by which small files are sorted.
    rows_dropped : int
        Rows left out for a missing value, once the rows have been gone through.
    """

    path: str
    columns: Sequence[str]
    outermost: Sequence[str]
    rows_dropped: int = field(default=0, init=False)
    _whole: pd.DataFrame | None = field(default=None, init=False)

    def chunks(self) -> Iterator[pd.DataFrame]:
        """Return the rows in chunks, from the start.

        Raises
        ------
        InputError
            When the file cannot be read or lacks a column.
        """
        self.rows_dropped = 0
        for chunk in self._read():
            present = chunk.notna().all(axis=1).to_numpy()  # in a Parquet file a NaN is not a null
            self.rows_dropped += int((~present).sum())
            yield chunk[present]

    def words(self, columns: Sequence[str]) -> dict[str, tuple[str, ...]]:
        """Return the words of columns, sorted, from rows that miss no value."""
        found: dict[str, set[str]] = {column: set() for column in columns}
        for chunk in self.chunks() if columns else ():
            for column in columns:
                found[column] |= {str(word) for word in chunk[column].unique()}
        return {column: tuple(sorted(words, key=word_order)) for column, words in found.items()}

    def is_text(self, column: str) -> bool:
        """Tell whether a column holds words rather than numbers."""
        if self.is_parquet:
            from pyarrow import types

            kind = _plain(self._parquet().schema_arrow.field(column).type)
            return not (types.is_integer(kind) or types.is_floating(kind) or types.is_decimal(kind))
        rows = self._csv()
        return numbers_or_words(rows.loc[rows[column].notna(), column], self.path) is None

    @property
    def is_parquet(self) -> bool:
        """Whether the file is a Parquet file, by its name."""
        return Path(self.path).suffix == ".parquet"

    def _read(self) -> Iterator[pd.DataFrame]:
        if not self.is_parquet:
            yield self._csv()
            return
        import pyarrow as pa

        file = self._parquet()
        if file.metadata.num_rows <= SORTED_HERE:
            yield self._sorted(self._typed(file.read(columns=list(self.columns))))
            return
        for batch in file.iter_batches(BATCH, columns=list(self.columns)):
            yield self._typed(pa.Table.from_batches([batch]))

    def _typed(self, table: pa.Table) -> pd.DataFrame:
        """Return the rows without a null, every column in the type that the file's schema gives it.

        With a null among them whole numbers would come as fractions and truths as objects, in that batch alone, and
        what is the same group in two batches would not look the same.
        """
        import pyarrow as pa

        table = table.select(list(self.columns))
        plain = table.cast(pa.schema([(column.name, _plain(column.type)) for column in table.schema]))
        kept = plain.drop_null()
        self.rows_dropped += len(plain) - len(kept)
        return kept.to_pandas()

    def _parquet(self) -> pq.ParquetFile:
        import pyarrow as pa
        import pyarrow.parquet as pq

        try:
            file = pq.ParquetFile(self.path, pre_buffer=False)  # buffers would be kept until the end
        except (OSError, pa.ArrowException) as error:
            raise InputError(f"{self.path}: cannot be read as a Parquet file ({error})") from error
        names = file.schema_arrow.names
        faults = [f"no column '{name}'{nearest(name, names)}" for name in self.columns if name not in names]
        if faults:
            raise InputError(f"{self.path}: {'; '.join(faults)}; columns: {', '.join(names)}")
        for name in self.columns:
            kind = file.schema_arrow.field(name).type
            if pa.types.is_nested(kind):
                raise InputError(
                    f"{self.path}: column '{name}' holds a {kind} in every cell; numbers, words, dates and truths can "
                    "be used"
                )
        return file

    def _csv(self) -> pd.DataFrame:
        if self._whole is None:
            rows = read_columns(self.path, self.columns, self.columns)
            self._whole = self._sorted(rows.mask(rows.isin(MISSING)))
        return self._whole

    def _sorted(self, rows: pd.DataFrame) -> pd.DataFrame:
        """Sort as text, so that a table's parts are the same groups whatever kind of file it comes in."""
        return rows.sort_values(list(self.outermost), kind="stable", key=lambda column: column.astype(str))


def _plain(kind: pa.DataType) -> pa.DataType:
    """Return what a dictionary's values are, or the type itself."""
    import pyarrow as pa

    return kind.value_type if pa.types.is_dictionary(kind) else kind


def find_codings(
    source: TableSource, variables: Sequence[str], categorical: Sequence[str], words: Mapping[str, tuple[str, ...]]
) -> list[Coding]:
    """Return how variables of a file are coded.

    Parameters
    ----------
    source : TableSource
    variables : sequence of str
        Columns, in the order in which they are first used.
    categorical : sequence of str
        Number columns to take as words.
    words : dict of str to tuple of str
        Words agreed beforehand, the base first.

    Raises
    ------
    InputError
        When words are given for a column that is not used.
    """
    for name in (*words, *categorical):
        if name not in variables:
            raise InputError(f"words are given for '{name}', which is in no term{nearest(name, list(variables))}")
    text = [name for name in variables if name in words or name in categorical or source.is_text(name)]
    found = source.words([name for name in text if name not in words]) | dict(words)
    return [
        Coding(name, "words", (name,), found[name]) if name in text else Coding(name, "number", (name,))
        for name in variables
    ]

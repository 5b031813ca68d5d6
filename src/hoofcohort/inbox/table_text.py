"""A large table of text as CSV: every different text is guarded and quoted once, and rows are joined by columns."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Sequence

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc

from hoofcohort.files import guard_formula
from hoofcohort.inbox.packed import numbered_texts

_ROWS = 100_000
"""Rows that are joined at a time."""


def csv_of_rows(columns: Sequence[str], rows: Iterable[Sequence[str]]) -> bytes:
    """Return a small table as CSV, UTF-8; no cell is a formula."""
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(columns)
    writer.writerows([guard_formula(cell) for cell in row] for row in rows)
    return text.getvalue().encode()


def csv_of_frame(frame: pd.DataFrame) -> bytes:
    """Return the same bytes as ``csv_of_rows`` of a frame of text with two columns or more."""
    columns = [numbered_texts(frame[name]) for name in frame.columns]
    quoted = [pa.array([_quoted(text) for text in texts], pa.string()) for _, texts in columns]
    numbers = [codes for codes, _ in columns]
    return b"".join([csv_of_rows(list(frame.columns), ()), *_joined(numbers, quoted, len(frame))])


def _joined(numbers: Sequence[np.ndarray], texts: Sequence[pa.Array], size: int) -> Iterator[bytes]:
    for start in range(0, size, _ROWS):
        cells = [own.take(pa.array(codes[start : start + _ROWS])) for codes, own in zip(numbers, texts, strict=True)]
        cells[-1] = pc.binary_join_element_wise(cells[-1], "\n", "")
        rows = pc.binary_join_element_wise(*cells, ",")
        _, offsets, content = rows.buffers()
        end = int(np.frombuffer(offsets, np.int32)[rows.offset + len(rows)])
        yield content.to_pybytes()[:end]


def _quoted(text: str) -> str:
    """Return a cell as it stands beside another one in CSV."""
    line = io.StringIO(newline="")
    csv.writer(line, lineterminator="\n").writerow([guard_formula(text), ""])
    return line.getvalue()[:-2]

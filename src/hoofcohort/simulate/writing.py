"""Write typed frames as CSV text, quickly, and put the planted mistakes into it."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

if TYPE_CHECKING:
    from hoofcohort.simulate.planting import Planted


def csv_text(frame: pd.DataFrame, file: str, planted: Iterable[Planted] = ()) -> str:
    """Return the CSV text of a frame (LF line ends, empty = missing) with the mistakes planted in that file."""
    lines = _clean_lines(frame)
    columns = list(frame.columns)
    for mistake in planted:
        if mistake.file != file:
            continue
        if mistake.new_row is not None:
            lines.append(_quoted(mistake.new_row))
            continue
        cells = lines[mistake.line - 1].split(",")
        for column, text in mistake.cells.items():
            cells[columns.index(column)] = text
        lines[mistake.line - 1] = _quoted(cells)
    return "\n".join(lines) + "\n"


def cell_text(value: object) -> str:
    """Return the text of one typed cell exactly as ``csv_text`` writes it."""
    if pd.isna(value):  # type: ignore[call-overload]
        return ""
    if isinstance(value, pd.Timestamp):
        return value.date().isoformat()
    if isinstance(value, float):
        return np.format_float_positional(value, trim="-")
    return str(value)


def _clean_lines(frame: pd.DataFrame) -> list[str]:
    import pyarrow as pa
    from pyarrow import csv as arrow_csv

    dates = {str(name): frame[name].astype("date32[pyarrow]") for name in frame.select_dtypes("datetime")}
    table = pa.Table.from_pandas(frame.assign(**dates), preserve_index=False)
    sink = io.BytesIO()
    arrow_csv.write_csv(table, sink, arrow_csv.WriteOptions(quoting_style="none", quoting_header="none"))
    return sink.getvalue().decode("utf-8").rstrip("\n").split("\n")


def _quoted(cells: Iterable[str]) -> str:
    buffer = io.StringIO()
    csv.writer(buffer, lineterminator="").writerow(cells)
    return buffer.getvalue()

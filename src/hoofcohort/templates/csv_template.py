"""Templates as CSV: the header line of a table and its example row."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence

from hoofcohort.files import guard_formula
from hoofcohort.tables import Column
from hoofcohort.templates.examples import example_cell


def csv_template(columns: Sequence[Column]) -> str:
    """Return a CSV template.

    Parameters
    ----------
    columns : sequence of Column
        In the order of the file.

    Returns
    -------
    str
        Two lines: the columns' exact names, in which the unit is the ending, and the example row. There is no line of
        units: the intake would have to take it for a row. The example's horse has the code ``EXAMPLE``, which the
        intake rejects with a reason of its own.
    """
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow([column.name for column in columns])
    writer.writerow([guard_formula(example_cell(column)) for column in columns])
    return text.getvalue()

"""One table of the report: the same records feed the page and a CSV file."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import groupby
from operator import itemgetter
from typing import Any

from hoofcohort.files import guard_formula

Record = Mapping[str, Any]


@dataclass(frozen=True)
class Column:
    """One column of the page's table.

    Attributes
    ----------
    title : str
        Its head.
    show : callable
        Takes a record, returns the cell's text.
    number : bool
        Set to the right, with figures of equal width.
    """

    title: str
    show: Callable[[Record], str]
    number: bool = True


@dataclass(frozen=True)
class Sheet:
    """A table: records of plain values, how the page shows them, and what surrounds it.

    Attributes
    ----------
    name : str
        Name of the CSV file, without ending, and of the table's anchor.
    caption : str
    fields : tuple of str
        The records' keys that the CSV file holds, in order.
    records : list of mapping
    columns : tuple of Column
        The first one is the row's head.
    note : str
        Set below the table.
    marked : callable or None
        Tells whether a record's row is set off.
    group : callable or None
        The heading under which a record's row stands on the page; None: no headings.
    on_page : callable or None
        Tells whether a record's row stands on the page; the CSV file has all of them.
    """

    name: str
    caption: str
    fields: tuple[str, ...]
    records: Sequence[Record]
    columns: tuple[Column, ...]
    note: str = ""
    marked: Callable[[Record], bool] | None = field(default=None, compare=False)
    group: Callable[[Record], str] | None = field(default=None, compare=False)
    on_page: Callable[[Record], bool] | None = field(default=None, compare=False)

    def rows(self) -> list[tuple[bool, list[str]]]:
        """Return the page's rows: whether set off, and the cells' text."""
        return [
            (bool(self.marked and self.marked(record)), [column.show(record) for column in self.columns])
            for record in self._shown()
        ]

    def groups(self) -> list[tuple[str, list[tuple[bool, list[str]]]]]:
        """Return the page's rows under their headings, runs of one heading together; one empty heading without."""
        titles = [self.group(record) if self.group else "" for record in self._shown()]
        together = groupby(zip(titles, self.rows(), strict=True), key=itemgetter(0))
        return [(title, [row for _, row in rows]) for title, rows in together]

    def _shown(self) -> list[Record]:
        return [record for record in self.records if self.on_page is None or self.on_page(record)]

    def to_csv(self) -> str:
        """Return the CSV file's text: UTF-8, LF, numbers to 6 significant digits, missing empty, no formulas."""
        out = io.StringIO()
        writer = csv.writer(out, lineterminator="\n")
        writer.writerow(self.fields)
        writer.writerows([csv_cell(record.get(name)) for name in self.fields] for record in self.records)
        return out.getvalue()


def csv_cell(value: Any) -> str:
    """Return a value as a CSV cell; text that a spreadsheet would read as a formula gets an apostrophe."""
    if value is None or (isinstance(value, float) and math.isnan(value)):
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int):
        return str(value)
    if isinstance(value, float):
        return f"{value:.6g}"
    return guard_formula(str(value))


def text(key: str) -> Callable[[Record], str]:
    """Return a function that shows a record's text as it is; missing as a dash."""
    return lambda record: "\N{EM DASH}" if record.get(key) in (None, "") else str(record[key])

"""How large a file may be, in one place. All are the project's own limits unless said otherwise."""

from __future__ import annotations

LARGEST_FILE = 64_000_000
"""Bytes of a file."""
LARGEST_UNPACKED = 256_000_000
"""Bytes of all parts of a workbook, unpacked."""
LARGEST_RATIO = 200
"""Unpacked over packed size of a workbook's part larger than a megabyte: beyond, it is made to exhaust memory."""
MOST_PARTS = 2_000
"""Parts of a workbook's archive."""
MOST_ELEMENTS = 12_000_000
"""Elements of XML in a workbook, about four to a cell, so that no workbook takes minutes."""
MOST_SHEETS = 100
"""Sheets of a workbook."""
MOST_ROWS = 1_048_576
"""Rows of a sheet: those of an .xlsx sheet (from memory of the vendor's published limits)."""
MOST_COLUMNS = 1_000
"""Columns of a sheet."""
MOST_CELLS = 20_000_000
"""Rows times columns of a sheet, so that a few cells far apart cannot fill the memory."""
LONGEST_CELL = 32_767
"""Characters in a cell: those of an .xlsx cell (from memory of the vendor's published limits)."""
LONGEST_LINE = 1_000_000
"""Characters in a line of a text file."""
LINES_IN_A_ROW = 60
"""Lines over which the line breaks inside cells may spread one row; beyond, a quotation mark was never closed."""
LONGEST_SHOWN = 60
"""Characters of a cell that a sentence repeats."""
MOST_SHOWN = 12
"""Lines that a sentence names before it only counts."""

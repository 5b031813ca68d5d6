"""Read a text file of cells: its encoding and separator are found, and said."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from hoofcohort.sheets import limits
from hoofcohort.sheets.blanks import CONTROL, QUOTES
from hoofcohort.sheets.decoding import Decoded, decode
from hoofcohort.sheets.errors import UnreadableError
from hoofcohort.sheets.rows import sheet_of
from hoofcohort.sheets.separators import NONE_NEEDED, SEPARATORS, find_separator, parted_by_blanks, said_separator
from hoofcohort.sheets.sheet import Aside, Sheet
from hoofcohort.sheets.text_rows import physical_lines, rows_of
from hoofcohort.sheets.told import lines_said

_END_OF_FILE = "\x1a"
"""What old programs write as a last sign."""


def read_text_file(path: Path, data: bytes) -> Sheet:
    """Read the bytes of a text file.

    Raises
    ------
    UnreadableError
        For bytes that are no text, a header that cannot be cut into cells, too much of anything, or no row at all.
    """
    decoded = decode(path, data)
    text = decoded.text.rstrip(_END_OF_FILE)
    _refuse_many(path, text)
    lines = physical_lines(text)
    _refuse_long(path, lines)
    said = said_separator(lines[0]) if lines else ""
    body = ["\n", *lines[1:]] if said else lines
    separator, told = (said, f"separator: {SEPARATORS[said]}, as line 1 says") if said else find_separator(body)
    if told == NONE_NEEDED and (opened := _unwrapped(body)):
        body = opened
        separator, told = find_separator(body)
        told += ", inside quotation marks around each line"
    if told == NONE_NEEDED and parted_by_blanks(body):
        raise UnreadableError(
            f"{path}: the cells are parted by blanks, which texts hold too; save it with commas, semicolons or tabs "
            "between the cells"
        )
    if text.count(separator) > limits.MOST_CELLS:
        raise UnreadableError(f"{path}: holds more than {limits.MOST_CELLS} cells; send it in parts")
    rows = rows_of(body, separator)
    if said:
        rows.lines.pop(0)
        rows.cells.pop(0)
    understood = (*decoded.said, told, *_line_ends(text), *_signs(lines, decoded))
    sheet = sheet_of(
        path, "", rows, understood, clean=decoded.plain and _is_clean(text, separator) and _are_short(lines)
    )
    if sheet is None:
        raise UnreadableError(f"{path}: holds no row; its first line must name the columns")
    if said:
        return replace(sheet, aside=(Aside(1, "separator", lines[0].strip()), *sheet.aside))
    return sheet


def _unwrapped(lines: list[str]) -> list[str]:
    """Return the lines without the quotation marks that a program put around each of them, or none."""
    cells = [line.rstrip("\r\n") for line in lines]
    if not all(len(cell) > 1 and cell[0] == cell[-1] == '"' for cell in cells if cell):
        return []
    if any('"' in cell[1:-1].replace('""', "") for cell in cells):
        return []
    opened = [cell[1:-1].replace('""', '"') + "\n" for cell in cells]
    return opened if find_separator(opened)[1] != NONE_NEEDED else []


def _refuse_many(path: Path, text: str) -> None:
    if text.count("\n") + text.count("\r") - text.count("\r\n") > limits.MOST_ROWS:
        raise UnreadableError(f"{path}: holds more than {limits.MOST_ROWS} lines; send it in parts")


def _refuse_long(path: Path, lines: list[str]) -> None:
    longest = max(map(len, lines), default=0)
    if longest > limits.LONGEST_LINE:
        at = next(at for at, line in enumerate(lines, start=1) if len(line) == longest)
        raise UnreadableError(
            f"{path}, line {at}: holds {longest} characters, more than the {limits.LONGEST_LINE} allowed; save it as "
            "CSV with a line for each row"
        )


def _line_ends(text: str) -> list[str]:
    pairs, returns, feeds = text.count("\r\n"), text.count("\r"), text.count("\n")
    alone = {"CR LF": pairs, "CR": returns - pairs, "LF": feeds - pairs}
    kinds = [kind for kind, count in alone.items() if count]
    if kinds == ["CR"]:
        return ["line ends: CR, as old Macs write them"]
    return [f"line ends: {' and '.join(kinds)}, each ends a line"] if len(kinds) > 1 else []


def _signs(lines: list[str], decoded: Decoded) -> list[str]:
    """Say on which lines signs were taken out or replaced, if there are any."""
    told = []
    if not decoded.text.isascii() and (found := [at for at, line in enumerate(lines, 1) if QUOTES.search(line)]):
        told.append(f"typographic quotation marks and apostrophes, read as plain ones: {lines_said(found)}")
    if not decoded.plain and (found := [at for at, line in enumerate(lines, 1) if CONTROL.search(line)]):
        told.append(f"signs that only steer machines, left out: {lines_said(found)}")
    return told


def _is_clean(text: str, separator: str) -> bool:
    """Tell quickly whether every cell is tidy already; False when it is not certain."""
    if '"' in text or "  " in text or f" {separator}" in text or f"{separator} " in text or " \n" in text:
        return False
    if "\n " in text or " \r" in text or "\r " in text or text[:1].isspace() or text[-1:] == " ":
        return False
    if separator != "\t" and "\t" in text:
        return False
    return text.isascii() or not QUOTES.search(text)


def _are_short(lines: list[str]) -> bool:
    return max(map(len, lines), default=0) <= limits.LONGEST_CELL

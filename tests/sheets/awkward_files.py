"""The corpus of awkward files: what is in each, and what a person would say that it means. Run to write ``corpus/``.

All horses are invented. The expectations are written by hand, none is copied from the reader's answers.
"""

from __future__ import annotations

import datetime as dt
import io
import json
import re
import zipfile
from pathlib import Path
from typing import Any

import openpyxl
from openpyxl.xml.constants import COREPROPS_NS, SHEET_MAIN_NS

CORPUS = Path(__file__).parent / "corpus"
HEADER = ["horse_id", "foot", "toe"]
TABLE = "horse_id;foot;toe\nH1;LF;52,5\nH2;RF;51,0\n"
ROWS = [[2, "H1", "LF", "52,5"], [3, "H2", "RF", "51,0"]]


def down(rows: list[list[Any]], by: int) -> list[list[Any]]:
    """Return the expected rows so many lines further down."""
    return [[row[0] + by, *row[1:]] for row in rows]


def as_expected(said: list[str], rows: list[list[Any]] | None = None, **more: Any) -> dict[str, Any]:
    """Return what must be understood of a file with one table."""
    return {"header": HEADER, "rows": ROWS if rows is None else rows, "said": said, **more}


def text_cases() -> dict[str, tuple[bytes, dict[str, Any]]]:
    """Return name to content and expectation of the files of text."""
    comma = 'horse_id,foot,toe\nH1,LF,"52,5"\nH2,RF,"51,0"\n'
    umlaut = TABLE.replace("H2", "Flöckchen")
    german = [ROWS[0], [3, "Flöckchen", "RF", "51,0"]]
    cases: dict[str, tuple[str | bytes, dict[str, Any]]] = {
        "utf8.csv": (umlaut, as_expected(["encoding: UTF-8", "separator: semicolon"], german)),
        "utf8-mark.csv": (umlaut.encode("utf-8-sig"), as_expected(["encoding: UTF-8"], german)),
        "utf16-little-mark.txt": (umlaut.encode("utf-16"), as_expected(["encoding: UTF-16"], german)),
        "utf16-big-mark.txt": (b"\xfe\xff" + umlaut.encode("utf-16-be"), as_expected(["encoding: UTF-16"], german)),
        "utf16-little.txt": (umlaut.encode("utf-16-le"), as_expected(["encoding: UTF-16, without a mark"], german)),
        "utf16-big.txt": (umlaut.encode("utf-16-be"), as_expected(["encoding: UTF-16, without a mark"], german)),
        "windows-1252.csv": (
            umlaut.encode("cp1252"),
            as_expected(["encoding: Windows-1252, because of line 3; read as 'Flöckchen'"], german),
        ),
        "mac-roman.csv": (
            umlaut.replace("\n", "\r").encode("mac_roman"),
            as_expected(["encoding: Mac Roman, because of line 3; read as 'Flöckchen'", "line ends: CR, as"], german),
        ),
        "dos-850.csv": (
            umlaut.replace("\n", "\r\n").encode("cp850"),
            as_expected(["encoding: DOS code page 850, because of line 3; read as 'Flöckchen'"], german),
        ),
        "quotation-marks-around-words.csv": (
            umlaut.replace("Flöckchen", "Müller’s „Flöckchen”").encode("cp1252"),
            as_expected(["encoding: Windows-1252, because of line 3"])
            | {"rows": [ROWS[0], [3, 'Müller\'s "Flöckchen"', "RF", "51,0"]]},
        ),
        "two-encodings.csv": (
            TABLE.encode() + "Flöckchen;LH;50\n".encode() + "Möwe;RH;49\n".encode("cp1252"),
            as_expected(
                ["encoding: Windows-1252, because of line 5; read as 'Möwe'; line 4 in UTF-8"],
                [*ROWS, [4, "Flöckchen", "LH", "50"], [5, "Möwe", "RH", "49"]],
            ),
        ),
        "comma.csv": (comma, as_expected(["separator: comma"])),
        "tab.txt": (TABLE.replace(";", "\t"), as_expected(["separator: tab"])),
        "bar.txt": (TABLE.replace(";", "|"), as_expected(["separator: vertical bar"])),
        "separator-said.csv": (
            "sep=;\n" + TABLE,
            as_expected(["separator: semicolon, as line 1 says"], down(ROWS, 1), aside=[[1, "separator"]]),
        ),
        "decimal-commas-everywhere.csv": (
            "horse_id;toe;heel\n1,5;2,5;3,5\n4,5;5,5;6,5\n",
            {
                "header": ["horse_id", "toe", "heel"],
                "rows": [[2, "1,5", "2,5", "3,5"], [3, "4,5", "5,5", "6,5"]],
                "said": ["separator: semicolon"],
            },
        ),
        "one-column.csv": (
            "horse_id\nH1\nH2\n",
            {"header": ["horse_id"], "rows": [[2, "H1"], [3, "H2"]], "said": ["separator: none needed"]},
        ),
        "mac-ends.csv": (TABLE.replace("\n", "\r"), as_expected(["line ends: CR, as old Macs write them"])),
        "mixed-ends.csv": (
            TABLE.replace("\n", "\r\n", 1) + "H3;LH;50\r",
            as_expected(["line ends: CR LF and CR and LF, each ends a line"], [*ROWS, [4, "H3", "LH", "50"]]),
        ),
        "no-last-end.csv": (TABLE.rstrip("\n"), as_expected([])),
        "end-of-file-sign.csv": (TABLE + "\x1a", as_expected([])),
        "titles.csv": (
            "Spring round;;\nYard: Oak;Anna;\n;;\n" + TABLE,
            as_expected(
                ["rows above the header, put aside: lines 1-2"],
                down(ROWS, 3),
                header_line=4,
                aside=[[1, "title"], [2, "title"], [3, "blank"]],
            ),
        ),
        "repeated-header.csv": (
            TABLE + "\nhorse_id;foot;toe\nH3;LH;50\n",
            as_expected(
                ["rows that repeat the header, put aside: line 5"],
                [*ROWS, [6, "H3", "LH", "50"]],
                aside=[[4, "blank"], [5, "repeated header"]],
            ),
        ),
        "blank-rows-and-columns.csv": (
            ";horse_id;;foot;toe;\n;;;;;\n;H1;;LF;52,5;\n;;;;;\n;H2;;RF;51,0;\n",
            as_expected(
                ["columns without name and cells, left out: 2"],
                [[3, "H1", "LF", "52,5"], [5, "H2", "RF", "51,0"]],
                positions=[2, 4, 5],
                aside=[[2, "blank"], [4, "blank"]],
            ),
        ),
        "totals-and-notes.csv": (
            TABLE
            + "Count;LH;50\nTotal;;103,5\nMean (n=2);;51,75\n\nAll feet measured before trimming by the same person\n",
            as_expected(
                ["rows that are totals, put aside: lines 5-6", "notes below the table, put aside: line 8"],
                [*ROWS, [4, "Count", "LH", "50"]],
                aside=[[5, "total"], [6, "total"], [7, "blank"], [8, "note"]],
            ),
        ),
        "a-horse-called-max.csv": (
            "horse_id;birth;height\nMax;2015;155\nN;2016;150\nMean;2015.5;152.5\nMax;2016;155\nCount: 2;;\n",
            {
                "header": ["horse_id", "birth", "height"],
                "rows": [[2, "Max", "2015", "155"], [3, "N", "2016", "150"]],
                "aside": [[4, "total"], [5, "total"], [6, "total"]],
                "said": ["rows that are totals, put aside: lines 4-6"],
            },
        ),
        "every-line-quoted.csv": (
            '"horse_id,foot,toe"\n"H1,LF,""52,5"""\n"H2,RF,""51,0"""\n',
            as_expected(["separator: comma, inside quotation marks around each line"]),
        ),
        "units-row.csv": (
            "horse_id;foot;toe\n;;(mm)\nH1;LF;52,5\nH2;RF;51,0\n",
            as_expected(
                ["a row of units, put aside: line 2"], down(ROWS, 1), aside=[[2, "units"]], units=["", "", "mm"]
            ),
        ),
        "same-header-twice.csv": (
            "horse_id;toe;toe\nH1;52,5;53\n",
            {
                "header": ["horse_id", "toe", "toe"],
                "rows": [[2, "H1", "52,5", "53"]],
                "said": ["headers that name several columns: 'toe'"],
            },
        ),
        "no-name.csv": (
            "horse_id;;foot;toe\nH1;bay;LF;52,5\n",
            {
                "header": ["horse_id", "", "foot", "toe"],
                "rows": [[2, "H1", "bay", "LF", "52,5"]],
                "said": ["columns without a name: column 2"],
            },
        ),
        "ragged.csv": (
            "horse_id,foot,toe\nH1,LF,52,5\nH2,RF\nH3,LH,50,,\n",
            as_expected(["separator: comma"], [[4, "H3", "LH", "50"]], ragged=[2, 3]),
        ),
        "line-breaks-inside.csv": (
            'horse_id;"foot\n";toe\n"H\n1";LF;"52,5"\nH2;RF;"51\r\n,0"\nH3;LH;50\n',
            as_expected([], [[3, "H 1", "LF", "52,5"], [5, "H2", "RF", "51 ,0"], [7, "H3", "LH", "50"]]),
        ),
        "prose-with-line-breaks.csv": (
            'horse_id,foot,toe\nH1,LF,"sore, warm, swollen\nsince, about, May"\nH2,RF,51\n',
            as_expected([], [[2, "H1", "LF", "sore, warm, swollen since, about, May"], [4, "H2", "RF", "51"]]),
        ),
        "quote-stands-alone.csv": (
            TABLE + '"Big" Ben;LH;50\nH4;RH;5"\nH5;LF;49\n',
            as_expected(
                ["rows with broken quotation marks: line 4"],
                [*ROWS, [5, "H4", "RH", '5"'], [6, "H5", "LF", "49"]],
                ragged=[4],
            ),
        ),
        "quote-never-closed.csv": (
            TABLE + '"H3;LH;50\nH4;RH;49\n"H5";LF;48\n',
            as_expected(
                ["rows with broken quotation marks: line 4"],
                [*ROWS, [5, "H4", "RH", "49"], [6, "H5", "LF", "48"]],
                ragged=[4],
            ),
        ),
        "quote-closed-rows-later.csv": (
            TABLE + 'H3;LH;"50\nH4;RH;49\nH5;LF;48"\nH6;RF;47\n',
            as_expected(
                ["rows with broken quotation marks: lines 4, 6"],
                [*ROWS, [5, "H4", "RH", "49"], [7, "H6", "RF", "47"]],
                ragged=[4, 6],
            ),
        ),
        "typographic-quotes.csv": (
            "horse_id;foot;toe\n“H1”;LF;52,5\nO’Hara;RF;51,0\n",
            as_expected(
                ["typographic quotation marks and apostrophes, read as plain ones: lines 2-3"],
                [ROWS[0], [3, "O'Hara", "RF", "51,0"]],
            ),
        ),
        "odd-blanks.csv": (
            "horse_id ;\u00a0foot;toe\u200b\n\u2003H1;LF\u202f;\u00a052,5\nH\u00ad2;RF;51,0\ufeff\n",
            as_expected([]),
        ),
        "machine-signs.csv": (
            TABLE.replace("H2", "H\x072"),
            as_expected(["signs that only steer machines, left out: line 3"]),
        ),
        "header-only.csv": (
            "horse_id;foot;toe\n",
            as_expected(["there is a header and no row of data below it"], []),
        ),
        "empty.csv": (b"", {"refused": "holds no row; its first line must name the columns"}),
        "blanks-only.csv": (b" \n;;\n\t\n", {"refused": "holds no row"}),
        "nul.csv": (b"horse_id;foot\nH1;\0\n", {"refused": "line 2: holds a NUL character"}),
        "neither-utf16-nor-text.txt": (umlaut.encode("utf-16-be")[:-1], {"refused": "line 1: holds a NUL character"}),
        "half-a-character.txt": (TABLE.encode("utf-16")[:-1], {"refused": "is marked as UTF-16, but byte"}),
        "header-quote-open.csv": (
            '"horse_id;foot;toe\nH1;LF;52\n',
            {"refused": "line 1: a quotation mark is never closed"},
        ),
        "letter.csv": (b"%PDF-1.7\n%rest", {"refused": "is a PDF; send the spreadsheet that it was made from"}),
        "page.xls": (b"<html><table><tr><td>H1</td></tr></table></html>", {"refused": "is a web page"}),
        "old.xls": (
            b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 600,
            {"refused": "of an older kind (.xls, .doc); open"},
        ),
        "locked.xlsx": (
            b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 600 + "EncryptedPackage".encode("utf-16-le"),
            {"refused": "protected by a password; take the password off"},
        ),
        "long-cell.csv": (
            TABLE + f"H3;LH;{'9' * 40_000}\n",
            {"refused": "line 4, column 3: the cell holds 40000 characters, more than the 32767 allowed"},
        ),
    }
    return {name: (own.encode() if isinstance(own, str) else own, told) for name, (own, told) in cases.items()}


def saved(book: openpyxl.Workbook) -> bytes:
    """Return a workbook's bytes, without the time of saving."""
    written = io.BytesIO()
    book.save(written)
    return repacked(written.getvalue(), {"docProps/core.xml": None})


def repacked(data: bytes, changes: dict[str, Any]) -> bytes:
    """Return an archive with some parts changed by a function, replaced, added, or emptied (None)."""
    written = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as source, zipfile.ZipFile(written, "w", zipfile.ZIP_DEFLATED) as target:
        for name in [*source.namelist(), *(name for name in changes if name not in source.namelist())]:
            old = source.read(name) if name in source.namelist() else b""
            change = changes.get(name, old)
            new = change(old) if callable(change) else change
            if name == "docProps/core.xml":
                new = f'<cp:coreProperties xmlns:cp="{COREPROPS_NS}"/>'.encode()
            target.writestr(zipfile.ZipInfo(name, (1980, 1, 1, 0, 0, 0)), new, zipfile.ZIP_DEFLATED)
    return written.getvalue()


def book_of(*rows: list[Any]) -> openpyxl.Workbook:
    """Return a workbook with one sheet called feet."""
    book = openpyxl.Workbook()
    book.active.title = "feet"
    for row in rows:
        book.active.append(row)
    return book


def result(cell: str, value: str, kind: str = "") -> Any:
    """Return a change that stores the result of a cell's formula."""

    def change(xml: bytes) -> bytes:
        text = re.sub(rf'(<c r="{cell}"[^>]*>)(<f>[^<]*</f>)<v ?/>', rf"\1\2<v>{value}</v>", xml.decode())
        return (text.replace(f'<c r="{cell}"', f'<c r="{cell}" t="{kind}"') if kind else text).encode()

    return change


FIRST = "xl/worksheets/sheet1.xml"
MAIN, STRICT = SHEET_MAIN_NS.encode(), b"http:" + b"//purl.oclc.org/ooxml/spreadsheetml/main"


def workbook_cases() -> dict[str, tuple[bytes, dict[str, Any]]]:
    """Return name to content and expectation of the workbooks."""
    return {
        **_value_cases(),
        **_layout_cases(),
        **_refused_workbooks(),
    }


def _value_cases() -> dict[str, tuple[bytes, dict[str, Any]]]:
    book = book_of(
        ["horse_id", "visit", "at", "toe", "heel", "sound", "share"],
        ["007", dt.datetime(2026, 4, 3), dt.time(14, 30), 52.5, "50,1", True, 0.05],
        ["H2", dt.datetime(2026, 4, 13, 9, 5), "noon", 1.234, 0.1 + 0.2, False, 0.125],
        ["H3", 46115, None, 51, "~50", None, None],
    )
    for row in (2, 3):
        book.active.cell(row, 7).number_format = "0.0%"
    values = saved(book)
    expected = {
        "sheet": "feet",
        "header": ["horse_id", "visit", "at", "toe", "heel", "sound", "share"],
        "rows": [
            [2, "007", "2026-04-03", "14:30:00", "52.5", "50,1", "TRUE", "5%"],
            [3, "H2", "2026-04-13 09:05:00", "noon", "1.2340", "0.3", "FALSE", "12.5%"],
            [4, "H3", "46115", "", "51", "~50", "", ""],
        ],
        "said": ["spreadsheet", "numbers shown as per cent, read with their sign: column 7"],
    }
    early = book_of(["horse_id", "visit"], ["H1", dt.datetime(2026, 4, 3)])
    early.epoch = openpyxl.utils.datetime.CALENDAR_MAC_1904
    errors = book_of(["horse_id", "toe", "heel"], ["H1", "#DIV/0!", 50], ["H2", "#N/A", 51], ["H3", 52, 49])
    formulas = book_of(["horse_id", "toe", "heel"], ["H1", "=2*26", "=C9"], ["H2", "=2*25", 51])
    counted = repacked(saved(formulas), {FIRST: lambda xml: result("C2", "", "str")(result("B2", "52")(xml))})
    unanswered = re.compile(rb'(<c r="B3"[^>]*>)(<f>[^<]*</f>)<v ?/>')
    counted = repacked(counted, {FIRST: lambda xml: unanswered.sub(rb"\1\2", xml)})
    return {
        "values.xlsx": (values, {"sheets": [expected]}),
        "days-from-1904.xlsx": (
            saved(early),
            {"sheets": [{"header": ["horse_id", "visit"], "rows": [[2, "H1", "2026-04-03"]], "date_system": 1904,
                         "said": ["days are counted from 1904, as the workbook says"]}]},
        ),
        "errors.xlsx": (
            saved(errors),
            {"sheets": [{"header": ["horse_id", "toe", "heel"],
                         "rows": [[2, "H1", "#DIV/0!", "50"], [3, "H2", "#N/A", "51"], [4, "H3", "52", "49"]],
                         "unread": [[2, 2, "error"]],
                         "said": ["cells that hold an error, so that their rows come back: line 2"]}]},
        ),
        "formulas.xlsx": (
            counted,
            {"sheets": [{"header": ["horse_id", "toe", "heel"],
                         "rows": [[2, "H1", "52", ""], [3, "H2", "=2*25", "51"]],
                         "unread": [[3, 2, "formula"]],
                         "said": ["formulas without a stored result, so that their rows come back: line 3"]}]},
        ),
    }  # fmt: skip


def _layout_cases() -> dict[str, tuple[bytes, dict[str, Any]]]:
    hidden = book_of(["Round one"], [], HEADER, ["H1", "LF", 52.5], ["H2", "RF", 51], ["H3", "LH", 50])
    hidden.active.merge_cells("A1:C1")
    hidden.active.merge_cells("A5:A6")
    hidden.active.row_dimensions[5].hidden = True
    hidden.active.column_dimensions["C"].hidden = True
    hidden.active["B6"].font = openpyxl.styles.Font(strike=True)
    secret = hidden.create_sheet("older")
    for row in (HEADER, ["H9", "LF", 49]):
        secret.append(row)
    secret.sheet_state = "hidden"
    hidden.create_sheet("Sheet3")
    legend = book_of(HEADER, ["H1", "LF", 52.5])
    words = legend.create_sheet("How to")
    for row in (["Please type one row for each foot that you measured"], ["LF", "left fore"], ["RF", "right fore"]):
        words.append(row)
    macros = repacked(saved(book_of(HEADER, ["H1", "LF", 52.5])), {"xl/vbaProject.bin": b"never run"})
    one = {"header": HEADER, "rows": [[2, "H1", "LF", "52.5"]]}
    return {
        "hidden-and-merged.xlsx": (
            saved(hidden),
            {"sheets": [
                {"sheet": "feet", "header": HEADER, "header_line": 3, "aside": [[1, "title"], [2, "blank"]],
                 "rows": [[4, "H1", "LF", "52.5"], [5, "H2", "RF", "51"], [6, "", "LH", "50"]],
                 "said": ["hidden rows, read like the others: line 5", "hidden columns, read like the others: column 3",
                          "merged cells, whose value counts for the first cell alone: 'A5:A6'",
                          "cells shown struck through, read like the others: line 6",
                          "sheets without a cell: 'Sheet3'"]},
                {"sheet": "older", "header": HEADER, "rows": [[2, "H9", "LF", "49"]],
                 "said": ["the sheet is hidden; it was read"]},
            ]},
        ),
        "legend.xlsx": (
            saved(legend),
            {"sheets": [one, {"sheet": "How to", "is_table": False, "said": ["spreadsheet"]}]},
        ),
        "macros.xlsm": (
            macros,
            {"sheets": [one | {"said": ["the workbook holds macros; they were not run"]}]},
        ),
        "workbook-by-another-name.csv": (saved(book_of(HEADER, ["H1", "LF", 52.5])), {"sheets": [one]}),
    }  # fmt: skip


def _refused_workbooks() -> dict[str, tuple[bytes, dict[str, Any]]]:
    plain = saved(book_of(HEADER, ["H1", "LF", 52.5]))
    entities = b'<!DOCTYPE x [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">]>'
    far = book_of(HEADER)
    far.active["ZZZ1"] = "far away"
    open_document = repacked(
        b"PK\x05\x06" + b"\0" * 18,
        {"mimetype": b"application/vnd.oasis.opendocument.spreadsheet", "content.xml": b"<x/>"},
    )
    return {
        "entities.xlsx": (
            repacked(plain, {FIRST: lambda xml: entities + xml}),
            {"refused": "its part 'xl/worksheets/sheet1.xml' declares entities"},
        ),
        "bomb.xlsx": (repacked(plain, {FIRST: b" " * 3_000_000}), {"refused": "unpacks to far more than it should"}),
        "path-inside.xlsx": (
            repacked(plain, {"../../outside.xml": b"<x/>"}),
            {"refused": "which leads out of the workbook"},
        ),
        "far-cell.xlsx": (saved(far), {"refused": "its cells reach row 1 and column 18278"}),
        "broken-sheet.xlsx": (
            repacked(plain, {FIRST: lambda xml: xml[:-40]}),
            {"refused": "no workbook that can be read"},
        ),
        "strict.xlsx": (
            repacked(
                plain,
                {"xl/workbook.xml": lambda xml: xml.replace(MAIN, STRICT)},
            ),
            {"refused": "is a 'Strict Open XML' workbook"},
        ),
        "one-place-twice.xlsx": (
            repacked(plain, {FIRST: lambda xml: xml.replace(b'r="B2"', b'r="A2"')}),
            {"refused": "sheet 'feet', row 2: stands there twice"},
        ),
        "half.xlsx": (plain[: len(plain) // 2], {"refused": "is a broken workbook"}),
        "no-cell.xlsx": (saved(book_of()), {"refused": "no sheet holds a cell"}),
        "open-document.xlsx": (open_document, {"refused": "is an OpenDocument file"}),
        "pages.numbers": (
            repacked(b"PK\x05\x06" + b"\0" * 18, {"Index/Document.iwa": b"x"}),
            {"refused": "is a Numbers file; export it"},
        ),
        "text.docx": (
            repacked(plain, {"word/document.xml": b"<x/>"}),
            {"refused": "is a text document; copy its table"},
        ),
        "several.zip": (
            repacked(b"PK\x05\x06" + b"\0" * 18, {"feet.csv": TABLE.encode()}),
            {"refused": "is a compressed file; unpack it"},
        ),
    }


def cases() -> dict[str, tuple[bytes, dict[str, Any]]]:
    """Return every file's name to its content and what must be understood of it."""
    return text_cases() | workbook_cases()


def main() -> None:
    """Write every file and, beside it, what must be understood of it."""
    CORPUS.mkdir(exist_ok=True)
    for name, (content, expected) in cases().items():
        (CORPUS / name).write_bytes(content)
        (CORPUS / f"{name}.expected.json").write_text(
            json.dumps(expected, ensure_ascii=False, indent=1) + "\n", "utf-8"
        )


if __name__ == "__main__":
    main()

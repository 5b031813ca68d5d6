"""Recognise by their first bytes the kinds of file that hold no table this program reads."""

from __future__ import annotations

AS_TABLE = "open it and save the table as .xlsx or CSV"
_STARTS = (
    (b"%PDF", "a PDF; send the spreadsheet that it was made from, as .xlsx or CSV"),
    (b"{\\rtf", f"a text document; {AS_TABLE}"),
    (b"\x89PNG", "an image; type the readings into the template"),
    (b"\xff\xd8\xff", "an image; type the readings into the template"),
    (b"GIF8", "an image; type the readings into the template"),
    (b"BM\x00", "an image; type the readings into the template"),
    (b"II*\x00", "an image; type the readings into the template"),
    (b"MM\x00*", "an image; type the readings into the template"),
    (b"\x1f\x8b", "a compressed file; unpack it and send what it holds"),
    (b"7z\xbc\xaf\x27\x1c", "a compressed file; unpack it and send what it holds"),
    (b"Rar!", "a compressed file; unpack it and send what it holds"),
    (b"BZh", "a compressed file; unpack it and send what it holds"),
    (b"\xfd7zXZ", "a compressed file; unpack it and send what it holds"),
    (b"SQLite format 3", "a database; export the table as CSV"),
    (b"PAR1", "a file for programs; export the table as CSV"),
    (b"\x09\x08", f"a spreadsheet of a very old kind; {AS_TABLE}"),
    (b"ID;P", f"a spreadsheet of an older kind (SYLK); {AS_TABLE}"),
)
_OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_PASSWORD = "EncryptedPackage".encode("utf-16-le")
_ZIPPED = (
    ("application/vnd.oasis.opendocument", f"an OpenDocument file (.ods or the like); {AS_TABLE}"),
    ("Index/Document.iwa", "a Numbers file; export it (File, Export To) as .xlsx or CSV"),
    ("index.apxl", "a Numbers file; export it (File, Export To) as .xlsx or CSV"),
    ("Index.zip", "a Numbers file; export it (File, Export To) as .xlsx or CSV"),
    ("word/document.xml", "a text document; copy its table into the template, or save it as CSV"),
    ("ppt/presentation.xml", "a presentation; send the table as .xlsx or CSV"),
    ("xl/workbook.bin", f"a binary workbook (.xlsb); {AS_TABLE}"),
)


def other_kind(data: bytes) -> str:
    """Return what a file is and what to do, when it is no text; empty when it may be text."""
    for start, told in _STARTS:
        if data.startswith(start):
            return told
    if data.startswith(_OLE[:4]):
        if _PASSWORD in data:
            return "protected by a password; take the password off (save it without one) and send it again"
        return f"a spreadsheet or document of an older kind (.xls, .doc); {AS_TABLE}"
    head = data[:2000].lstrip(b"\xef\xbb\xbf \t\r\n").lower()
    if head.startswith((b"<!doctype html", b"<html", b"<table")) or (head.startswith(b"<") and b"<html" in head):
        return f"a web page, whatever its name ends in; {AS_TABLE}"
    if head.startswith(b"<?xml"):
        return f"an XML file; {AS_TABLE}"
    return ""


def other_archive(names: list[str], mimetype: bytes) -> str:
    """Return what an archive is and what to do, when it is no .xlsx workbook.

    Parameters
    ----------
    names : list of str
        Its parts.
    mimetype : bytes
        What its part ``mimetype`` holds; empty when it has none.
    """
    for mark, told in _ZIPPED:
        if mark in names or mark.encode() in mimetype:
            return told
    if "[Content_Types].xml" not in names:
        return "a compressed file; unpack it and send what it holds, each as .xlsx or CSV by itself"
    return ""

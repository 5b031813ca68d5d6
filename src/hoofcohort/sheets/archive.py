"""The archive that a workbook is: its parts are looked at before anything in them is believed."""

from __future__ import annotations

import io
import zipfile
import zlib
from pathlib import Path, PurePosixPath

from hoofcohort.sheets import limits
from hoofcohort.sheets.errors import UnreadableError
from hoofcohort.sheets.kinds import other_archive

_BROKEN = "is a broken workbook; open it in a spreadsheet program and save it again"
_DECLARED = ("<!DOCTYPE", "<!ENTITY")
_ENCODED = tuple(mark.encode(codec) for mark in _DECLARED for codec in ("ascii", "utf-16-le", "utf-16-be"))
_BEFORE_XML = b"\xef\xbb\xbf \t\r\n"
_STRICT = b"purl.oclc.org/ooxml/spreadsheetml/main"
"""Namespace of the strict variant of the format (ISO/IEC 29500, from memory)."""
FAULTS = (zipfile.BadZipFile, zlib.error, ValueError, NotImplementedError, RuntimeError, EOFError, OSError)
"""What reading a broken archive raises."""


def check_archive(path: Path, data: bytes) -> tuple[str, ...]:
    """Refuse an archive that is no workbook or is made to do harm.

    Parameters
    ----------
    path : Path
    data : bytes

    Returns
    -------
    tuple of str
        What is not read of it, in sentences: macros, links to other files.

    Raises
    ------
    UnreadableError
        For another kind of archive, a broken or encrypted one, too many or too large parts, parts with names that lead
        out of it, and parts that declare entities.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            parts = archive.infolist()
            _check_sizes(path, parts)
            names = [part.filename for part in parts]
            mimetype = archive.read("mimetype")[:200] if "mimetype" in names else b""
            if told := other_archive(names, mimetype):
                raise UnreadableError(f"{path}: is {told}")
            _check_names(path, names)
            _check_elements(path, sum(_elements(path, archive, part) for part in parts))
    except FAULTS:
        raise UnreadableError(f"{path}: {_BROKEN}") from None
    return _said(names)


def _check_sizes(path: Path, parts: list[zipfile.ZipInfo]) -> None:
    if any(part.flag_bits & 1 for part in parts):
        raise UnreadableError(f"{path}: is protected by a password; take it off and send the file again")
    large = [
        part
        for part in parts
        if part.file_size > 1_000_000 and part.file_size > limits.LARGEST_RATIO * max(part.compress_size, 1)
    ]
    if large or sum(part.file_size for part in parts) > limits.LARGEST_UNPACKED or len(parts) > limits.MOST_PARTS:
        raise UnreadableError(f"{path}: unpacks to far more than it should; save the table as CSV")


def _check_names(path: Path, names: list[str]) -> None:
    for name in names:
        pure = PurePosixPath(name.replace("\\", "/"))
        if pure.is_absolute() or ".." in pure.parts or ":" in pure.parts[:1] or not name.isprintable():
            raise UnreadableError(
                f"{path}: a part of it is named '{name[:80].encode('unicode_escape').decode()}', which leads out "
                "of the workbook; open it in a spreadsheet program and save it again"
            )
    if len(set(names)) < len(names):
        raise UnreadableError(f"{path}: holds two parts of one name; save it again in a spreadsheet program")


def _check_elements(path: Path, count: int) -> None:
    if count > limits.MOST_ELEMENTS:
        raise UnreadableError(f"{path}: is too large for a workbook; save each table as CSV")


def _elements(path: Path, archive: zipfile.ZipFile, part: zipfile.ZipInfo) -> int:
    """Unpack a part whole, so that its checksum is tested, and count its elements if it is XML, whatever its name.

    Declarations of entities are refused, and the variant of the format that the library cannot read.
    """
    content = archive.read(part)
    if any(mark in content for mark in _ENCODED):
        raise UnreadableError(
            f"{path}: its part '{part.filename}' declares entities, which no spreadsheet program writes; save it again"
        )
    if part.filename == "xl/workbook.xml" and _STRICT in content:
        raise UnreadableError(f"{path}: is a 'Strict Open XML' workbook; save it as the usual kind of .xlsx")
    named = part.filename.lower().endswith((".xml", ".rels"))
    return content.count(b"<") if named or content.lstrip(_BEFORE_XML).startswith(b"<") else 0


def _said(names: list[str]) -> tuple[str, ...]:
    told = []
    if any(name.lower().endswith("vbaproject.bin") for name in names):
        told.append("the workbook holds macros; they were not run")
    if any(name.startswith("xl/externalLinks/") for name in names):
        told.append("the workbook links to other files; they were not looked at, the values stored in this one count")
    return tuple(told)

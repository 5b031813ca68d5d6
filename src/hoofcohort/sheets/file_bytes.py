"""A file's bytes, if it is an ordinary file of a reasonable size with an ordinary name."""

from __future__ import annotations

import os
import stat
from pathlib import Path

from hoofcohort.sheets.errors import UnreadableError
from hoofcohort.sheets.limits import LARGEST_FILE

_FLAGS = os.O_RDONLY | getattr(os, "O_BINARY", 0) | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0)
"""Neither follow a link nor wait for a pipe's other end."""


def bytes_of(path: Path) -> bytes:
    """Read a file.

    Raises
    ------
    UnreadableError
        When there is no file, its name cannot be printed, it is a link, a pipe, a device or a folder, or too large.
    """
    if not path.name.isprintable() or "\\" in path.name:
        raise UnreadableError(f"{plain_name(path)}: its name holds signs that no file's name should; rename the file")
    try:
        if path.is_symlink():
            raise UnreadableError(f"{path}: is a link to another file; put the file itself there")
        handle = os.open(path, _FLAGS)
    except FileNotFoundError:
        raise UnreadableError(f"{path}: there is no such file; check the name and the folder") from None
    except (OSError, ValueError) as error:
        raise _unreadable(path, error) from None
    try:
        return _all(path, handle)
    except OSError as error:
        raise _unreadable(path, error) from None
    finally:
        os.close(handle)


def plain_name(path: Path) -> str:
    """Return a file's name without signs that cannot be printed."""
    return "".join(sign if sign.isprintable() else "?" for sign in path.name)


def _unreadable(path: Path, error: Exception) -> UnreadableError:
    return UnreadableError(f"{path}: cannot be read ({getattr(error, 'strerror', None) or error})")


def _all(path: Path, handle: int) -> bytes:
    found = os.fstat(handle)
    if stat.S_ISDIR(found.st_mode):
        raise UnreadableError(f"{path}: is a folder; name the file in it")
    if not stat.S_ISREG(found.st_mode):
        raise UnreadableError(f"{path}: is no ordinary file but a pipe or a device; save the table as .xlsx or CSV")
    with os.fdopen(os.dup(handle), "rb") as stream:
        data = stream.read(LARGEST_FILE + 1)
    if len(data) > LARGEST_FILE:
        size = max(found.st_size, len(data))
        raise UnreadableError(f"{path}: holds {size} bytes, more than the {LARGEST_FILE} allowed; send it in parts")
    return data

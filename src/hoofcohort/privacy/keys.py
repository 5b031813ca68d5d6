"""The secret key from which pseudonyms are made: a file of its own, readable by its owner alone."""

from __future__ import annotations

import os
import re
import secrets
import stat
from collections.abc import Iterable
from pathlib import Path

from hoofcohort.errors import InputError
from hoofcohort.tables import TABLES

KEY_BYTES = 32
"""Bytes of a new key and the fewest of any: the length of SHA-256's output, as RFC 2104 asks of an HMAC key."""
FEWEST_DIFFERENT = 8
"""A key with fewer different bytes was typed, not drawn; the project's own limit, no source."""
_DATA = (*(f"{table}.csv" for table in TABLES), "ledger.json", "consent.csv", "mapping.yaml")
"""Files by which a folder of tables or an inbox is known."""
_SENT = ("*/*/mapping.yaml", "*/*/*.mapping.yaml")
"""Mappings of members in the rounds of an inbox."""
_AROUND = 3
"""Folders looked at, from the key's own outwards: a member's, its round's and the inbox."""
_OTHERS = stat.S_IRWXG | stat.S_IRWXO


def new_key(path: str | Path) -> None:
    """Draw a key and write it to a new file that only its owner can read.

    Raises
    ------
    InputError
        When there is a file already: a key that is written over cannot be had back. When it
        would lie in a folder of data.
    """
    place = Path(path)
    around = place.resolve().parents
    deep = [folder for folder in around[:1] if any(next(folder.glob(sent), None) for sent in _SENT)]
    refuse_key_inside(place, [*deep, *filter(_holds_data, around[:_AROUND])])
    try:
        handle = os.open(place, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        raise InputError(
            f"{place}: is there already; a new key would make its pseudonyms useless: name another file"
        ) from None
    except FileNotFoundError:
        raise InputError(
            f"{place}: its folder does not exist; make the folder first, away from data and results"
        ) from None
    try:
        with os.fdopen(handle, "w", encoding="ascii") as file:
            file.write(secrets.token_hex(KEY_BYTES) + "\n")
            file.flush()
            os.fsync(file.fileno())
    except BaseException:
        place.unlink(missing_ok=True)
        raise


def _holds_data(folder: Path) -> bool:
    named = any((folder / name).is_file() for name in _DATA)
    return named or next(folder.glob("*.mapping.yaml"), None) is not None


def read_key(path: str | Path) -> bytes:
    """Read a key.

    Returns
    -------
    bytes
        At least 32.

    Raises
    ------
    InputError
        When it is no key, is too short or too plain, or others may read the file.
    """
    place = Path(path)
    try:
        text = place.read_bytes().strip()
    except FileNotFoundError:
        raise InputError(f"{place}: no such key; make one with: hoofcohort pseudonymise --new-key {place}") from None
    if os.name == "posix" and place.stat().st_mode & _OTHERS:
        raise InputError(f"{place}: others than its owner may read it; run: chmod 600 {place}")
    if len(text) % 2 or not re.fullmatch(rb"[0-9A-Fa-f]+", text):
        raise InputError(f"{place}: is no key: one line of hexadecimal digits, as --new-key writes it")
    key = bytes.fromhex(text.decode("ascii"))
    if len(key) < KEY_BYTES:
        raise InputError(f"{place}: {len(key)} bytes; a key has {KEY_BYTES} or more: make one with --new-key")
    if len(set(key)) < FEWEST_DIFFERENT:
        raise InputError(f"{place}: was not drawn at random; make a key with --new-key")
    return key


def refuse_key_inside(key: str | Path, folders: Iterable[str | Path]) -> None:
    """Refuse a key that lies in a folder of data or results, where it would be sent along one day.

    Raises
    ------
    InputError
    """
    for folder in folders:
        if Path(key).resolve().is_relative_to(Path(folder).resolve()):
            raise InputError(f"{key}: the key lies inside {folder}, with which it may be sent along; keep it elsewhere")

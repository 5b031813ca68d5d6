"""Keyed pseudonyms: the same name gives the same pseudonym, and without the key nobody can find one from the other."""

from __future__ import annotations

import base64
import hashlib
import hmac
import re

from hoofcohort.privacy.owners import folded

LETTERS = {
    "horse": "H",
    "yard": "Y",
    "owner": "W",
    "observer": "O",
    "farrier": "F",
    "member": "M",
    "file": "D",
    "sheet": "S",
}
"""What can be named, and how its pseudonyms begin. People known by two roles have two unconnected pseudonyms."""
BYTES = 10
"""Of the digest, kept in a pseudonym: 80 bits, so that a million names collide with a chance below 1e-12."""
CODE = BYTES * 8 // 5
"""Letters and digits of a pseudonym after its first letter and the hyphen."""
PATTERN = re.compile(rf"[{''.join(LETTERS.values())}]-[A-Z2-7]{{{CODE}}}")
_CONTEXT = b"hoofcohort pseudonym 1"


class Pseudonyms:
    """Pseudonyms under one key: HMAC-SHA256 of kind and name, its first 80 bits in base32.

    Parameters
    ----------
    key : bytes
    """

    def __init__(self, key: bytes) -> None:
        self._key = key
        self._made: dict[tuple[str, str], str] = {}
        self._names: dict[str, str] = {}

    def of(self, kind: str, name: str) -> str:
        """Return a name's pseudonym.

        Parameters
        ----------
        kind : str
            One of ``LETTERS``.
        name : str
            As the intake takes it: letter for letter, without blanks around it; an owner's also without what makes no
            difference (``owners.folded``), so that one owner has one pseudonym however spelt.

        Raises
        ------
        RuntimeError
            When two names have one pseudonym.
        """
        held = (kind, folded(name) if kind == "owner" else name.strip())
        if held not in self._made:
            made = self._make(*held)
            if self._names.setdefault(made, held[1]) != held[1]:
                raise RuntimeError(f"two names of one {kind} have the same pseudonym; make a new key")
            self._made[held] = made
        return self._made[held]

    def _make(self, kind: str, name: str) -> str:
        message = b"\0".join((_CONTEXT, kind.encode(), name.encode()))
        digest = hmac.new(self._key, message, hashlib.sha256).digest()
        return f"{LETTERS[kind]}-{base64.b32encode(digest[:BYTES]).decode('ascii')}"

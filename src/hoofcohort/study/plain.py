"""Results as plain numbers and words, ready for a JSON file."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any


def plain(value: Any) -> Any:
    """Return a value made of dicts, lists, text, numbers and None alone; NaN and infinity become None."""
    if isinstance(value, str) or value is None or isinstance(value, bool):
        return value
    if isinstance(value, Mapping):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, Sequence):
        return [plain(item) for item in value]
    if hasattr(value, "tolist"):
        return plain(value.tolist())
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value

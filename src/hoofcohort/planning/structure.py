"""Tell pydantic's faults in the reader's words, and mend the value so that its meaning can still be checked."""

from __future__ import annotations

from collections.abc import Mapping
from copy import deepcopy
from difflib import get_close_matches
from typing import Any, Literal, TypeVar, get_args, get_origin

from annotated_types import Ge, Gt, Le, Lt
from pydantic import BaseModel, ValidationError

from hoofcohort.errors import nearest
from hoofcohort.planning.faults import Fault, Where, found, not_allowed

Model = TypeVar("Model", bound=BaseModel)

STAND_IN = "?"
IN_LISTS: Mapping[str, Any] = {
    "interactions": [],
    "knots_at": 0.0,
    "values": 0.0,
    "contrasts": {"name": STAND_IN, "exposure": STAND_IN, "weights": {}},
}
"""What stands in for an item of a list that is not one of text, by the list's key."""
KINDS = {
    "string": "text (in quotes, where YAML reads it as something else)",
    "int": "a whole number",
    "float": "a number",
    "finite_number": "a finite number",
    "bool": "true or false",
    "list": "a list in brackets, such as [a, b]",
    "dict": "a group of keys",
    "model": "a group of keys",
    "value_error": "a date of the calendar, YYYY-MM-DD",
}


def structure(model: type[Model], value: Any, stand_ins: Mapping[str, Any]) -> tuple[Model | None, list[Fault]]:
    """Validate a value's structure and mend what is wrong.

    Parameters
    ----------
    model : type
        The model of the whole file.
    value : object
        The file's content.
    stand_ins : mapping
        For the name of each required key, a value that passes.

    Returns
    -------
    model or None
        The value as a model, each faulty part left out or replaced; None when that was not possible.
    list of Fault
        All faults of structure.
    """
    mended = deepcopy(value)
    faults: dict[Where, Fault] = {}
    for attempt in range(8):
        try:
            return model.model_validate(mended), list(faults.values())
        except ValidationError as error:
            errors = error.errors(include_url=False)
        renamed = _rename_near_misses(model, mended, errors)
        for entry in errors:
            where = _where(entry)
            follows = attempt > 0 and any(known[: len(where)] == where for known in faults)
            if where not in renamed and not follows and not any(where[: len(known)] == known for known in faults):
                faults[where] = Fault(
                    where, _text(model, where, entry), entry["type"] in ("extra_forbidden", "invalid_key")
                )
        for entry in errors:
            if _where(entry) not in renamed:
                _mend(mended, _where(entry), entry["type"], stand_ins)
    return None, list(faults.values())


def annotation_at(model: type[BaseModel], where: Where) -> tuple[Any, list[Any], str]:
    """Return type, limits and description of what stands at a place of a model."""
    current: Any = model
    limits: list[Any] = []
    description = ""
    for part in where:
        if isinstance(current, type) and issubclass(current, BaseModel):
            field = current.model_fields.get(str(part))
            if field is None:
                return None, [], ""
            current, limits, description = field.annotation, list(field.metadata), field.description or ""
        elif get_origin(current) in (dict, list):
            current, limits = get_args(current)[-1], []
        current, more = _bare(current)
        limits = limits + more
    return current, limits, description


def keys_of(model: type[BaseModel], where: Where) -> list[str]:
    """Return the keys that may stand in the group at a place."""
    group = annotation_at(model, where)[0] if where else model
    return list(group.model_fields) if isinstance(group, type) and issubclass(group, BaseModel) else []


def range_text(limits: list[Any]) -> str:
    """Return ``from 1 to 1095`` for a field's limits; empty when it has none."""
    words = []
    for limit in limits:
        if isinstance(limit, Ge):
            words.append(f"from {limit.ge}")
        elif isinstance(limit, Gt):
            words.append(f"above {limit.gt}")
        elif isinstance(limit, Le):
            words.append(f"to {limit.le}")
        elif isinstance(limit, Lt):
            words.append(f"below {limit.lt}")
    return " ".join(words)


def choices(annotation: Any) -> list[str]:
    """Return the words of a ``Literal``; empty for any other type."""
    return list(get_args(annotation)) if get_origin(annotation) is Literal else []


def _bare(annotation: Any) -> tuple[Any, list[Any]]:
    """Take ``Annotated`` and ``| None`` off a type."""
    limits: list[Any] = []
    while True:
        if hasattr(annotation, "__metadata__"):
            for item in annotation.__metadata__:
                limits += getattr(item, "metadata", None) or [item]
            annotation = get_args(annotation)[0]
        elif type(None) in get_args(annotation):
            annotation = next(kind for kind in get_args(annotation) if kind is not type(None))
        else:
            return annotation, limits


def _where(entry: Any) -> Where:
    where = tuple(part for part in entry["loc"] if part != "[key]")
    key_is_no_text = entry["type"] == "invalid_key" or len(where) < len(entry["loc"])
    return (*where[:-1], str(where[-1])) if key_is_no_text else where


def _text(model: type[BaseModel], where: Where, entry: Any) -> str:
    kind, value = entry["type"], entry["input"]
    annotation, limits, description = annotation_at(model, where)
    if kind in ("extra_forbidden", "invalid_key"):
        allowed = keys_of(model, where[:-1])
        return f"unknown key; correct or remove it; allowed: {', '.join(allowed)}{nearest(str(where[-1]), allowed)}"
    if kind == "missing":
        return f"missing; add it: {description}"
    if kind == "literal_error":
        return not_allowed(value, choices(annotation))
    if kind in ("greater_than", "greater_than_equal", "less_than", "less_than_equal"):
        return f"found {found(value)}; allowed: {range_text(limits)}"
    if kind == "string_pattern_mismatch":
        return f"found {found(value)}; allowed: small letters, digits and hyphens, beginning with a letter or a digit"
    if kind in ("string_too_short", "too_short"):
        return f"found nothing in it; fill it in: {description}"
    if kind == "list_type" and where[-2:-1] == ("interactions",):
        return f"found {found(value)}; it must be a pair in brackets of its own, such as [[diet, fore_hind]]"
    expected = KINDS.get(kind.removesuffix("_type").removesuffix("_from_float"))
    return f"found {found(value)}; it must be {expected}" if expected else f"found {found(value)}: {entry['msg']}"


def _rename_near_misses(model: type[BaseModel], value: Any, errors: list[Any]) -> set[Where]:
    """Give misspelt keys their right names, so that what is below them is checked too; return those names' places."""
    renamed: set[Where] = set()
    for entry in errors:
        where = _where(entry)
        group = _at(value, where[:-1])
        if entry["type"] != "extra_forbidden" or not isinstance(group, dict):
            continue
        free = [key for key in keys_of(model, where[:-1]) if key not in group]
        match = get_close_matches(str(where[-1]), free, n=1)
        if match:
            group[match[0]] = group.pop(where[-1])
            renamed.add((*where[:-1], match[0]))
    return renamed


def _at(value: Any, where: Where) -> Any:
    for part in where:
        try:
            value = value[part]
        except (KeyError, IndexError, TypeError):
            return None
    return value


def _mend(value: Any, where: Where, kind: str, stand_ins: Mapping[str, Any]) -> None:
    """Leave out, or replace by a stand-in, what is faulty at a place."""
    value = _at(value, where[:-1])
    last = where[-1] if where else None
    if isinstance(value, list) and isinstance(last, int) and last < len(value):
        value[last] = deepcopy(IN_LISTS.get(str(where[-2]), STAND_IN))
    elif isinstance(value, dict) and kind == "model_type" and where[-2:-1] in (("outcomes",), ("exposures",)):
        value[last] = deepcopy(next(iter(stand_ins[str(where[-2])].values())))
    elif isinstance(value, dict) and kind == "missing":
        value[last] = deepcopy(stand_ins.get(str(last), STAND_IN))
    elif isinstance(value, dict):
        for key in [key for key in value if key == last or str(key) == last]:
            del value[key]


def overlaps(fault: Fault, faults: list[Fault]) -> bool:
    """Tell whether a fault may only follow from one of others: it stands at, below or, unless about a key, above it."""
    for other in faults:
        shared = min(len(fault.where), len(other.where))
        above = len(fault.where) < len(other.where)
        if fault.where[:shared] == other.where[:shared] and not (above and (fault.about_key or other.about_key)):
            return True
    return False

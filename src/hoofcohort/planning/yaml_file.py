"""Read a YAML file safely: no tags, no code; duplicate keys are noticed; every key's line is known."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import yaml

from hoofcohort.errors import PlanError
from hoofcohort.planning.faults import Fault, Where


class Loader(yaml.SafeLoader):
    """The safe loader, except that a date stays text: an impossible one is then a fault of its key, with its place."""


Loader.yaml_implicit_resolvers = {
    first: [entry for entry in entries if entry[0] != "tag:yaml.org,2002:timestamp"]
    for first, entries in yaml.SafeLoader.yaml_implicit_resolvers.items()
}


@dataclass(frozen=True)
class Document:
    """What a YAML file says.

    Attributes
    ----------
    path : str
        As the user named it.
    value : dict
        The file's content.
    lines : dict
        Line, from 1, of each key and list item by its place.
    duplicates : list of Fault
        Keys that stand twice in one group: YAML would silently keep the last.
    """

    path: str
    value: dict
    lines: dict[Where, int]
    duplicates: list[Fault]

    def describe(self, faults: Sequence[Fault]) -> list[str]:
        """Return one line of text per fault, with the file and the line, in the file's order."""
        told = sorted((self._line(fault), str(fault)) for fault in faults)
        return [f"{self.path}: {f'line {line}: ' if line else ''}{text}" for line, text in told]

    def _line(self, fault: Fault) -> int:
        where = fault.where
        while where and where not in self.lines:
            where = where[:-1]
        return self.lines.get(where, 0)


def read_yaml(path: str | Path) -> Document:
    """Read a YAML file whose top is a group of keys.

    Raises
    ------
    PlanError
        When the file cannot be read, is not YAML (with the line), or is not a group of keys.
    """
    text = _text(path)
    try:
        node, value = _parse(text)
    except yaml.YAMLError as error:
        raise PlanError(f"{path}: {_syntax(error)}") from None
    except (ValueError, RecursionError) as error:
        raise PlanError(f"{path}: not readable as YAML: {error}") from None
    if not isinstance(value, dict):
        raise PlanError(f"{path}: line 1: the file must be a group of keys, such as 'study: my-study'")
    lines: dict[Where, int] = {}
    duplicates: list[Fault] = []
    for where, line, repeated in _walk(node):
        if repeated:
            first = lines[where]
            duplicates.append(
                Fault(where, f"the key stands twice, in lines {first} and {line}; keep one of them", about_key=True)
            )
        lines.setdefault(where, line)
    return Document(str(path), value, lines, duplicates)


def _parse(text: str) -> tuple[yaml.Node | None, Any]:
    loader = Loader(text)
    try:
        node = loader.get_single_node()
        return node, None if node is None else loader.construct_document(node)
    finally:
        loader.dispose()


def _text(path: str | Path) -> str:
    try:
        return Path(path).read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        raise PlanError(f"{path}: no such file; give the path from the folder in which you start the command") from None
    except UnicodeDecodeError as error:
        raise PlanError(f"{path}: not UTF-8 text (byte {error.start + 1}); save the file as UTF-8") from None
    except OSError as error:
        raise PlanError(f"{path}: cannot be read: {error.strerror}") from None


def _syntax(error: yaml.YAMLError) -> str:
    mark = getattr(error, "problem_mark", None)
    problem = getattr(error, "problem", None) or getattr(error, "reason", None) or str(error)
    place = f"line {mark.line + 1}, column {mark.column + 1}: " if mark else ""
    return f"{place}not valid YAML: {problem}; check indentation, colons, quotes and brackets here and just above"


def _walk(node: yaml.Node | None) -> Iterator[tuple[Where, int, bool]]:
    """Yield place, line and whether the key is a repetition; a node that is used again by alias is entered once."""
    waiting: list[tuple[Where, yaml.Node | None]] = [((), node)]
    entered: set[int] = set()
    while waiting:
        where, node = waiting.pop()
        if node is None or id(node) in entered:
            continue
        entered.add(id(node))
        if isinstance(node, yaml.MappingNode):
            seen: set[str] = set()
            for key, child in node.value:
                place = (*where, str(key.value))
                yield place, key.start_mark.line + 1, place[-1] in seen
                seen.add(str(key.value))
                waiting.append((place, child))
        elif isinstance(node, yaml.SequenceNode):
            for number, child in enumerate(node.value):
                yield (*where, number), child.start_mark.line + 1, False
                waiting.append(((*where, number), child))

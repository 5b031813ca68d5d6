"""Portable statistics as a JSON text that anyone can read before it leaves the house."""

from __future__ import annotations

import hashlib
import json
from typing import Any

import numpy as np
from numpy.typing import NDArray

from hoofcohort.errors import InputError
from hoofcohort.models.portable import Cell, Members, PortableStatistics
from hoofcohort.models.specification import Specification

Array = NDArray[np.floating]
FORMAT = "hoofcohort statistics 1"


def statistics_text(portable: PortableStatistics) -> str:
    """Return the text of a statistics file: one part a line, every number with all its digits."""
    content = _content(portable)
    parts = list(portable.parts) or [hashlib.sha256(_text(content).encode()).hexdigest()]
    return _text({**content, "parts": parts})


def specification_text(specification: Specification) -> str:
    """Return the text of a file that holds a specification and no statistics."""
    return _text({"format": FORMAT, "specification": specification.to_dict()})


def read_statistics(text: str) -> PortableStatistics:
    """Read a statistics file's text.

    Raises
    ------
    InputError
        When it is not one, or something in it does not fit together.
    """
    content = _parsed(text)
    if "within" not in content:
        raise InputError("holds a specification and no statistics; make them with 'hoofcohort statistics-make'")
    specification = Specification.from_dict(content["specification"])
    try:
        found = _built(content, specification)
        _check(found)
    except (AttributeError, IndexError, KeyError, TypeError, ValueError, OverflowError) as error:
        reason = f"{type(error).__name__}: {error}"
        raise InputError(f"is damaged: its statistics do not fit together ({reason}); ask for it again") from error
    return found


def read_specification(text: str) -> Specification:
    """Read the specification alone, from a file of either kind.

    Raises
    ------
    InputError
        When the text is neither.
    """
    return Specification.from_dict(_parsed(text)["specification"])


def _parsed(text: str) -> dict[str, Any]:
    try:
        content = json.loads(text)
    except ValueError as error:
        raise InputError(f"is not a statistics file: not JSON ({error})") from error
    if not isinstance(content, dict) or content.get("format") != FORMAT or "specification" not in content:
        raise InputError(f"is not a statistics file: its format is not '{FORMAT}'")
    return content


def _text(content: dict[str, Any]) -> str:
    lines = [f"{json.dumps(key)}: {_value(value)}" for key, value in content.items()]
    return "{\n" + ",\n".join(lines) + "\n}\n"


def _value(value: Any) -> str:
    """Return a value's JSON; a list of parts has one part a line."""
    if isinstance(value, list) and value and isinstance(value[0], dict):
        return "[\n" + ",\n".join(_value(part) for part in value) + "\n]"
    return json.dumps(value, ensure_ascii=False, allow_nan=False)


def _content(portable: PortableStatistics) -> dict[str, Any]:
    members = portable.members
    return {
        "format": FORMAT,
        "specification": portable.specification.to_dict(),
        "rows": portable.rows,
        "rows_dropped": portable.rows_dropped,
        "animals": portable.animals,
        "animals_left_out": portable.left_out,
        "minimum": portable.minimum,
        "fewest_animals_in_a_cell": int(portable.counted().min()),
        "animals_per_word": dict(portable.words),
        "within": portable.within.tolist(),
        "column_sums": portable.column_sums.tolist(),
        "variable_sums": {name: sums.tolist() for name, sums in portable.variable_sums.items()},
        "cells": [
            {
                "groups": list(cell.used),
                "blocks": cell.blocks,
                "counts": cell.counts.astype(int).tolist(),
                "factor": cell.sums.tolist(),
            }
            for cell in portable.cells
        ],
        "members": [
            {"cell": int(cell), "blocks": int(blocks), "sums": sums.tolist()}
            for cell, blocks, sums in zip(members.cell, members.count, members.sums, strict=True)
        ],
        "levels_above": [parents.tolist() for parents in members.parents],
    }


def _built(content: dict[str, Any], specification: Specification) -> PortableStatistics:
    cells = tuple(
        Cell(
            tuple(int(count) for count in own["groups"]), np.array(own["counts"], float), int(own["blocks"]),
            np.array(own["factor"], float),
        )
        for own in content["cells"]
    )  # fmt: skip
    members = Members(
        np.array([own["cell"] for own in content["members"]], np.int64),
        np.array([own["blocks"] for own in content["members"]], np.int64),
        [np.array(own["sums"], float) for own in content["members"]],
        tuple(np.array(parents, np.int64) for parents in content["levels_above"]),
    )
    return PortableStatistics(
        specification, int(content["rows"]), int(content["rows_dropped"]), int(content["animals"]),
        int(content["animals_left_out"]), int(content["minimum"]),
        {str(name): int(count) for name, count in content["animals_per_word"].items()},
        np.array(content["within"], float), np.array(content["column_sums"], float),
        {str(name): np.array(sums, float) for name, sums in content["variable_sums"].items()}, cells, members,
        tuple(str(part) for part in content["parts"]),
    )  # fmt: skip


def _check(portable: PortableStatistics) -> None:
    """Refuse, by an error that names it, what no statistics could hold."""
    columns, members = len(portable.specification.centre), portable.members
    _require(portable.within.shape == (columns, columns), "shape of within")
    _require(portable.column_sums.shape == (columns,), "length of column_sums")
    _require(len(portable.cells) > 0, "no cell")
    for cell in portable.cells:
        size = sum(cell.used)
        _require(len(cell.used) == len(portable.inside) and cell.used[0] == 1 and min(cell.used) >= 1, "groups")
        _require(cell.counts.shape == (size, size) and bool((cell.counts == cell.counts.T).all()), "counts of a cell")
        _require(bool((cell.counts >= 0).all() and (np.diag(cell.counts) > 0).all()), "counts of a cell")
        _require(cell.blocks > 0, "blocks of a cell")
        _require(cell.sums.shape[1:] == (size, columns) and len(cell.sums) > 0, "factor of a cell")
    held = sum(cell.blocks * cell.counts[0, 0] for cell in portable.cells)
    _require(held == portable.rows, "rows and the counts of the cells")
    _require(len(members.parents) == portable.specification.block_level, "levels_above")
    _require(bool((members.cell >= 0).all() and (members.count > 0).all()), "members")
    for sums, position in zip(members.sums, members.cell, strict=True):
        _require(sums.shape == portable.cells[position].sums.shape[1:], "sums of a member")
    if members.parents:
        blocks = np.bincount(members.cell, members.count, len(portable.cells))
        _require(blocks.tolist() == [cell.blocks for cell in portable.cells], "blocks of cells and members")
    below = len(members.cell)
    for parents in members.parents:
        _require(len(parents) == below and parents[0] == 0 and set(np.diff(parents)) <= {0, 1}, "levels_above")
        below = int(parents[-1]) + 1
    numbers = [portable.within, portable.column_sums, *portable.variable_sums.values(), *members.sums]
    numbers += [cell.sums for cell in portable.cells]
    _require(all(np.isfinite(own).all() for own in numbers), "a number that is not finite")


def _require(holds: bool, what: str) -> None:
    if not holds:
        raise ValueError(what)

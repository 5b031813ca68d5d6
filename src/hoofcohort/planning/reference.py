"""Write ``config/README.md``: every key of a plan and of a file of cut-offs, from the models that check them."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo
from pydantic_core import PydanticUndefined

from hoofcohort.indices.catalogue import CATALOGUE
from hoofcohort.plan import Plan
from hoofcohort.planning import vocabulary
from hoofcohort.planning.cutoffs import Cutoffs
from hoofcohort.planning.structure import annotation_at, choices, range_text

HEAD = """\
# Settings

<!-- Written by `python -m hoofcohort.planning.reference > config/README.md`; edit src/hoofcohort/plan.py instead. -->

- `config.yaml`: which studies the workflow runs: `plans`, a list of plan files. `inbox` names a folder of members'
  files that is taken in first, into `reports/_inbox/`, and `inbox_as_of` the day that no date in it can be later than.
- `demo.yaml`: the demo's analysis plan, every key commented. Its data are invented.
- `inbox.yaml`: a plan over what the demo inbox gives; invented too.
- `cutoffs.yaml`: the trade's cut-offs, each with its source.

All are YAML, read as data only: nothing in them is ever run. Unknown and repeated keys are errors.
`hoofcohort check-plan PLAN.yaml --out plan.json` reports every fault of a plan at once.
"""


def markdown() -> str:
    """Return the text of ``config/README.md``."""
    parts = [
        HEAD,
        "## The analysis plan\n",
        *group_tables(Plan, ()),
        "## Names that a plan may use\n",
        *_names(),
        "## The cut-offs\n",
        *group_tables(Cutoffs, ()),
    ]
    return "\n".join(parts)


def group_tables(model: type[BaseModel], where: tuple[str, ...]) -> Iterator[str]:
    """Yield the table of one group of keys, then those of the groups inside it."""
    if where:
        yield f"### `{'.'.join(where)}`\n"
    yield "| key | what is allowed | unit | left out | meaning |\n|---|---|---|---|---|"
    inside: list[tuple[str, ...]] = []
    for key, field in model.model_fields.items():
        current, limits, _ = annotation_at(model, (key,))
        cells = [f"`{key}`", _allowed(current, limits), _unit(field), _default(field), field.description or ""]
        yield "| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |"
        group, step = _inner(current)
        if group is not None:
            inside.append((key, *step))
    yield ""
    for step in inside:
        group, _ = _inner(annotation_at(model, step[:1])[0])
        assert group is not None
        yield from group_tables(group, (*where, *step))


def _inner(annotation: Any) -> tuple[type[BaseModel] | None, tuple[str, ...]]:
    """Return the group of keys that a field holds, and how its place is written: by name, or one of a list."""
    step: tuple[str, ...] = ()
    if get_origin(annotation) in (dict, list):
        step = ("<name>",) if get_origin(annotation) is dict else ("<item>",)
        annotation = get_args(annotation)[-1]
    is_group = isinstance(annotation, type) and issubclass(annotation, BaseModel)
    return (annotation if is_group else None), step


def _allowed(annotation: Any, limits: list[Any]) -> str:
    if choices(annotation):
        return ", ".join(f"`{word}`" for word in choices(annotation) if word != "")
    if get_origin(annotation) is dict:
        of = "number" if get_args(annotation)[-1] is float else "text"
        return "keys below" if _inner(annotation)[0] else f"{of} by name"
    if get_origin(annotation) is list:
        inner = get_args(annotation)[0]
        of_words = choices(inner)
        if inner is float:
            return "list of numbers"
        if of_words:
            return f"list of {', '.join(f'`{word}`' for word in of_words)}"
        return "list of groups" if _inner(annotation)[0] else "list of pairs" if get_origin(inner) is list else "list"
    if _inner(annotation)[0]:
        return "keys below"
    word = {"str": "text", "bool": "`true`, `false`", "int": "whole number", "float": "number", "date": "date"}
    return f"{word[annotation.__name__]} {range_text(limits)}".strip()


def _unit(field: FieldInfo) -> str:
    extra = field.json_schema_extra
    return str(extra["unit"]) if isinstance(extra, dict) else ""


def _default(field: FieldInfo) -> str:
    value = field.default_factory() if field.default_factory else field.default  # type: ignore[call-arg]
    if value == "":
        return "see meaning"
    if value is PydanticUndefined:
        return "**required**"
    if value is None:
        return "see meaning"
    if isinstance(value, BaseModel):
        return "its keys' own"
    if isinstance(value, bool):
        return f"`{str(value).lower()}`"
    return f"`{str(value).replace(chr(39), '')}`"


def _names() -> Iterator[str]:
    yield "### Outcomes\n"
    yield "Every numeric measurement of the table of feet (`hoofcohort dictionary` lists them), and these indices:\n"
    yield "| index | what | unit | formula | source |\n|---|---|---|---|---|"
    for index in CATALOGUE.values():
        what = f"{index.title}; a class, not an outcome" if index.kind == "class" else index.title
        yield f"| `{index.name}` | {what} | {index.unit} | {index.formula} | {index.source} |"
    yield "\nMissing in, missing out; a zero divisor gives a missing value.\n"
    yield "### Exposures\n"
    yield "| column | words |\n|---|---|"
    for name, words in vocabulary.management_columns().items():
        yield f"| `{name}` | {', '.join(f'`{word}`' for word in words) if words else 'a number'} |"
    yield "\n### Adjustments\n"
    yield "| variable | what | unit |\n|---|---|---|"
    for variable in vocabulary.variables().values():
        unit = variable.unit or ("words" if variable.kind == "word" else "")
        yield f"| `{variable.name}` | {variable.title} | {unit} |"
    yield ""


if __name__ == "__main__":
    print(markdown(), end="")

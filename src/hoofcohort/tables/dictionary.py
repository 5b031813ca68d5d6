"""The data dictionary as Markdown, made from the declarations."""

from __future__ import annotations

from collections.abc import Iterable

from hoofcohort.tables import TABLES
from hoofcohort.tables.declare import Column, Limits, Relation, Table

_INTRODUCTION = """# Data dictionary

Three CSV files: UTF-8, a comma between cells, column names in the first line. An empty cell means missing. Numbers have
a decimal point and no unit; dates are written YYYY-MM-DD (ISO 8601). Words are written exactly as below. A column that
is not listed here is refused; an optional column may be left out.

- **required**: the file must have the column. **filled**: no cell of it may be empty.
- **possible**: outside these limits (themselves included) a row is rejected.
- **plausible**: outside these limits a value is kept and flagged.
"""
_HEADINGS = (
    "column", "kind", "unit", "needed", "allowed", "plausible", "meaning", "how to measure or find it", "source",
)  # fmt: skip
_PRIVATE = {
    "": "",
    "pseudonym": "Private: a pseudonym stands for it in whatever is published.",
    "remove": "Private: left out of whatever is published.",
}
_FORMS = {"date": "YYYY-MM-DD", "id": "any text on one line", "number": "any number", "integer": "any whole number"}


def data_dictionary() -> str:
    """Return the data dictionary of all tables as Markdown, ending in a line feed."""
    return "\n".join([_INTRODUCTION, *(_section(table) for table in TABLES.values())])


def limits_text(limits: Limits, unit: str = "") -> str:
    """Return limits as words: ``30 to 75 deg``, ``at least 5 mm``, ``at most 9``."""
    low, high = limits
    if low is not None and high is not None:
        text = f"{low:g} to {high:g}"
    else:
        text = f"at least {low:g}" if low is not None else f"at most {high:g}"
    return f"{text} {unit}".rstrip()


def allowed_text(column: Column) -> str:
    """Return what a column's cells may hold: its words, its limits or its form."""
    if column.words:
        return ", ".join(column.words)
    if column.possible:
        return limits_text(column.possible, column.unit)
    return column.pattern_text or _FORMS.get(column.kind, "any text")


def how_text(column: Column) -> str:
    """Return how a column is measured or found, and whether its values are private."""
    return f"{column.how} {_PRIVATE[column.private]}".strip()


def _section(table: Table) -> str:
    lines = [f"## {table.name}.csv", "", table.meaning, "", f"A row is named by {_listed(table.key)}.", ""]
    lines += [_line(_HEADINGS), _line("---" for _ in _HEADINGS)]
    lines += [_line(_cells(column)) for column in table.columns]
    if table.relations:
        lines += ["", "Between two columns of a row:", ""] + [_relation(relation) for relation in table.relations]
    return "\n".join(lines) + "\n"


def _cells(column: Column) -> tuple[str, ...]:
    needed = "required" if column.required else "optional"
    if column.default is not None:
        needed += f"; empty means {column.default}"
    elif not column.nullable:
        needed += ", filled"
    plausible = limits_text(column.plausible, column.unit) if column.plausible else ""
    name = f"`{column.name}`"
    return (
        name, column.kind, column.unit, needed, allowed_text(column), plausible, column.meaning, how_text(column),
        column.source,
    )  # fmt: skip


def _relation(relation: Relation) -> str:
    possible = f"; possible {limits_text(relation.possible, relation.unit)}" if relation.possible else ""
    return (
        f"- {relation.name} (`{relation.first}`, `{relation.second}`): "
        f"plausible {limits_text(relation.plausible, relation.unit)}{possible}. {relation.source}."
    )


def _listed(names: Iterable[str]) -> str:
    return ", ".join(f"`{name}`" for name in names)


def _line(cells: Iterable[str]) -> str:
    return "| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |"

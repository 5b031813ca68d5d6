"""The data dictionary as one page: how each measurement is taken, drawn, and every column of every table."""

from __future__ import annotations

from functools import cache
from importlib.resources import files

from jinja2 import Environment, StrictUndefined
from markupsafe import Markup

from hoofcohort import __version__
from hoofcohort.tables import TABLES, Column
from hoofcohort.tables.dictionary import allowed_text, how_text, limits_text
from hoofcohort.templates.drawings import detail, overview
from hoofcohort.templates.marks import marks_of
from hoofcohort.templates.outlines import VIEWS


def dictionary_page() -> str:
    """Return the page: HTML with nothing outside it, for screen and A4.

    Notes
    -----
    Everything is escaped but the style sheets and the drawings, which are the project's own; the drawings escape the
    text inside them.
    """
    return _template().render(
        css=Markup(_text("hoofcohort.report", "style.css") + _text("hoofcohort.templates", "dictionary.css")),
        overviews=[(name, view.title, Markup(overview(name))) for name, view in VIEWS.items()],
        measurements=[(column, Markup(_drawing(column))) for column in drawn_columns()],
        tables=list(TABLES.values()),
        version=__version__,
    )


def drawn_columns() -> list[Column]:
    """Return the columns that need a drawing: every measurement of every table, in order."""
    return [column for table in TABLES.values() for column in table.columns if column.role == "measurement"]


def _drawing(column: Column) -> str:
    return detail(marks_of(column.name)[0], column.how)


def _needed(column: Column) -> str:
    if column.default is not None:
        return f"empty means {column.default}"
    if not column.nullable:
        return "always filled"
    return "column needed" if column.required else "optional"


def _text(package: str, name: str) -> str:
    return files(package).joinpath(name).read_text(encoding="utf-8")


@cache
def _template():
    environment = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True)
    environment.filters |= {"allowed": allowed_text, "how": how_text, "needed": _needed}
    environment.globals["limits"] = limits_text
    return environment.from_string(_text("hoofcohort.templates", "dictionary.html"))

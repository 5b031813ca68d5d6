"""Turn the blocks into one self-contained HTML page."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from importlib.resources import files

from jinja2 import Environment, StrictUndefined
from markupsafe import Markup

from hoofcohort import __version__
from hoofcohort.plan import Plan
from hoofcohort.report.blocks import FigureBlock, Part, TableBlock, walk

INVENTED = "The horses, people, yards and associations in this report do not exist."


def render(plan: Plan, facts: Sequence[tuple[str, str]], sections: Sequence[Part]) -> str:
    """Return the page's text.

    Parameters
    ----------
    plan : Plan
    facts : sequence of pairs
        Term and value, for the head of the page.
    sections : sequence of Part
        In order.

    Notes
    -----
    Everything is escaped but the style sheet and the drawings, which are the project's own; the drawings escape the
    text inside them.
    """
    css = Markup(files("hoofcohort.report").joinpath("style.css").read_text(encoding="utf-8"))
    return _template().render(
        plan=plan,
        facts=facts,
        sections=sections,
        css=css,
        version=__version__,
        invented=INVENTED,
        numbers=_numbers(sections),
    )


def _numbers(sections: Sequence[Part]) -> dict[str, dict[str, int]]:
    """Number tables and figures in the page's order, each by themselves."""
    blocks = list(walk(sections))
    sheets = [block.sheet.name for block in blocks if isinstance(block, TableBlock)]
    figures = [block.figure.name for block in blocks if isinstance(block, FigureBlock)]
    return {
        kind: {name: place for place, name in enumerate(names, start=1)}
        for kind, names in (("table", sheets), ("figure", figures))
    }


@cache
def _template():
    environment = Environment(
        autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True, keep_trailing_newline=True
    )
    environment.filters["inline"] = Markup
    return environment.from_string(files("hoofcohort.report").joinpath("page.html").read_text(encoding="utf-8"))

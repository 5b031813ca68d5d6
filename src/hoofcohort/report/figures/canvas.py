"""From a plotting function to SVG text that can stand in a page: fixed ids, no dates, text as text."""

from __future__ import annotations

import io
import re
from collections.abc import Callable
from dataclasses import dataclass
from html import escape
from typing import Any

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.figure import Figure as Canvas

INK, MUTED, GRID, PAPER = "#1f2b2c", "#566365", "#d5dcda", "#fcfcfa"
"""As in the page's style sheet."""
FIRST, SECOND = "#0b6170", "#b4531a"
"""Teal and burnt orange, told apart with any common colour vision; shapes and line styles differ as well."""
FONTS = "'Source Sans 3', 'Segoe UI', Roboto, 'Helvetica Neue', Arial, 'DejaVu Sans', sans-serif"
"""The page's font stack for figures and tables."""
MOST_VECTOR_POINTS = 2000
NARROW, WIDE = (3.4, 2.6), 5.2
"""Inches: a panel that fits a phone, and the width of a figure with labels."""
RC: dict[Any, Any] = {
    "axes.edgecolor": MUTED,
    "axes.labelcolor": INK,
    "axes.labelsize": 8.5,
    "axes.linewidth": 0.6,
    "axes.spines.right": False,
    "axes.spines.top": False,
    "axes.titlelocation": "left",
    "axes.titlesize": 9,
    "axes.titleweight": "bold",
    "figure.dpi": 72,
    "font.family": ["DejaVu Sans"],
    "font.size": 8.5,
    "grid.color": GRID,
    "grid.linewidth": 0.6,
    "legend.fontsize": 8,
    "legend.frameon": False,
    "lines.linewidth": 1.2,
    "savefig.dpi": 144,
    "savefig.transparent": True,
    "svg.fonttype": "none",
    "text.color": INK,
    "text.parse_math": False,
    "xtick.color": MUTED,
    "xtick.labelcolor": INK,
    "xtick.labelsize": 8,
    "ytick.color": MUTED,
    "ytick.labelcolor": INK,
    "ytick.labelsize": 8,
}


@dataclass(frozen=True)
class Panel:
    """One drawing: the SVG file's name without ending, its description for those who do not see it, its text."""

    name: str
    label: str
    svg: str


@dataclass(frozen=True)
class Figure:
    """One figure of the page: drawings that share a caption."""

    name: str
    caption: str
    panels: tuple[Panel, ...]


def draw(name: str, label: str, size: tuple[float, float], plot: Callable[[Axes], None]) -> Panel:
    """Let ``plot`` draw on one pair of axes and return the drawing.

    Parameters
    ----------
    name : str
        Unique in the report: the ids inside the SVG begin with it.
    label : str
        What is to be seen, in words.
    size : pair of float
        Width and height, inches.
    """
    with mpl.rc_context(RC | {"svg.hashsalt": name}):
        canvas = Canvas(figsize=size, layout="constrained")
        plot(canvas.add_subplot())
        out = io.StringIO()
        canvas.savefig(out, format="svg", metadata={"Date": None, "Creator": None})
    return Panel(name, label, clean_svg(out.getvalue(), name, label))


def clean_svg(svg: str, name: str, label: str) -> str:
    """Make matplotlib's SVG fit to stand among others in a page.

    Metadata and style sheet go, ids and references to them get the name as a prefix, the root says in words what is to
    be seen, and text takes the page's fonts.
    """
    svg = svg[svg.index("<svg") :]
    svg = re.sub(r"\s*<metadata>.*?</metadata>", "", svg, flags=re.DOTALL)
    svg = re.sub(r"\s*<defs>\s*<style.*?</style>\s*</defs>", "", svg, count=1, flags=re.DOTALL)
    svg = re.sub(r'\bid="([^"]+)"', rf'id="{name}-\1"', svg)
    svg = re.sub(r'xlink:href="#([^"]+)"', rf'xlink:href="#{name}-\1"', svg)
    svg = re.sub(r"url\(#([^)]+)\)", rf"url(#{name}-\1)", svg)
    svg = svg.replace("'DejaVu Sans'", FONTS)
    root = f'<svg role="img" aria-label="{escape(label)}" stroke-linejoin="round" stroke-linecap="butt"'
    return svg.replace("<svg", root, 1).strip() + "\n"


def rasterised(points: int) -> bool:
    """Tell whether so many marks are to be drawn as an image inside the SVG."""
    return points > MOST_VECTOR_POINTS

"""Draw a view of the foot with measured lines on it, as SVG."""

from __future__ import annotations

import math
from collections.abc import Sequence
from html import escape

from hoofcohort.templates.marks import MARKS, Mark, Point
from hoofcohort.templates.outlines import VIEWS
from hoofcohort.templates.view import GREY, View

LINE, ANGLE = "#a3300b", "#0b6170"
_MARGIN = 70
_FONT = 'font-family="Segoe UI, Roboto, Arial, DejaVu Sans, sans-serif"'


def overview(view: str) -> str:
    """Return a view with all its measurements drawn in and named.

    Parameters
    ----------
    view : str
        A name of ``outlines.VIEWS``.

    Returns
    -------
    str
        An SVG element with a title and a description; its ids begin with ``foot-``.
    """
    marks = [mark for mark in MARKS if mark.view == view]
    names = ", ".join(" ".join(mark.lines) for mark in marks)
    return _svg(f"foot-{view}", view, marks, f"Foot seen {VIEWS[view].title}", f"Drawn in: {names}.", named=True)


def detail(mark: Mark, how: str) -> str:
    """Return a view with one measurement drawn in, for beside its text; ``how`` becomes the description."""
    title = f"{' '.join(mark.lines)}, seen {VIEWS[mark.view].title}"
    return _svg(f"foot-{mark.column}", mark.view, [mark], title, how, named=False)


def _svg(name: str, view: str, marks: Sequence[Mark], title: str, description: str, named: bool) -> str:
    seen = VIEWS[view]
    width, height = seen.size
    margin = _MARGIN if named else 0
    top = seen.top if named or not _lies_below(marks, seen.close) else seen.close
    box = f"{-margin} {top} {width + 2 * margin} {height - top}"
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{box}" role="img" '
        f'aria-labelledby="{name}-title {name}-desc" id="{name}">',
        f'<title id="{name}-title">{escape(title)}</title><desc id="{name}-desc">{escape(description)}</desc>',
        _turned(seen, "".join(_path(*shape) for shape in seen.shapes)),
        _turned(seen, "".join(_mark(mark, 1 if named else 2) for mark in marks)),
    ]
    if named:
        parts += [_text(seen, (x, y), anchor, (word,), GREY, 15, italic=True) for x, y, anchor, word in seen.words]
        parts += [_text(seen, mark.label, mark.anchor, mark.lines, _colour(mark), 18) for mark in marks]
    return "".join([*parts, "</svg>"])


def _lies_below(marks: Sequence[Mark], y: float) -> bool:
    """Whether all points of the marks lie below a height; the third point of an angle is none."""
    return all(at > y for mark in marks for _, at in (mark.points[:2] if mark.kind == "angle" else mark.points))


def _turned(view: View, content: str) -> str:
    turn = f' transform="matrix(-1 0 0 1 {view.size[0]} 0)"' if view.mirrored else ""
    return f'<g stroke-linecap="round" stroke-linejoin="round"{turn}>{content}</g>'


def _path(path: str, fill: str, stroke: str, width: float, dashes: str = "") -> str:
    dashed = f' stroke-dasharray="{dashes}"' if dashes else ""
    return f'<path d="{path}" fill="{fill}" stroke="{stroke}" stroke-width="{width:g}"{dashed}/>'


def _colour(mark: Mark) -> str:
    return ANGLE if mark.kind == "angle" else LINE


def _mark(mark: Mark, scale: float) -> str:
    guides = "".join(_path(_straight(*pair), "none", _colour(mark), 1.1 * scale, "2 5") for pair in mark.guides)
    drawn = {"line": _line, "angle": _angle, "tape": _tape}[mark.kind](mark, scale)
    return f'<g data-column="{mark.column}">{guides}{drawn}</g>'


def _line(mark: Mark, scale: float) -> str:
    """Draw a line with a short stroke across either end."""
    (ax, ay), (bx, by) = mark.points
    long = math.hypot(bx - ax, by - ay)
    nx, ny = 7 * (ay - by) / long, 7 * (bx - ax) / long
    ends = " ".join(_straight((x - nx, y - ny), (x + nx, y + ny)) for x, y in mark.points)
    return _path(f"{_straight((ax, ay), (bx, by))} {ends}", "none", LINE, 3 * scale)


def _angle(mark: Mark, scale: float) -> str:
    """Draw the inclined arm, the level arm and the arc between them."""
    (x, y), (ex, ey), (radius, level) = mark.points
    turn = math.atan2(y - ey, ex - x)
    start, end = (x + radius, y), (x + radius * math.cos(turn), y - radius * math.sin(turn))
    arc = f"M {start[0]:.4g} {start[1]:.4g} A {radius:g} {radius:g} 0 0 0 {end[0]:.4g} {end[1]:.4g}"
    wedge = f"{arc} L {x:g} {y:g} Z"
    return (
        f'<path d="{wedge}" fill="{ANGLE}" fill-opacity="0.16"/>'
        + _path(_straight((x, y), (x + level, y)), "none", ANGLE, 2 * scale, "7 5")
        + _path(f"{_straight((x, y), (ex, ey))} {arc}", "none", ANGLE, 3 * scale)
    )


def _tape(mark: Mark, scale: float) -> str:
    (ax, ay), (bx, by), (cx, cy), (dx, dy) = mark.points
    curve = f"M {ax:g} {ay:g} C {bx:g} {by:g}, {cx:g} {cy:g}, {dx:g} {dy:g}"
    return _path(curve, "none", LINE, 7 * scale) + _path(curve, "none", "#fff", 1.4 * scale, "1 8")


def _straight(start: Point, end: Point) -> str:
    return f"M {start[0]:.4g} {start[1]:.4g} L {end[0]:.4g} {end[1]:.4g}"


def _text(
    view: View, at: Point, anchor: str, lines: Sequence[str], colour: str, size: int, italic: bool = False
) -> str:
    """Write lines of text; in a mirrored view the place is mirrored, the letters are not."""
    x, y = at
    if view.mirrored:
        x, anchor = view.size[0] - x, {"start": "end", "end": "start"}.get(anchor, anchor)
    slant = ' font-style="italic"' if italic else ' font-weight="600"'
    spans = "".join(
        f'<tspan x="{x:g}" y="{y + row * size * 1.15:.4g}">{escape(line)}</tspan>' for row, line in enumerate(lines)
    )
    return f'<text text-anchor="{anchor}" font-size="{size}" fill="{colour}"{slant} {_FONT}>{spans}</text>'

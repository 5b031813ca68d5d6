"""What a view of the foot is, and outlines that are alike on both sides."""

from __future__ import annotations

from dataclasses import dataclass

SKIN, HORN, FROG, SOLE = "#efe9e1", "#dccfb8", "#b7aa9a", "#e9e1d1"
INK, GREY = "#1f2b2c", "#566365"

Shape = tuple[str, str, str, float]
"""Path, fill, stroke, width of the stroke."""


@dataclass(frozen=True)
class View:
    """One view of the foot.

    Attributes
    ----------
    title : str
    shapes : tuple of Shape
        From back to front.
    words : tuple of (x, y, anchor, text)
        Names of what is seen.
    size : (int, int)
        Width of the drawing, without margins beside it, and where it ends below.
    top : int
        Where it begins: what lies above is left out.
    close : int
        Where a drawing of a single mark begins that lies wholly below.
    mirrored : bool
        Draw the shapes and the marks turned left to right about the middle.
    """

    title: str
    shapes: tuple[Shape, ...]
    words: tuple[tuple[float, float, str, str], ...]
    size: tuple[int, int]
    top: int
    close: int
    mirrored: bool = False


def both(path: tuple[tuple[float, ...], ...], middle: float) -> str:
    """Return a closed outline of the right half's cubic curves and their mirror image.

    The first point and the end of the last curve lie on the middle line.
    """
    (x, y), *curves = path
    points = [(x, y)] + [(curve[i], curve[i + 1]) for curve in curves for i in (0, 2, 4)]
    back = [(2 * middle - px, py) for px, py in reversed(points)]
    text = [f"M {x:g} {y:g}"]
    for run in (points, back):
        for i in range(1, len(run), 3):
            text.append("C " + ", ".join(f"{px:g} {py:g}" for px, py in run[i : i + 3]))
    return " ".join(text) + " Z"


def ground(width: int, y: float) -> tuple[Shape, ...]:
    """Return the ground line across a drawing of some width, hatched below."""
    return (
        (f"M 30 {y} H {width - 30}", "none", INK, 1.6),
        (" ".join(f"M {x} {y + 12} l 12 -11" for x in range(40, width - 40, 26)), "none", "#b9c2c0", 1.2),
    )


def sides(path: str, *xs: float) -> str:
    """Return a path of the right side and its mirror image about x = 380."""
    return path.format(*xs) + " " + path.format(*(760 - x for x in xs))

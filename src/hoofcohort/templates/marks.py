"""Where each measurement lies on the drawings: a line or an angle for every measurement of the table of feet."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Point = tuple[float, float]


@dataclass(frozen=True)
class Mark:
    """A measured line or angle on one view.

    Attributes
    ----------
    column : str
        The measurement.
    view : str
        A name of ``outlines.VIEWS``.
    kind : {'line', 'angle', 'tape'}
        A straight line with ends; an angle between the horizontal to the right and a line; a tape along a curve.
    points : tuple of points
        line: both ends. angle: corner, end of the inclined arm, (radius of the arc, length of the level arm). tape: the
        four points of one cubic curve.
    label : point
        Where the name stands.
    anchor : {'start', 'middle', 'end'}
    guides : tuple of pairs of points
        Dotted lines from the foot to a measured line drawn beside it, and from a name to its line.
    lines : tuple of str
        The name, cut into lines.
    """

    column: str
    view: str
    kind: Literal["line", "angle", "tape"]
    points: tuple[Point, ...]
    label: Point
    anchor: str
    lines: tuple[str, ...]
    guides: tuple[tuple[Point, Point], ...] = ()


MARKS: tuple[Mark, ...] = (
    Mark("toe_angle_deg", "side", "angle", ((140, 560), (283, 389), (84, 150)), (236, 536), "start", ("toe angle",)),
    Mark(
        "heel_angle_deg", "side", "angle", ((400, 560), (480, 474), (62, 96)), (516, 552), "start", ("heel angle",),
        (((461, 546), (512, 547)),),
    ),
    Mark(
        "pastern_angle_deg", "side", "angle", ((312, 354), (438, 194), (60, 104)), (378, 332), "start",
        ("pastern angle",),
    ),
    Mark(
        "toe_length_mm", "side", "line", ((267, 362), (117, 541)), (176, 440), "end", ("toe length",),
        (((290, 381), (262, 358)), ((140, 560), (112, 537))),
    ),
    Mark(
        "lateral_heel_length_mm", "side", "line", ((465, 460), (385, 546)), (408, 486), "end",
        ("lateral", "heel length"),
        (((480, 474), (462, 457)), ((400, 560), (382, 543))),
    ),
    Mark(
        "lateral_heel_height_mm", "side", "line", ((640, 474), (640, 560)), (650, 512), "start",
        ("lateral", "heel height"), (((480, 474), (646, 474)),),
    ),
    Mark(
        "heel_setback_mm", "side", "line", ((400, 596), (508, 596)), (454, 620), "middle", ("heel setback",),
        (((400, 560), (400, 602)), ((508, 492), (508, 602))),
    ),
    Mark(
        "coronet_circumference_mm", "side", "tape", ((281, 392), (352, 404), (420, 446), (470, 485)), (200, 300), "end",
        ("coronet circumference,", "all the way round"), (((279, 388), (206, 308)),),
    ),
    Mark(
        "medial_heel_length_mm", "inner", "line", ((465, 460), (385, 546)), (408, 486), "end",
        ("medial", "heel length"),
        (((480, 474), (462, 457)), ((400, 560), (382, 543))),
    ),
    Mark(
        "medial_heel_height_mm", "inner", "line", ((640, 474), (640, 560)), (650, 512), "start",
        ("medial", "heel height"), (((480, 474), (646, 474)),),
    ),
    Mark(
        "coronet_height_lateral_mm", "behind", "line", ((150, 336), (150, 520)), (140, 424), "end",
        ("lateral", "coronet", "height"), (((240, 336), (144, 336)),),
    ),
    Mark(
        "coronet_height_medial_mm", "behind", "line", ((610, 336), (610, 520)), (620, 424), "start",
        ("medial", "coronet", "height"), (((520, 336), (616, 336)),),
    ),
    Mark(
        "hoof_length_mm", "below", "line", ((80, 80), (80, 552)), (70, 300), "end", ("hoof", "length"),
        (((380, 80), (74, 80)), ((304, 552), (74, 552))),
    ),
    Mark(
        "hoof_width_mm", "below", "line", ((155, 40), (605, 40)), (380, 30), "middle", ("hoof width",),
        (((155, 310), (155, 34)), ((605, 310), (605, 34))),
    ),
    Mark(
        "heel_buttress_width_mm", "below", "line", ((225, 596), (535, 596)), (380, 622), "middle",
        ("heel buttress width",), (((225, 446), (225, 602)), ((535, 446), (535, 602))),
    ),
    Mark(
        "heel_setback_mm", "below", "line", ((650, 452), (650, 552)), (660, 506), "start", ("heel", "setback"),
        (((518, 452), (656, 452)), ((456, 552), (656, 552))),
    ),
    Mark(
        "frog_length_mm", "below", "line", ((380, 186), (380, 508)), (640, 236), "start", ("frog length",),
        (((380, 236), (634, 231)),),
    ),
    Mark(
        "frog_width_mm", "below", "line", ((279, 490), (481, 490)), (150, 494), "end", ("frog", "width"),
        (((279, 490), (156, 490)),),
    ),
)  # fmt: skip
"""In the order in which a view draws them; a column's first mark is the one beside its text."""


def marks_of(column: str) -> tuple[Mark, ...]:
    """Return the marks of a measurement; none for a column that is not drawn."""
    return tuple(mark for mark in MARKS if mark.column == column)

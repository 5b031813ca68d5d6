"""The foot's outlines, seen from the side, from behind and from below: our own drawings, a left fore foot.

Proportions are those of a foot with a toe of 90 mm at 50 deg: 2.6 units a mm from the side and from behind, 3.6 from
below.
"""

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
    mirrored : bool
        Draw the shapes and the marks turned left to right about the middle.
    """

    title: str
    shapes: tuple[Shape, ...]
    words: tuple[tuple[float, float, str, str], ...]
    size: tuple[int, int]
    top: int
    mirrored: bool = False


def _both(path: tuple[tuple[float, ...], ...], middle: float) -> str:
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


def _ground(width: int, y: float) -> tuple[Shape, ...]:
    return (
        (f"M 30 {y} H {width - 30}", "none", INK, 1.6),
        (" ".join(f"M {x} {y + 12} l 12 -11" for x in range(40, width - 40, 26)), "none", "#b9c2c0", 1.2),
    )


_LIMB = (
    "M 466 20 C 467 72, 466 108, 460 138 C 456 160, 450 178, 438 194 C 400 245, 350 305, 312 354 C 302 365, "
    "291 372, 290 381 C 360 392, 430 436, 480 474 L 400 560 C 432 556, 486 548, 503 516 C 511 496, 507 470, "
    "492 452 C 476 436, 456 424, 453 402 C 452 380, 496 346, 532 314 C 566 284, 596 252, 602 216 C 606 180, "
    "598 110, 598 20"
)
_CAPSULE = "M 290 381 L 140 560 L 400 560 L 480 474 C 430 436, 360 392, 290 381 Z"
_SIDE_SHAPES: tuple[Shape, ...] = (
    *_ground(760, 560),
    (_LIMB + " Z", SKIN, "none", 0),
    (_LIMB, "none", INK, 2),
    ("M 478 100 C 486 150, 484 186, 470 216", "none", "#cfc6ba", 1.6),
    ("M 540 40 C 544 110, 552 168, 546 206", "none", "#cfc6ba", 1.6),
    ("M 484 470 C 494 486, 492 512, 470 532", "none", "#a89c8c", 1.4),
    (_CAPSULE, HORN, INK, 2),
    ("M 263 413 C 336 425, 414 464, 466 489", "none", "#c2b294", 1.2),
    ("M 231 451 C 308 462, 394 494, 449 507", "none", "#c2b294", 1.2),
    ("M 196 493 C 280 502, 372 521, 432 526", "none", "#c2b294", 1.2),
    ("M 290 381 C 360 392, 430 436, 480 474", "none", "#7b6a55", 5),
)
SIDE = View(
    "from the side, outer (lateral) side",
    _SIDE_SHAPES,
    (
        (440, 130, "end", "fetlock"),
        (534, 420, "start", "bulb of the heel"),
        (140, 588, "middle", "toe"),
    ),
    (760, 640),
    90,
)
INNER = View(
    "from the side, inner (medial) side", _SIDE_SHAPES, ((534, 420, "start", "bulb"),), (760, 600), 300, mirrored=True
)

_BACK_LIMB = _both(
    (
        (380, 20),
        (410, 20, 440, 20, 454, 20),
        (460, 60, 478, 96, 474, 138),
        (468, 182, 452, 206, 454, 246),
        (458, 292, 496, 306, 520, 336),
        (520, 400, 450, 440, 380, 440),
    ),
    380,
)
_HEEL = (
    "M {0} 336 C {1} 346, {2} 372, {3} 424 C {4} 452, {5} 478, {6} 504 C {7} 512, {7} 518, {8} 520 L {9} 520 "
    "C {10} 458, {11} 396, {0} 336 Z"
)
_BULB = (
    "M 380 402 C {0} 372, {1} 356, {2} 380 C {3} 396, {4} 430, {5} 464 C {6} 486, {7} 500, {8} 500 C {9} "
    "500, {10} 490, 380 470 Z"
)
_BULB_TOP = "M 380 402 C {0} 372, {1} 356, {2} 380"
_BULB_EDGE = "M {0} 380 C {1} 396, {2} 430, {3} 464 C {4} 486, {5} 500, {6} 500 C {7} 500, {8} 490, 380 470"


def _sides(path: str, *xs: float) -> str:
    """Return a path of the right side and its mirror image about x = 380."""
    return path.format(*xs) + " " + path.format(*(760 - x for x in xs))


_HAIRLINE = "M {0} 336 C {1} 346, {2} 372, {3} 424"
BEHIND = View(
    "from behind",
    (
        *_ground(760, 520),
        (
            _both(((380, 440), (430, 440, 470, 460, 470, 520), (440, 520, 410, 520, 380, 520)), 380),
            "#8d8070",
            "none",
            0,
        ),
        (_BACK_LIMB, SKIN, INK, 2),
        (
            _both(((380, 462), (404, 462, 440, 470, 446, 512), (424, 516, 402, 516, 380, 516)), 380),
            "#8d8070",
            "none",
            0,
        ),
        (_sides(_HEEL, 520, 506, 490, 476, 470, 462, 450, 452, 456, 544, 536, 528), HORN, INK, 2),
        (
            _sides(
                "M {0} 382 C {1} 396, {2} 424, {3} 446 M {4} 430 C {5} 444, {6} 466, {7} 482",
                *(523, 514, 500, 484),
                *(530, 520, 502, 476),
            ),
            "none",
            "#c2b294",
            1.2,
        ),
        (_sides(_BULB, 392, 430, 462, 484, 482, 462, 446, 430, 412, 396, 386), SKIN, "none", 0),
        (_sides(_BULB_EDGE, 462, 484, 482, 462, 446, 430, 412, 396, 386), "none", INK, 1.8),
        (_sides(_BULB_TOP, 392, 430, 462), "none", "#a89c8c", 1.6),
        (
            _both(((380, 468), (396, 470, 408, 490, 416, 512), (404, 518, 394, 518, 380, 506)), 380),
            FROG,
            INK,
            1.6,
        ),
        ("M 380 402 C 379 420, 380 450, 380 496", "none", INK, 2.2),
        (_sides(_HAIRLINE, 520, 506, 490, 476), "none", "#7b6a55", 5),
    ),
    (
        (380, 240, "middle", "pastern"),
        (424, 436, "middle", "bulb"),
        (336, 436, "middle", "bulb"),
        (380, 545, "middle", "frog"),
        (268, 545, "middle", "heel"),
        (492, 545, "middle", "heel"),
        (60, 210, "start", "left foot: outer (lateral) side"),
        (700, 210, "end", "inner (medial) side"),
    ),
    (760, 570),
    170,
)

_SOLE_BULBS = _both(
    (
        (380, 470),
        (440, 440, 500, 420, 534, 436),
        (552, 486, 528, 552, 456, 552),
        (420, 552, 392, 534, 380, 516),
    ),
    380,
)
_WALL = _both(
    (
        (380, 80),
        (500, 80, 598, 176, 605, 300),
        (607, 360, 572, 420, 535, 446),
        (522, 456, 502, 452, 494, 436),
        (480, 404, 452, 360, 424, 322),
        (410, 330, 390, 334, 380, 334),
    ),
    380,
)
_SOLE_INSIDE = _both(
    (
        (380, 112),
        (482, 112, 568, 196, 575, 300),
        (577, 346, 548, 396, 522, 418),
        (514, 418, 510, 408, 506, 398),
        (494, 368, 470, 330, 430, 292),
        (412, 318, 392, 322, 380, 322),
    ),
    380,
)
_WHITE_LINE = (
    "M 518 414 C 546 392, 573 344, 571 300 C 564 198, 480 117, 380 117 C 280 117, 196 198, 189 300 C 187 "
    "344, 214 392, 242 414"
)
_GROOVES = _both(
    ((380, 168), (396, 186, 420, 316, 490, 442), (500, 500, 440, 520, 380, 500)),
    380,
)
_BETWEEN_HEELS = _both(
    ((380, 300), (420, 300, 480, 390, 500, 440), (506, 478, 500, 500, 484, 510), (450, 520, 400, 510, 380, 500)),
    380,
)
_SOLE_FROG = _both(
    (
        (380, 186),
        (392, 196, 424, 318, 466, 436),
        (486, 476, 484, 506, 462, 520),
        (436, 532, 400, 522, 380, 508),
    ),
    380,
)
BELOW = View(
    "from below",
    (
        (_SOLE_BULBS, SKIN, INK, 2),
        (_BETWEEN_HEELS, "#8d8070", "none", 0),
        (_WALL, HORN, INK, 2),
        (_SOLE_INSIDE, SOLE, "#8f8369", 1.2),
        (_WHITE_LINE, "none", "#fffdf6", 6),
        (_GROOVES, "#8d8070", "none", 0),
        (_SOLE_FROG, FROG, INK, 1.8),
        (
            _both(((380, 372), (390, 380, 398, 440, 392, 488), (388, 498, 384, 500, 380, 500)), 380),
            "#8d8070",
            "none",
            0,
        ),
    ),
    (
        (380, 154, "middle", "sole"),
        (380, 100, "middle", "wall"),
        (206, 262, "start", "white line"),
        (486, 352, "start", "bar"),
        (440, 542, "middle", "bulb"),
        (70, 668, "start", "left foot, lifted: inner (medial) side"),
        (700, 668, "end", "outer (lateral) side"),
    ),
    (760, 690),
    0,
)
VIEWS: dict[str, View] = {"side": SIDE, "inner": INNER, "behind": BEHIND, "below": BELOW}

"""The foot seen from the side: our own drawing, a left fore foot with a toe of 90 mm at 50 deg, 2.6 units a mm."""

from __future__ import annotations

from hoofcohort.templates.view import HORN, INK, SKIN, Shape, View, ground

_LIMB = (
    "M 466 20 C 467 72, 466 108, 460 138 C 456 160, 450 178, 438 194 C 400 245, 350 305, 312 354 C 302 365, "
    "291 372, 290 381 C 360 392, 430 436, 480 474 L 400 560 C 432 556, 486 548, 503 516 C 511 496, 507 470, "
    "492 452 C 476 436, 456 424, 453 402 C 452 380, 496 346, 532 314 C 566 284, 596 252, 602 216 C 606 180, "
    "598 110, 598 20"
)
_CAPSULE = "M 290 381 L 140 560 L 400 560 L 480 474 C 430 436, 360 392, 290 381 Z"
_SIDE_SHAPES: tuple[Shape, ...] = (
    *ground(760, 560),
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
    300,
)
INNER = View(
    "from the side, inner (medial) side",
    _SIDE_SHAPES,
    ((534, 420, "start", "bulb"),),
    (760, 600),
    300,
    300,
    mirrored=True,
)

"""What is usual for a fore or hind foot and a horse's size; how far a reading may lie from its like. With sources."""

from __future__ import annotations

from dataclasses import dataclass

_CART_HORSES = "Schade, Cienc Rural 2013;43:456-461: 44 cart horses, mean 4 SD either side"
_OWN = "the project's own choice, no source"


@dataclass(frozen=True)
class FootLimits:
    """Usual limits of a column for fore or hind feet."""

    column: str
    end: str
    low: float
    high: float
    source: str


@dataclass(frozen=True)
class SizeLimits:
    """Usual limits of a column for horses of a body mass from ``lightest`` to below ``heaviest`` kg."""

    column: str
    lightest: float
    heaviest: float
    low: float
    high: float
    source: str


FOOT_LIMITS = (
    FootLimits("toe_angle_deg", "fore", 49.1 - 4 * 5.1, 49.1 + 4 * 5.1, _CART_HORSES),
    FootLimits("toe_angle_deg", "hind", 51.8 - 4 * 4.3, 51.8 + 4 * 4.3, _CART_HORSES),
)
_TOE_BY_MASS = (
    "usual toe length by body mass (76, 82.5 and 89 mm for 360-400, 425-475 and 525-575 kg, from memory) "
    "less and more a half: broad"
)
SIZE_LIMITS = (
    SizeLimits("toe_length_mm", 30, 250, 30, 100, f"toe length of ponies: {_OWN}, broad"),
    SizeLimits("toe_length_mm", 360, 412, 38, 114, _TOE_BY_MASS),
    SizeLimits("toe_length_mm", 412, 500, 41, 124, _TOE_BY_MASS),
    SizeLimits("toe_length_mm", 500, 600, 44, 134, _TOE_BY_MASS),
    SizeLimits("coronet_circumference_mm", 30, 250, 150, 380, f"circumference of ponies: {_OWN}, broad"),
    SizeLimits("coronet_circumference_mm", 450, 1500, 260, 520, f"circumference of horses: {_OWN}, broad"),
)
OUTLIER_DEVIATIONS = 5.0
"""How many deviations from the median make an outlier; 3 is called very conservative and 2.5 moderate by Leys et al.,
J Exp Soc Psychol 2013;49:764-766 (from memory); 5, because readings months apart are compared."""
OUTLIER_OTHERS = 4
"""How many other readings of the foot there must be; the project's own choice, no source."""
MAD_TO_SD = 1.4826
"""The median absolute deviation of a normal variable times this is its SD."""
SMALLEST_DEVIATION = {"mm": 0.04, "deg": 1.5}
SHORTEST_DEVIATION_MM = 1.5
"""A deviation is never taken as smaller than this: a share of the median and so many mm of length, or degrees.
Repeatability by tape is 1.8 mm (Decurnex, Anderson, Davies, Equine Vet J 2009), by gauge 0.3 to 0.4 deg the same day
(Peel, Equine Vet J Suppl 2006;36:431-434); feet grow and are trimmed between visits. The project's own choice."""
SLIPPED_SHARE = 0.2
"""How near to the foot's median, as a share of it, a value must come with its point one place further to be called a
decimal slip; the project's own choice, no source."""
EXCHANGED_GAIN = 10.0
"""Degrees by which exchanging toe and heel angle must bring a reading nearer to the horse's others; own choice."""
EXCHANGED_TIMES = 3
"""How many times nearer it must bring it; the project's own choice, no source."""
SIDES_SUPPORT = 4.0
"""How many times nearer to the horse's other visits the differences between left and right must be when exchanged;
the project's own choice, no source."""
SIDES_VISITS = 4
"""From how many visits of a pair of feet two measures turned round are enough for that; with fewer, SIDES_MEASURES are
needed. The project's own choice, no source."""
SIDE_SCALE = {"deg": 1.5, "mm": 3.0}
"""In what differences between left and right are counted: 1.5 deg makes an uneven pair (Wiggers, PLoS ONE
2015;10:e0114836); for lengths the project's own choice."""
SIDES_UNEVEN = 1.0
"""From which difference between left and right, in those steps, a measure can tell them apart."""
SIDES_MEASURES = 3
"""How many measures of a pair must be turned round where it has fewer visits; with two visits each must differ by twice
as much on average. The project's own choice, no source."""
FEW_READINGS = 3
"""How many readings of a foot make a median to hold one of them to; the project's own choice, no source."""
FEW_OF_THE_HORSE = 8
"""How many readings of all the horse's feet are then needed to tell how far they usually lie from their medians; the
project's own choice, no source."""

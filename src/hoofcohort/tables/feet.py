"""The table of feet: one row a reading, that is one foot, one visit, one observer, one method, one repeat."""

from __future__ import annotations

from hoofcohort.tables.declare import BROAD, COMMON, Column, Limits, Relation, Table

_PLAUSIBLE = f"plausible limits: {COMMON}; possible limits: {BROAD}"


def _length(name: str, meaning: str, possible: Limits, plausible: Limits, how: str, source: str = BROAD) -> Column:
    return Column(
        name, "number", meaning, "mm", "measurement", possible=possible, plausible=plausible, how=how, source=source
    )


def _angle(name: str, meaning: str, plausible: Limits, how: str, source: str = _PLAUSIBLE) -> Column:
    return Column(
        name, "number", meaning, "deg", "measurement", possible=(5, 110), plausible=plausible, how=how, source=source
    )


def _score(name: str, meaning: str, highest: int, how: str) -> Column:
    source = "the study's own anchors"
    return Column(name, "integer", meaning, "", "score", possible=(0, highest), how=how, source=source)


_HEEL_LIMITS: tuple[Limits, Limits] = ((1, 180), (5, 110))
_CORONET_LIMITS: tuple[Limits, Limits] = ((10, 200), (25, 130))

_KEYS = (
    Column(
        "horse_id",
        "id",
        "The horse, as in the table of horses.",
        role="key",
        required=True,
        nullable=False,
        private="pseudonym",
    ),
    Column(
        "foot",
        "word",
        "Which foot: left or right, fore or hind.",
        role="key",
        required=True,
        nullable=False,
        words=("LF", "RF", "LH", "RH"),
        slips=(
            ("FL", "LF"),
            ("FR", "RF"),
            ("HL", "LH"),
            ("HR", "RH"),
            ("NF", "LF"),
            ("OF", "RF"),
            ("NH", "LH"),
            ("OH", "RH"),
        ),
        how="The horse's own left and right: LF left fore, RF right fore, LH left hind, RH right hind.",
    ),
    Column("visit_date", "date", "Day of the visit.", role="key", required=True, nullable=False),
    Column(
        "observer_id",
        "id",
        "Code of whoever measured.",
        role="key",
        required=True,
        nullable=False,
        how="A code, not a name.",
        private="pseudonym",
    ),
    Column(
        "method",
        "word",
        "Instrument or image the reading was taken with.",
        role="key",
        required=True,
        nullable=False,
        words=("gauge", "tape", "photo", "scan", "radiograph"),
        how="One row for each method: measures of different methods are not interchangeable.",
        source="six methods, 62 measures: J Equine Vet Sci 2022;121:104195",
    ),
    Column(
        "replicate",
        "integer",
        "Number of the repeat.",
        role="key",
        possible=(1, 99),
        default=1,
        how="1, 2, ... when the same observer measures the same foot again at the same visit.",
        source=BROAD,
    ),
    Column(
        "days_since_trim",
        "integer",
        "Days since the last trim.",
        unit="days",
        possible=(0, 730),
        plausible=(0, 365),
        how="0 when measured on the day of a trim, after it.",
        source=_PLAUSIBLE,
    ),
)

_ANGLES = (
    _angle(
        "toe_angle_deg", "Angle of the dorsal wall to the ground.", (30, 75), "At the midline, foot on level ground."
    ),
    _angle(
        "heel_angle_deg",
        "Angle of the heel wall or of its horn tubules to the ground.",
        (15, 75),
        "Mean of the medial and the lateral side.",
    ),
    _angle(
        "pastern_angle_deg",
        "Angle of the dorsal line of the pastern to the ground.",
        (30, 80),
        "Horse standing square, cannon bone upright.",
        BROAD,
    ),
)

_LENGTHS = (
    _length(
        "toe_length_mm",
        "Length of the dorsal wall.",
        (20, 250),
        (40, 160),
        "At the midline, from the hairline at the coronet to the ground.",
        _PLAUSIBLE,
    ),
    _length(
        "medial_heel_length_mm",
        "Length of the medial heel wall.",
        *_HEEL_LIMITS,
        "Along the wall, from the hairline to the ground.",
        _PLAUSIBLE,
    ),
    _length(
        "lateral_heel_length_mm",
        "Length of the lateral heel wall.",
        *_HEEL_LIMITS,
        "Along the wall, from the hairline to the ground.",
        _PLAUSIBLE,
    ),
    _length(
        "medial_heel_height_mm", "Height of the medial heel.", (1, 180), (3, 100), "As heel length, but vertically."
    ),
    _length(
        "lateral_heel_height_mm", "Height of the lateral heel.", (1, 180), (3, 100), "As heel length, but vertically."
    ),
    _length(
        "hoof_length_mm", "Length of the sole's outline.", (30, 300), (60, 220), "From the toe to the rearmost bulb."
    ),
    _length("hoof_width_mm", "Width of the sole's outline.", (30, 300), (60, 220), "At the widest part."),
    _length(
        "heel_buttress_width_mm",
        "Width across the heels.",
        (15, 250),
        (30, 150),
        "Between the outer edges of the heel buttresses.",
    ),
    _length(
        "heel_setback_mm",
        "How far the heels lie in front of the bulbs.",
        (0, 150),
        (0, 80),
        "Horizontally, from the rearmost weight-bearing point of the heel to the rearmost point of the bulbs.",
    ),
    _length("frog_length_mm", "Length of the frog.", (20, 250), (50, 180), "From the tip to the base."),
    _length("frog_width_mm", "Width of the frog.", (10, 200), (15, 120), "At the widest part, at the back."),
    _length(
        "coronet_circumference_mm",
        "Circumference of the foot below the coronet.",
        (100, 800),
        (200, 520),
        "With a tape just below the hairline; not the outline on the ground.",
        _PLAUSIBLE,
    ),
    _length(
        "coronet_height_medial_mm",
        "Height of the coronet on the medial side.",
        *_CORONET_LIMITS,
        "From the hairline to the ground at the medial quarter, vertically.",
    ),
    _length(
        "coronet_height_lateral_mm",
        "Height of the coronet on the lateral side.",
        *_CORONET_LIMITS,
        "From the hairline to the ground at the lateral quarter, vertically.",
    ),
)

_SCORES = (
    _score("horn_new", "Quality of the horn grown recently.", 4, "Upper third of the wall: 0 poor, 4 faultless."),
    _score("horn_old", "Quality of the horn grown earlier.", 4, "Lower third of the wall: 0 poor, 4 faultless."),
    _score("frog_condition", "Condition of the frog.", 4, "0 wasted or rotten, 4 full and firm."),
    _score("bar_overgrowth", "Overgrowth of the bars.", 3, "0 none, 3 laid over the sole."),
    _score("heel_purchase", "How far the heels bear on the ground.", 3, "0 not at all, 3 fully."),
    _score("thrush", "Thrush.", 3, "0 none, 3 deep and painful."),
    _score("wall_cracks", "Cracks of the wall.", 3, "0 none, 3 from the ground to the coronet."),
    Column(
        "sole_pigment",
        "word",
        "Pigment of the sole.",
        role="score",
        words=("none", "spots", "symmetric"),
        how="On the cleaned sole: none, scattered spots, or a pattern alike on both halves.",
        source="the study's own anchors",
    ),
)

FEET = Table(
    name="feet",
    meaning="One row a reading: one foot, one visit, one observer, one method, one repeat.",
    key=("horse_id", "foot", "visit_date", "observer_id", "method", "replicate"),
    columns=(*_KEYS, *_ANGLES, *_LENGTHS, *_SCORES),
    relations=(
        Relation(
            "toe angle minus heel angle",
            "toe_angle_deg",
            "heel_angle_deg",
            "difference",
            "deg",
            possible=(-25, None),
            plausible=(-25, 40),
            likely="toe and heel angle look exchanged",
            source=f"limits: {COMMON}",
        ),
        Relation(
            "frog width divided by frog length",
            "frog_width_mm",
            "frog_length_mm",
            "ratio",
            "",
            plausible=(0.2, 1.2),
            source=f"limits: {COMMON}",
        ),
    ),
)

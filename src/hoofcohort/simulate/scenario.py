"""The invented association: its words, habits and calendar.

The Ostrelvale Riding Circle does not exist. Every number here is assumed: made up to be plausible.
"""

from __future__ import annotations

from datetime import date

import numpy as np

NOTICE = (
    "Everything here is invented: the association, its yards, owners, horses, observers and measurements do not exist."
)
SCENARIO = (
    "The Ostrelvale Riding Circle, an association that does not exist, asked two observers to measure the feet of its "
    "members' horses about every twelve weeks. Its yards have habits: what a horse eats, what it walks on and how "
    "often it is trimmed depend on where it lives, though not entirely, and some horses were changed over during the "
    "study."
)

WINDOW_DAYS = 120
FIRST_VISIT = date(2026, 3, 2)
DAYS_BETWEEN_VISITS = 84
ROUND_DAYS = 21
AS_OF = date(2026, 9, 30)

FEET = ("LF", "RF", "LH", "RH")
DIETS = ("hay", "pasture", "concentrate")
TERRAINS = ("soft", "mixed", "hard")
OBSERVERS = ("OBS-A", "OBS-B")
METHODS = ("gauge", "photo")
SHOEING = ("barefoot", "front", "all", "boots")
SEXES = ("mare", "gelding", "stallion")
MASS_METHODS = ("weighed", "tape", "estimated")
PIGMENTS = ("none", "spots", "symmetric")

# Height (cm) and body mass (kg): mean and SD; share of the cohort. Assumed.
BREED_GROUPS = ("pony", "cob", "warmblood", "thoroughbred", "draught", "other")
BREED_SHARES = (0.22, 0.25, 0.22, 0.13, 0.05, 0.13)
BREED_HEIGHT = np.array([(128.0, 7.0), (149.0, 5.0), (166.0, 4.0), (163.0, 4.0), (170.0, 4.0), (152.0, 7.0)])
BREED_MASS = np.array([(310.0, 45.0), (520.0, 45.0), (580.0, 45.0), (500.0, 35.0), (740.0, 60.0), (460.0, 55.0)])

# What a yard tends to do. A row of TERRAIN_HABIT and an entry of TRIM_HABIT belong to a diet: that is the confounding.
DIET_HABIT = (0.38, 0.31, 0.31)
TERRAIN_HABIT = np.array([(0.30, 0.45, 0.25), (0.50, 0.35, 0.15), (0.20, 0.35, 0.45)])
TRIM_HABIT_DAYS = np.array([49.0, 56.0, 42.0])
TRIM_YARD_SD, TRIM_HORSE_SD = 6.0, 9.0
TRIM_LIMITS_DAYS = (28, 98)
SHARE_OF_OWN_MIND = 0.35
TURNOUT_HOURS = np.array([9.0, 19.0, 6.0])
SHOEING_BY_TERRAIN = np.array([(0.80, 0.10, 0.05, 0.05), (0.62, 0.20, 0.10, 0.08), (0.40, 0.28, 0.22, 0.10)])

# Shares of horses with a gap in what is on record.
NO_MANAGEMENT, LATE_MANAGEMENT, BLANK_COLUMN, NO_BODY_MASS = 0.045, 0.06, 0.025, 0.03
# Shares of the planned work that was not done, or done twice.
MISSED_VISIT, MISSED_FOOT, SECOND_OBSERVER, SECOND_REPLICATE = 0.06, 0.025, 0.05, 0.04
NO_DAYS_SINCE_TRIM, NO_MEASUREMENT, NO_SCORE = 0.03, 0.015, 0.03


def id_list(prefix: str, count: int, width: int) -> np.ndarray:
    """Return ``count`` ids such as ``H0001``, zero-padded so that they sort as they are numbered."""
    width = max(width, len(str(count)))
    return np.array([f"{prefix}{number:0{width}d}" for number in range(1, count + 1)], dtype=object)

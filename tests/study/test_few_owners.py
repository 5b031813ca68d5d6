"""Which words of an outcome's variables are withheld."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pandas as pd

from hoofcohort.models import Factor, Shares
from hoofcohort.study.few_owners import withheld_any_day, withheld_words

HORSES = 30
WORDS = ("hay", "pasture", "mixed")


def frame_of(owners=None):
    horse = np.repeat([f"h{n:02}" for n in range(HORSES)], 2)
    return pd.DataFrame(
        {
            "horse_id": horse, "yard_id": [f"y{int(name[1:]) % 10}" for name in horse],
            "owner_id": horse if owners is None else np.repeat(owners, 2),
            "foot": ["LF", "RF"] * HORSES, "visit_date": pd.Timestamp("2026-01-01"),
        }
    )  # fmt: skip


def shares_of(words, name="diet"):
    codes = np.repeat(words, 2)
    return Shares(name, np.eye(len(WORDS))[codes], WORDS)


def terms_of(*variables, exposures=("diet", "terrain")):
    named = {own.name: own for own in variables}
    return SimpleNamespace(variables=named, exposures=tuple(name for name in exposures if name in named))


def test_words_of_many_owners_are_shown_and_those_of_two_take_another_along():
    even = shares_of([n % 3 for n in range(HORSES)])
    assert withheld_words(frame_of(), terms_of(even), 3) == {"diet": ()}
    rare = shares_of([0] * 20 + [1] * 2 + [2] * 8)
    assert withheld_words(frame_of(), terms_of(rare), 3) == {"diet": ("pasture", "mixed")}
    assert withheld_words(frame_of(), terms_of(rare), 2) == {"diet": ()}
    assert withheld_words(frame_of(["one"] * 10 + list("abcdefghijklmnopqrst")), terms_of(
        shares_of([0] * 10 + [1] * 10 + [2] * 10)), 3) == {"diet": ("hay", "pasture")}  # fmt: skip


def test_an_exposure_does_not_tell_what_another_withholds():
    diet, terrain = [0] * 20 + [1] * 2 + [2] * 8, [0] * 22 + [2] * 8
    found = withheld_words(frame_of(), terms_of(shares_of(diet), shares_of(terrain, "terrain")), 3)
    assert {"pasture", "mixed"} <= set(found["diet"])
    left = [np.array(diet) == place for place, word in enumerate(WORDS) if word not in found["diet"]]
    left += [np.array(terrain) == place for place, word in enumerate(WORDS) if word not in found["terrain"]]
    assert not any((own ^ other).sum() == 2 for own in left for other in left)


def test_a_word_of_an_adjustment_is_counted_by_readings():
    method = Factor("method", np.array([1, 1, *[0] * 58]), ("gauge", "photo"))
    assert withheld_words(frame_of(), terms_of(method), 3) == {"method": ("gauge", "photo")}


def test_horses_on_two_words_are_not_told_by_the_sum_of_both():
    matrix = np.repeat(np.eye(3)[[n % 3 for n in range(HORSES)]], 2, axis=0)
    assert withheld_any_day(frame_of(), terms_of(Shares("diet", matrix, WORDS)), 3) == {"diet": ()}
    changed = matrix.copy()
    changed[0] = [0.8, 0.2, 0.0]
    terms = terms_of(Shares("diet", changed, WORDS))
    assert withheld_words(frame_of(), terms, 3) == {"diet": ()}
    assert len(withheld_any_day(frame_of(), terms, 3)["diet"]) == 1

"""What is shown of overlapping sets cannot be combined to a number that rests on few owners."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from hoofcohort.privacy.joint import few, withhold


def parted(labels):
    labels = np.asarray(labels)
    return [labels == one for one in sorted(set(labels.tolist()))]


def tells(masks, owners, fewest):
    """Whether leaving out some few owners' members makes sums depend on each other that did not: then they tell."""
    rows, owners = np.array(masks, float), np.asarray(owners)
    full = np.linalg.matrix_rank(rows)
    return any(
        np.linalg.matrix_rank(rows[:, ~np.isin(owners, chosen)]) < full
        for size in range(1, fewest)
        for chosen in combinations(sorted(set(owners.tolist())), size)
    )


def shown(partings, out):
    members = len(next(iter(partings.values()))[0])
    left = [mask for name, sets in partings.items() for mask, gone in zip(sets, out[name], strict=True) if not gone]
    return [np.ones(members, bool), *left]


@pytest.mark.parametrize("start", range(60))
def test_no_combination_of_what_is_shown_tells_of_few_owners(start):
    draw = np.random.default_rng(start)
    members, fewest = int(draw.integers(8, 24)), int(draw.integers(2, 4))
    owners = draw.integers(0, members // 2 + 3, members)
    owners[:4] = range(4)
    partings = {name: parted(draw.integers(0, draw.integers(2, 5), members)) for name in ("diet", "terrain", "trim")}
    out = withhold(partings, [f"w{one}" for one in owners], fewest)
    assert not tells(shown(partings, out), owners, fewest)


def test_what_two_exposures_lack_is_not_told_by_their_difference():
    owners = [f"w{number}" for number in range(20)]
    diet = parted(["none"] * 6 + ["hay"] * 14)
    terrain = parted(["none"] * 5 + ["soft"] * 15)
    alone = [withhold({"one": sets}, owners, 3)["one"] for sets in (diet, terrain)]
    assert not any(map(any, alone))
    assert sum(map(any, withhold({"diet": diet, "terrain": terrain}, owners, 3).values())) == 1


def test_unlike_exposures_of_many_owners_are_shown_whole():
    draw = np.random.default_rng(0)
    partings = {name: parted(draw.integers(0, 3, 60)) for name in ("diet", "terrain", "trim")}
    assert not any(map(any, withhold(partings, [f"w{one}" for one in range(60)], 3).values()))


def test_sets_that_overlap_need_no_sum():
    owners = [f"w{number}" for number in range(10)]
    often = np.array([True] * 8 + [False] * 2)
    assert withhold({"diet": [often]}, owners, 3, overlap=True) == {"diet": [True]}
    assert withhold({"diet": [often]}, owners, 2, overlap=True) == {"diet": [False]}
    assert withhold({"diet": [~often & False]}, owners, 3, overlap=True) == {"diet": [False]}


def test_spellings_of_one_owner_and_unknown_owners_do_not_make_a_set_safe():
    owners = ["Ash", "ASH", "ash ", None, None, *"abcdefgh"]
    sets = [np.arange(13) < 5, np.arange(13) >= 5]
    assert withhold({"diet": sets}, owners, 3) == {"diet": [True, True]}
    assert few(owners[:5], 3)
    assert not few([], 3)
    assert not few("abc", 3)

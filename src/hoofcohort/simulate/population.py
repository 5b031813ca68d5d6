"""Yards, owners and horses of the invented cohort."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hoofcohort.simulate import scenario as sc


@dataclass(frozen=True)
class Population:
    """Horses in yard order; every array has shape (horses,) unless said otherwise.

    Attributes
    ----------
    yards : int
    yard, owner, sex, breed, mass_method : int arrays
        Codes into the words of ``scenario``.
    birth_year : int array
    body_mass_kg, height_cm : float arrays
        True values; ``mass_unknown`` marks horses whose mass is not on record.
    ueln, microchip : object arrays of text, or None where there is none
    """

    yards: int
    yard: np.ndarray
    owner: np.ndarray
    birth_year: np.ndarray
    sex: np.ndarray
    breed: np.ndarray
    body_mass_kg: np.ndarray
    mass_unknown: np.ndarray
    mass_method: np.ndarray
    height_cm: np.ndarray
    ueln: np.ndarray
    microchip: np.ndarray

    def __len__(self) -> int:
        return len(self.yard)


def draw_population(rng: np.random.Generator, horses: int, yards: int) -> Population:
    """Draw yards of unequal size, owners with one or several horses in one yard, and the horses themselves."""
    yard = _yard_of_each_horse(rng, horses, yards)
    first_of_yard = np.r_[True, yard[1:] != yard[:-1]]
    owner = np.cumsum(first_of_yard | (rng.random(horses) < 0.6)) - 1
    breed = rng.choice(len(sc.BREED_GROUPS), size=horses, p=sc.BREED_SHARES)
    size = rng.standard_normal(horses)
    build = 0.6 * size + 0.8 * rng.standard_normal(horses)
    mass = np.clip(np.round(sc.BREED_MASS[breed, 0] + sc.BREED_MASS[breed, 1] * build), 120, 1000)
    height = np.clip(np.round(sc.BREED_HEIGHT[breed, 0] + sc.BREED_HEIGHT[breed, 1] * size), 95, 190)
    age = np.clip(np.round(4 + rng.gamma(2.6, 3.4, horses)), 4, 28).astype(np.int64)
    return Population(
        yards=yards,
        yard=yard,
        owner=owner,
        birth_year=sc.FIRST_VISIT.year - age,
        sex=rng.choice(len(sc.SEXES), size=horses, p=(0.46, 0.5, 0.04)),
        breed=breed,
        body_mass_kg=mass,
        mass_unknown=pick_horses(rng, horses, [sc.NO_BODY_MASS])[0],
        mass_method=rng.choice(len(sc.MASS_METHODS), size=horses, p=(0.2, 0.65, 0.15)),
        height_cm=height,
        # 999 is no country of ISO 3166-1 and no maker of ISO 11784 chips (from memory, not verified): none is real.
        ueln=_codes(rng, "999001", 9, horses, 0.55),
        microchip=_codes(rng, "999000", 9, horses, 0.8),
    )


def pick_horses(rng: np.random.Generator, horses: int, shares: list[float]) -> np.ndarray:
    """Mark disjoint sets of horses, each of exactly the rounded share; bool of shape (len(shares), horses)."""
    order = rng.permutation(horses)
    ends = np.cumsum([round(share * horses) for share in shares])
    marked = np.zeros((len(shares), horses), dtype=bool)
    for row, (start, end) in enumerate(zip(np.r_[0, ends[:-1]], ends, strict=True)):
        marked[row, order[start:end]] = True
    return marked


def _yard_of_each_horse(rng: np.random.Generator, horses: int, yards: int) -> np.ndarray:
    popularity = rng.gamma(12.0, 1.0, yards)
    sizes = 1 + rng.multinomial(horses - yards, popularity / popularity.sum())
    return np.repeat(np.arange(yards), sizes)


def _codes(rng: np.random.Generator, prefix: str, digits: int, count: int, share: float) -> np.ndarray:
    numbers = rng.integers(0, 10**digits, count)
    has_code = rng.random(count) < share
    return np.array(
        [f"{prefix}{n:0{digits}d}" if has else None for n, has in zip(numbers, has_code, strict=True)], object
    )

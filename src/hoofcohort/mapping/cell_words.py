"""What members write in their cells for our words, in four languages: from memory of the trade's talk."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from hoofcohort.mapping.column_reading import plain

WORDS: Mapping[str, Mapping[str, tuple[str, ...]]] = {
    "foot": {
        "LF": (
            "fl",
            "nf",
            "lv",
            "vl",
            "ag",
            "left fore",
            "left front",
            "near fore",
            "front left",
            "vorne links",
            "links vorn",
        ),
        "RF": ("fr", "of", "rv", "vr", "ad", "right fore", "right front", "off fore", "front right", "vorne rechts"),
        "LH": (
            "nh",
            "hl",
            "la",
            "pg",
            "left hind",
            "left back",
            "near hind",
            "hind left",
            "hinten links",
            "links achter",
        ),
        "RH": ("oh", "hr", "ra", "pd", "right hind", "right back", "off hind", "hind right", "hinten rechts"),
    },
    "sex": {
        "mare": ("m", "f", "female", "filly", "stute", "jument", "merrie"),
        "gelding": ("g", "wallach", "hongre", "ruin"),
        "stallion": ("s", "entire", "colt", "hengst", "étalon"),
    },
    "breed_group": {
        "thoroughbred": ("tb", "xx", "vollblut", "pur-sang"),
        "warmblood": ("wb", "warmblut", "sport horse", "hanoverian", "kwpn"),
        "pony": ("ponies", "poney", "welsh", "shetland", "connemara"),
        "draught": ("draft", "shire", "heavy", "kaltblut", "trait"),
        "cob": ("gypsy cob", "irish cob", "tinker"),
        "other": ("cross", "mix", "x"),
    },
    "body_mass_method": {
        "weighed": ("scale", "scales", "waage", "balance"),
        "tape": ("weight tape", "weigh tape", "maßband"),
        "estimated": ("estimate", "guess", "eye", "geschätzt", "estimé"),
    },
    "diet": {
        "pasture": ("grass", "grazing", "paddock", "field", "weide", "gras", "herbe", "pré"),
        "hay": ("haylage", "heu", "foin", "hooi"),
        "concentrate": (
            "concentrates",
            "hard feed",
            "grain",
            "oats",
            "kraftfutter",
            "hafer",
            "concentré",
            "krachtvoer",
        ),
    },
    "terrain": {
        "soft": ("grass", "wet", "weich", "mou", "zacht"),
        "hard": ("road", "stones", "stony", "hart", "dur", "verhard"),
        "mixed": ("both", "varied", "gemischt", "mixte", "gemengd"),
    },
    "shoeing": {
        "barefoot": ("no", "none", "unshod", "bare", "barfuß", "barhuf", "pieds nus", "blote voeten"),
        "front": ("fronts", "front only", "fore", "vorne", "devant"),
        "all": ("yes", "full set", "shod", "four", "rundum", "les quatre"),
        "boots": ("boot", "hufschuhe", "hipposandales"),
    },
    "method": {
        "gauge": ("angle gauge", "hoof gauge", "winkelmesser"),
        "tape": ("measuring tape", "tape measure", "maßband", "ruler"),
        "photo": ("photograph", "picture", "image", "foto"),
        "scan": ("3d", "3d scan", "scanner"),
        "radiograph": ("x-ray", "xray", "radiography", "röntgen", "radio"),
    },
}
"""Our column, our word, and theirs. A guess for a person to check: none is used unless a mapping says so."""


def likely_ours(column: str, word: str) -> str:
    """Return our word of a column that a member's most likely stands for; empty when that is not known."""
    spellings = WORDS.get(column, {}).items()
    return next((ours for ours, theirs in spellings if plain(word) in map(plain, theirs)), "")


def numbered_words(told: Iterable[str]) -> str:
    """Return what to do where whole numbers stand for words in every text given; else nothing."""
    if all(word.isdecimal() for word in told):
        return "; if a statistics program wrote numbers for words, export the words"
    return ""

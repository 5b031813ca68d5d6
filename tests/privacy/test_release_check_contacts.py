"""Telephone numbers and places are found as people write them; numbers of a study are neither."""

from __future__ import annotations

import json

import pytest

from hoofcohort.cli import main
from hoofcohort.privacy.patterns import find_patterns

PLACES = [
    "52.37021, 4.89517",
    "at 51.50722, -0.12758.",
    "[52.37021, 4.89517]",
    json.dumps({"type": "Point", "at": [4.89517, 52.37021]}),
    '{"coordinates": [\n  4.89517,\n  52.37021\n]}',
    'a,"52.37021,4.89517"',
    "geo:52.37021,4.89517",
    "POINT(4.89517 52.37021)",
    "example.org/?q=52.37021,4.89517",
    "example.org/?z=3&amp;ll=52.37021%2C4.89517",
    "example.org/@52.37021,4.89517,15z",
    "example.org/#map=15/52.37021/4.89517",
    "example.org/?mlat=52.37021&mlon=4.89517",
    "N 52.37021 E 4.89517",
    "N52.37021, E4.89517",
    "N 52° 22.213 E 004° 53.710",
    "lat 52.37021 lon 4.89517",
    "Lat: 52.370 long: 4.895",
    "latitude 52.37021",
    "GPS (52.370 4.895)",
]
NUMBERS = [
    "+31612345678",
    "0612345678",
    "07700900123",
    "0031612345678",
    "06-12345678",
    "06 12345678",
    "06 1234 5678",
    "06 12 34 56 78",
    "06\u00a012345678",
    "020-1234567",
    "(020) 123 4567",
    "+31 (0)6 12345678",
    "tel:0612345678",
    "phone 555-123-4567",
    "4,0612345678,5",
]


@pytest.fixture
def originals(tmp_path):
    folder = tmp_path / "originals"
    folder.mkdir()
    (folder / "horses.csv").write_text("horse_id,yard_id,owner_id\nZorblax,Oakenmill,Vandrelsen\n")
    (folder / "management.csv").write_text("horse_id,from_date,diet,terrain,trim_interval_days\n")
    (folder / "feet.csv").write_text("horse_id,foot,visit_date,observer_id,method\n")
    return folder


def check(tmp_path, originals, text):
    """Write a release of one text and check it: the exit status."""
    (tmp_path / "release").mkdir(exist_ok=True)
    (tmp_path / "release/a.txt").write_text(text, encoding="utf-8")
    return main(["release-check", str(tmp_path / "release"), "--against", str(originals)])


@pytest.mark.parametrize("text", PLACES)
def test_a_place_is_found_as_people_write_it(tmp_path, originals, capsys, text):
    assert check(tmp_path, originals, f"the yard: {text}\n") == 1
    assert "looks like coordinates" in capsys.readouterr().out


@pytest.mark.parametrize("text", NUMBERS)
def test_a_telephone_number_is_found_as_people_write_it(tmp_path, originals, capsys, text):
    assert check(tmp_path, originals, f"ring {text}\n") == 1
    assert "looks like a telephone number" in capsys.readouterr().out


@pytest.mark.parametrize(
    "text",
    [
        "hay,52.37021,4.89517\n",
        "95% interval (0.12345, 0.56789)",
        "[52.37021, 4.89517, 3.12345]",
        "1.23456, 52.37021, 4.89517",
        "[\n 52.37021,\n 4.89517\n]",
        "52.3702, 4.8951%",
        "<path d='M 52.37021, 4.89517'/>",
        '<path d="M 52.37021, 4.89517"/>',
        '<polyline points="52.37021, 4.89517"/>',
        "lat 52.4 med 11.2",
        "mean 12.3456 SE 1.2345 E 0.12",
        "digits 0123456789, 0.0612345678 and 1e+12345678 and -0.0612345678",
        "horse 0000000001",
        "2026-03-14 01-02-2026 14.03.2026 02:24:39",
        "sha256:0612345678ab12",
        "6.12345678 061234567",
    ],
)
def test_numbers_of_a_study_are_neither(text):
    assert list(find_patterns(text)) == []


def test_what_may_be_a_place_and_is_not_sought_is_said(tmp_path, originals, capsys):
    assert check(tmp_path, originals, "hay,52.37021,4.89517\n") == 0
    assert "not searched: two numbers that may be a place" in capsys.readouterr().out

"""Masses that may be in pounds: never by a height that comes back, nor where the cell names its unit."""

from __future__ import annotations

import pytest
from mapped_sheets import sheet, told

from hoofcohort.mapping import slips
from hoofcohort.mapping.convert import convert
from hoofcohort.mapping.mapping import Mapping, To

HORSE = {"horse_id": "H1", "yard_id": "Y", "owner_id": "W"}


def reasons(mass, height):
    mapping = Mapping(
        table="horses", columns={name: To(to=name) for name in ("body_mass_kg", "height_cm")}, constants=HORSE
    )
    converted = convert(sheet(["body_mass_kg", "height_cm"], [[mass, height]]), mapping)
    slips.check(converted)
    return [reason for _, reason, remedy in told(converted) if "pounds" in remedy], converted


@pytest.mark.parametrize("mass", ["450 lb", "450 kg", "450"])
@pytest.mark.parametrize("height", ["15.2", "1.52"])
def test_a_height_that_comes_back_makes_no_mass_heavy(mass, height):
    found, converted = reasons(mass, height)
    assert found == []
    assert any(fault.column == "height_cm" for fault in converted.faults)


@pytest.mark.parametrize(("mass", "doubted"), [("450", ["likely_unit"]), ("450 kg", []), ("992 lb", [])])
def test_a_cell_that_names_its_unit_is_not_doubted(mass, doubted):
    assert reasons(mass, "110")[0] == doubted

from __future__ import annotations

from mapped_sheets import sheet

from hoofcohort.mapping.convert import convert
from hoofcohort.mapping.flat import split
from hoofcohort.mapping.mapping import Mapping, To


def test_a_first_day_that_the_mapping_gives_every_row_is_named_by_our_column():
    header = ["horse_id", "foot", "visit_date", "diet"]
    constants = {"observer_id": "O", "method": "gauge", "owner_id": "W", "yard_id": "Y", "from_date": "2026-01-01"}
    mapping = Mapping(table="flat", columns={name: To(to=name) for name in header}, constants=constants)
    rows = [["a", "LF", "2026-03-03", "hay"], ["a", "LF", "2026-04-03", "pasture"]]
    converted = convert(sheet(header, rows), mapping)
    split(converted)
    (remedy,) = {fault.remedy for fault in converted.faults}
    assert "write in 'from_date' of the later rows" in remedy

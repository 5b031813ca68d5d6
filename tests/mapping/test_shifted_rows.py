"""A comma inside a number parts it in two cells; where the row ends early, its cells are as many as the headers."""

from __future__ import annotations

import pytest
from mapped_sheets import FEET_CONSTANTS, told

from hoofcohort.mapping.convert import convert
from hoofcohort.mapping.mapping import Mapping, To
from hoofcohort.mapping.slips import check
from hoofcohort.sheets.read import read_sheets

HEADER = ["visit_date", "toe_angle_deg", "heel_angle_deg", "toe_length_mm", "medial_heel_length_mm"]
WIDE = ["2026-03-20,51,5,46,88,40", "2026-03-21,51,46,5,88,40", "2026-03-22,51,5,46,5,88,40"]
SHIFTED = "2026-03-14,50,5,46,88"


def found(tmp_path, rows, separator=","):
    path = tmp_path / "feet.csv"
    path.write_text("\n".join([",".join(HEADER), *rows, ""]).replace(",", separator), encoding="utf-8")
    (sheet,) = read_sheets(path)
    constants = {key: value for key, value in FEET_CONSTANTS.items() if key not in HEADER}
    mapping = Mapping(table="feet", columns={name: To(to=name) for name in HEADER}, constants=constants)
    converted = convert(sheet, mapping)
    check(converted)
    return [(line, remedy) for line, reason, remedy in told(converted) if reason == "row_may_be_shifted"]


def test_a_row_that_ends_early_is_doubted_beside_rows_with_too_many_cells(tmp_path):
    ((line, remedy),) = found(tmp_path, [*WIDE, SHIFTED, "2026-03-15,50,46,88,41"])
    assert line == 5
    assert "may hold 50,5 in two cells, with one missing at its end" in remedy


@pytest.mark.parametrize(
    ("rows", "separator"),
    [
        ([SHIFTED, "2026-03-15,50,46,88,41"], ","),
        (["2026-03-20,51,46,88,40,why not", SHIFTED], ","),
        ([*WIDE, SHIFTED], ";"),
        ([*WIDE, "2026-03-15,50,46,88,41"], ","),
    ],
    ids=["no other row", "too many cells for another reason", "another separator", "a row of whole numbers"],
)
def test_other_rows_are_not(tmp_path, rows, separator):
    assert found(tmp_path, rows, separator) == []

"""Say of an empty cell that must be filled that it was merged with others, and what the first of them holds."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import replace

from hoofcohort.mapping.converted import CellFault, Converted
from hoofcohort.sheets.sheet import Merged, Sheet


def tell_merged(converted: Converted, sheet: Sheet) -> None:
    """Put what to do about merged cells in the place of asking for each empty one of them to be filled in."""
    if sheet.merged and any(fault.reason == "missing_value" for fault in converted.faults):
        ranges = {position: _of_column(sheet, position) for position in sheet.positions}
        converted.faults[:] = [_reworded(fault, ranges.get(fault.position, [])) for fault in converted.faults]


def _of_column(sheet: Sheet, position: int) -> list[tuple[int, Merged, str]]:
    """Return the merged ranges over a column that hold a value in their first row, by their first line."""
    place = sheet.positions.index(position)
    values = dict(zip(sheet.lines.tolist(), sheet.columns[place].tolist(), strict=True))
    found = [one for one in sheet.merged if one.position == position and values.get(one.first)]
    return sorted((one.first, one, values[one.first]) for one in found)


def _reworded(fault: CellFault, ranges: list[tuple[int, Merged, str]]) -> CellFault:
    place = bisect_right(ranges, fault.line, key=lambda own: own[0]) - 1
    if fault.reason != "missing_value" or place < 0:
        return fault
    _, merged, value = ranges[place]
    if not merged.first < fault.line <= merged.last:
        return fault
    remedy = f"cells {merged.cells} are merged, so that only the first holds '{value}'; part them and write it in each"
    return replace(fault, remedy=remedy)

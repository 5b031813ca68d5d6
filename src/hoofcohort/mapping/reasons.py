"""How grave each finding about a member's cell is, and what it is in one plain sentence."""

from __future__ import annotations

from typing import Literal

from hoofcohort.intake.reasons import REASONS

Severity = Literal["error", "warning", "note"]

_ERRORS = {
    "ambiguous_number": "The mark can part thousands or decimals, and no other cell of the column decides.",
    "ambiguous_date": "Day and month cannot be told apart, and no other cell of the column decides.",
    "ambiguous_year": "Day and year cannot be told apart, and no other cell of the column decides.",
    "range_of_values": "The cell holds two values where one is asked for.",
    "hands_fraction": "After the point of a height in hands stand inches, and a hand has four.",
    "unit_does_not_fit": "The unit written in the cell cannot be one of this column.",
    "formula_without_result": "The cell holds a formula whose result the file does not hold.",
    "error_in_cell": "The cell holds a spreadsheet's error where a value should be.",
    "impossible_index": "What follows from several cells of the row is not possible.",
    "contradiction": "Rows about the same thing say different things.",
}
_WARNINGS = {
    "approximate": "The value is marked as approximate; it is kept as it stands.",
    "other_mark": "The number is written with another decimal mark than the mapping says; it can mean only one value.",
    "serial_date": "The date was a spreadsheet's number among dates written out.",
    "date_may_be_exchanged": "A spreadsheet may have exchanged day and month of the date.",
    "row_may_be_shifted": "A decimal comma may have moved the cells behind it by one.",
    "code_is_a_date": "The code is a date; a spreadsheet may have made one of it.",
    "implausible_value": "The value is possible but not plausible.",
    "implausible_index": "What follows from several cells of the row is possible but not plausible.",
    "unlike_foot": "The value is unusual for a fore or hind foot, or for a horse of this size.",
    "likely_unit": "The value would be usual in another unit.",
    "decimal_slip": "The value would be usual with its decimal point one place further.",
    "angles_exchanged": "Toe and heel angle look exchanged beside the horse's other readings.",
    "sides_exchanged": "Left and right look exchanged beside the horse's other visits.",
    "medial_lateral_exchanged": "The medial and the lateral measures look exchanged beside the foot's other readings.",
    "day_month_slip": "Day and month look exchanged beside the visit's other rows.",
    "outlier": "The value lies far from the horse's other readings of the same foot.",
    "changed_over_time": "A detail of the horse changes between visits; the latest is taken.",
    "registered_twice": "Another member registered the horse otherwise in the same round.",
    "others_horse": "Only another member registered a horse of this code.",
    "far_ahead": "The date lies more than a year after those of the other members.",
    "moved": "The horse was registered otherwise in an earlier round.",
}
_NOTES = {
    "taken_as_missing": "The cell says that there is no value; it is taken as empty.",
    "day_first": "The date has points between its numbers; it was read as day, month, year.",
    "unit_in_cell": "The cell names its unit; the value was read in that unit.",
    "spaces_removed": "Blanks or signs inside a number that must be written in one were taken out.",
    "same_horse": "By its UELN or microchip, the horse is already known under another code.",
    "replaces_row": "The row replaces an earlier one of another file.",
    "said_twice": "The row says what another row says already.",
}
_INTAKE = {code: sentence for code, sentence in REASONS.items() if code != "decimal_comma"}
"""The intake never sees a decimal comma of a member: the mapping has read it, or said why not."""
SENTENCES: dict[str, str] = _INTAKE | _ERRORS | _WARNINGS | _NOTES
"""Code to sentence; the intake's own reasons that a member can be told are among them."""
SEVERITY: dict[str, Severity] = {
    **dict.fromkeys(_INTAKE | _ERRORS, "error"),
    **dict.fromkeys(_WARNINGS, "warning"),
    **dict.fromkeys(_NOTES, "note"),
}
"""Code to severity. An error returns the row, a warning asks for a second look, a note only informs."""

"""Why a row can be rejected: a fixed set of codes, each with one plain sentence."""

from __future__ import annotations

REASONS: dict[str, str] = {
    "example_row": "The row is the example of the template.",
    "ragged_row": "The row has more or fewer cells than the header has columns.",
    "missing_value": "A cell that must be filled is empty.",
    "bad_text": "A code holds a line break, a tab or another control character.",
    "bad_format": "The text does not have the form that the column asks for.",
    "unknown_word": "The word is none of those that the column allows.",
    "not_a_number": "The cell must hold a number and nothing else.",
    "decimal_comma": "The number is written with a decimal comma; only a decimal point is read.",
    "not_whole": "The number must be whole.",
    "wrong_unit": "The number is not possible in the column's unit, but would be usual in another unit.",
    "impossible_value": "The value is outside what is possible.",
    "not_a_date": "The cell must hold a date written YYYY-MM-DD.",
    "day_month_exchanged": "There is no such month, but there is such a date with day and month exchanged.",
    "impossible_date": "There is no such day in the calendar.",
    "future_date": "The date is later than the day that the data cannot be later than.",
    "before_birth": "The visit is earlier than the horse's year of birth.",
    "ends_before_start": "The stretch of days ends before it starts.",
    "cells_exchanged": "Two cells of the row look exchanged.",
    "impossible_pair": "Two cells of the row cannot both be right.",
    "horse_not_registered": "The horse is not in the table of horses.",
    "horse_rejected": "The horse is in the table of horses, but its row there was rejected.",
    "duplicate_row": "An accepted row on an earlier line is about the same thing.",
    "overlap": "The stretch of days overlaps another one of the same horse on an earlier line.",
}
"""Code to sentence. What to do about one case stands in that case's remedy."""

"""A row of units is told from data however its units are written."""

import pytest

from hoofcohort.sheets.header import unit_text, units_of
from hoofcohort.sheets.unit_words import SPELLINGS
from hoofcohort.tables import TABLES

OURS = sorted({column.unit for table in TABLES.values() for column in table.columns if column.unit})


@pytest.mark.parametrize("word", [*OURS, *(word for words in SPELLINGS.values() for word in words)])
def test_every_unit_that_a_mapping_knows_or_a_template_prints_makes_a_row_of_units(word):
    assert unit_text(f" ({word.upper()}) ".strip())
    assert units_of(["", word, "text"])


def test_a_row_with_a_word_of_data_is_none():
    assert not units_of(["mm", "pasture"])
    assert not units_of(["text", "code"])

"""Whatever stands in a cell, it is converted, noted or returned with a reason; none vanishes, none is invented."""

from __future__ import annotations

import re

from hypothesis import given, settings
from hypothesis import strategies as st
from mapped_sheets import sheet

from hoofcohort.intake.cells import DATE, NUMBER
from hoofcohort.mapping import slips
from hoofcohort.mapping.convert import convert
from hoofcohort.mapping.flat import split
from hoofcohort.mapping.mapping import Mapping, To, targets
from hoofcohort.mapping.reasons import SEVERITY
from hoofcohort.sheets.sheet import Ragged

COLUMNS = {
    "horse_id": {},
    "foot": {"words": {"near fore": "LF", "VR": "RF"}},
    "visit_date": {},
    "toe_length_mm": {"unit": "cm"},
    "toe_angle_deg": {},
    "heel_angle_deg": {"decimal": ","},
    "wall_cracks": {"words": {"none": "0"}},
    "birth_year": {"unit": "date"},
    "sex": {},
    "height_cm": {"unit": "hands"},
    "microchip": {},
    "trim_interval_days": {"unit": "months"},
}
MAPPING = Mapping(
    table="flat",
    columns={f"their {name}": To(to=name, **to) for name, to in COLUMNS.items()},  # type: ignore[arg-type]
    constants={"observer_id": "O", "method": "gauge", "yard_id": "Y", "owner_id": "W", "diet": "hay"},
)
TEXTS = """
H1 H2 LF vr near_fore 03/04/2026 13/04/2026 2026-03-04 4.13.26 46115 52 8,3 1.234 ~50 50? 50-52 - ? n/a none fifty 5.2cm
52mm 15.2 15.7 1/2 5_1/4" mare Stallion 999000000000001 9.99E+14 2010 3_April_2010 =1+1 '52 −3 0 00 1e5 NaN inf １２ ٣ ²
1'234,5 999999999999999999999999 9999999999999999999999999999999
"""
LIKELY = st.sampled_from([text.replace("_", " ") for text in TEXTS.split()])
ANY = st.text(alphabet=st.characters(exclude_categories=["Cs"]), max_size=8)
CELL = st.one_of(st.just(""), LIKELY, ANY).map(str.strip)
KNOWN_WORDS = tuple({"foot": "LF", "sex": "mare"}.get(name, "") for name in COLUMNS)
"""A file of whose words none is known is refused as a whole; this row keeps that from happening."""
ROWS = st.lists(st.tuples(*[CELL] * len(COLUMNS)), max_size=6).map(lambda rows: [*rows, KNOWN_WORDS])


def well_formed(name, text):
    column = targets("flat")[name]
    if column.kind == "date":
        return re.fullmatch(DATE, text)
    if column.kind in ("number", "integer"):
        return re.fullmatch(NUMBER, text) and (column.kind == "number" or float(text) % 1 == 0)
    return not column.words or text in column.words


@settings(max_examples=150, deadline=None)
@given(ROWS, st.booleans())
def test_every_cell_is_converted_noted_or_returned(rows, typed):
    converted = convert(sheet(list(MAPPING.columns), rows, typed, [Ragged(99, ("a", "b"))]), MAPPING)
    entries = [*converted.faults, *converted.notes]
    told = {(entry.line, entry.column): entry for entry in entries}
    assert len(told) == len(entries)
    assert (99, "") in told
    for number, cells in enumerate(rows):
        for name, written in zip(COLUMNS, cells, strict=True):
            value = converted.frame[name].iloc[number]
            entry = told.get((number + 2, name))
            assert converted.original[name].iloc[number] == written
            assert entry is None or (entry.value, entry.header) == (written, f"their {name}")
            if value:
                assert well_formed(name, value), (name, written, value)
                assert entry is None or SEVERITY[entry.reason] != "error"
            elif written:
                assert entry is not None
                assert SEVERITY[entry.reason] == "error" or entry.reason == "taken_as_missing"


@settings(max_examples=80, deadline=None)
@given(ROWS)
def test_every_row_of_a_flat_sheet_is_a_reading_or_comes_back(rows):
    converted = convert(sheet(list(MAPPING.columns), rows), MAPPING)
    slips.check(converted)
    parts = split(converted)
    returned = {fault.line for fault in converted.faults}
    accepted = parts["feet"].frame["line"].tolist()
    assert sorted([*accepted, *returned]) == list(range(2, len(rows) + 2))
    assert set(parts["horses"].frame["horse_id"]) == set(parts["feet"].frame["horse_id"])
    assert parts["horses"].frame["horse_id"].is_unique
    assert all(entry.reason in SEVERITY for entry in [*converted.faults, *converted.notes])


@settings(max_examples=40, deadline=None)
@given(ROWS, st.randoms(use_true_random=False))
def test_the_order_of_rows_changes_no_value(rows, random):
    order = list(range(len(rows)))
    random.shuffle(order)
    first = convert(sheet(list(MAPPING.columns), rows), MAPPING).frame.drop(columns="line")
    second = convert(sheet(list(MAPPING.columns), [rows[place] for place in order]), MAPPING).frame.drop(columns="line")
    assert first.iloc[order].to_numpy().tolist() == second.to_numpy().tolist()

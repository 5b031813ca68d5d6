"""What conversion accepts, the study's own strict intake accepts cell by cell."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
from mapped_sheets import sheet

from hoofcohort.intake.run import take_in
from hoofcohort.mapping.convert import convert
from hoofcohort.mapping.mapping import own_mapping
from hoofcohort.mapping.slips import check
from hoofcohort.tables import TABLES

DATA = Path(__file__).parents[2] / "synthetic_data"
BETWEEN_ROWS = {
    "duplicate_row",
    "overlap",
    "horse_not_registered",
    "horse_rejected",
    "before_birth",
    "ends_before_start",
    "ragged_row",
}


def test_the_demos_rows_pass_through_to_the_intake(tmp_path):
    returned = {}
    for name, table in TABLES.items():
        cells = pd.read_csv(DATA / f"{name}.csv", dtype=str, keep_default_na=False)
        read = sheet(list(cells.columns), cells.to_numpy(dtype=object).tolist())
        mapping = own_mapping(read)
        assert mapping is not None
        assert mapping.table == name
        converted = convert(read, mapping)
        check(converted)
        converted.frame.loc[~converted.bad, list(table.names)].to_csv(tmp_path / f"{name}.csv", index=False)
        returned[name] = {fault.reason for fault in converted.faults}
    intake = take_in({name: tmp_path / f"{name}.csv" for name in TABLES})
    assert {reason for _, _, _, _, reason, _, _ in intake.rejects} <= BETWEEN_ROWS
    assert returned["feet"] >= {
        "wrong_unit",
        "unknown_word",
        "impossible_date",
        "day_month_exchanged",
        "cells_exchanged",
    }
    assert len(intake.frames["feet"]) > 700

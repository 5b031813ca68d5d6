"""Whatever the files hold: no row is lost, and every reject stands where it says."""

from __future__ import annotations

import csv
import io
import tempfile
from pathlib import Path

import numpy as np
import pandas as pd
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from small_files import FEET, HORSES, MANAGEMENT

from hoofcohort.errors import InputError
from hoofcohort.intake.ledger import check_sums
from hoofcohort.intake.run import take_in
from hoofcohort.tables import TABLES

QUIET = settings(max_examples=60, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow])
HORSE_IDS = ["H1", "H2", "H3"]
SLIPS = [
    "",
    " ",
    "?",
    "x\ny",
    "1,5",
    "-4",
    "1e9",
    "=1+1",
    "2026-02-30",
    "2026-17-04",
    "FL",
    "é\t",
    'a"b',
    "9" * 30,
    "0",
]


def allowed(column):
    """Cells that a column allows, some with a blank before them."""
    low, high = column.possible or (0, 9)
    good = {
        "word": st.sampled_from(column.words or ("",)),
        "date": st.dates(pd.Timestamp("2020-01-01").date(), pd.Timestamp("2020-03-31").date()).map(str),
        "number": st.floats(low, high).map(lambda value: f"{value:.1f}"),
        "integer": st.integers(low, min(high, low + 4)).map(str),
        "text": st.just("000000000000000"),
        "id": st.sampled_from(HORSE_IDS),
    }[column.kind]
    return st.tuples(st.sampled_from(["", "", " "]), good).map("".join)


@st.composite
def csv_files(draw, name):
    """A file: its text, and for each of its lines that begins a row the row's kind and cells by column."""
    table = TABLES[name]
    required = [column for column in table.columns if column.required]
    optional = [column for column in table.columns if not column.required]
    columns = draw(st.permutations(required + draw(st.lists(st.sampled_from(optional), max_size=4, unique=True))))
    names = [column.name for column in columns]
    end = draw(st.sampled_from(["\n", "\r\n"]))
    text = io.StringIO()
    writer = csv.writer(text, lineterminator=end)
    writer.writerow(names)
    placed = {}
    kinds = draw(st.lists(st.sampled_from(["good"] * 4 + ["slips", "slips", "blank", "long", "short"]), max_size=8))
    for number, kind in enumerate(["good"] * 3 + kinds):
        if kind == "blank":
            text.write(draw(st.sampled_from(["", " ", ",,"])) + end)
            continue
        row = [draw(allowed(column)) for column in columns]
        if number < len(HORSE_IDS):
            row[names.index("horse_id")] = HORSE_IDS[number]
        if kind == "slips":
            for place in draw(st.lists(st.sampled_from(range(len(row))), min_size=1, max_size=2)):
                row[place] = draw(st.sampled_from(SLIPS))
        row = {"long": [*row, "more"], "short": row[:-1]}.get(kind, row)
        placed[text.getvalue().count("\n") + 1] = (kind, dict(zip(names, row, strict=False)))
        writer.writerow(row)
    return text.getvalue(), placed


def same(column, text, value):
    """Tell whether an accepted value is what its cell says."""
    text = text.strip()
    if not text:
        return value == column.default if column.default is not None else pd.isna(value)
    if column.kind == "date":
        return value == pd.Timestamp(text)
    return value == (float(text) if column.kind in ("number", "integer") else text)


@QUIET
@given(csv_files("horses"), csv_files("management"), csv_files("feet"))
def test_every_row_is_accepted_or_rejected_and_stands_where_it_says(horses, management, feet):
    files = {"horses": horses, "management": management, "feet": feet}
    with tempfile.TemporaryDirectory() as folder:
        for name, (text, _) in files.items():
            (Path(folder) / f"{name}.csv").write_bytes(text.encode())
        intake = take_in({name: Path(folder) / f"{name}.csv" for name in files})
    for name, (text, placed) in files.items():
        account, frame = intake.ledger["files"][name], intake.frames[name]
        rejects = [reject for reject in intake.rejects if reject[0] == f"{name}.csv"]
        kept, fallen = frame["line"].tolist(), {reject[1] for reject in rejects}
        assert sorted([*kept, *fallen]) == sorted(placed)
        assert (account["rows_read"], account["accepted"], account["rejected"]) == (len(placed), len(kept), len(fallen))
        assert sum(account["reasons"].values()) == len(fallen)
        assert {line for line, (kind, _) in placed.items() if kind in ("long", "short")} <= fallen
        good_kept = {line for line, (kind, _) in placed.items() if kind == "good"} & set(kept)
        assert name != "horses" or len(good_kept) >= len(HORSE_IDS)
        for _, line, column, value, reason, remedy, _ in rejects:
            assert remedy
            if reason == "ragged_row":
                assert placed[line][0] in ("long", "short")
            else:
                assert placed[line][1][column] == value, text
        for record in frame.to_dict("records"):
            for column, cell in placed[record["line"]][1].items():
                assert same(TABLES[name].by_name[column], cell, record[column])


BYTES = st.one_of(
    st.binary(max_size=60),
    st.text(alphabet='H1,"\n\r\t ;é\ufeff\x1c\u20282-.', max_size=60).map(str.encode),
)
HEADS = st.sampled_from([FEET, HORSES, MANAGEMENT])


@settings(QUIET, max_examples=150)
@given(HEADS, BYTES, st.sampled_from(["horses", "management", "feet"]), st.booleans())
def test_any_bytes_give_a_message_or_a_ledger_that_adds_up(head, data, name, headed):
    good = {"horses": HORSES, "management": MANAGEMENT, "feet": FEET}
    with tempfile.TemporaryDirectory() as folder:
        for table, text in good.items():
            (Path(folder) / f"{table}.csv").write_text(text)
        spoilt = good[name].encode() + data if headed else data
        (Path(folder) / f"{name}.csv").write_bytes(spoilt)
        try:
            intake = take_in({table: Path(folder) / f"{table}.csv" for table in good})
        except InputError as error:
            assert f"{name}.csv: " in str(error)
            return
    check_sums(intake.ledger)
    assert intake.ledger["files"][name]["rows_read"] == len(intake.frames[name]) + len(
        {reject[1] for reject in intake.rejects if reject[0] == f"{name}.csv"}
    )


STRETCHES = st.tuples(st.sampled_from(["H1", "H2"]), st.integers(0, 200), st.none() | st.integers(0, 60))


@QUIET
@given(st.lists(STRETCHES, max_size=12))
def test_intervals_kept_never_overlap_and_a_dropped_one_overlaps_an_earlier_kept_one(stretches):
    first = np.datetime64("2024-01-01")
    rows = [
        f"{horse},{first + start},{'' if days is None else first + start + days},hay,soft"
        for horse, start, days in stretches
    ]
    with tempfile.TemporaryDirectory() as folder:
        texts = {"horses": HORSES, "feet": FEET, "management": "\n".join([MANAGEMENT.split("\n")[0], *rows])}
        for name, text in texts.items():
            (Path(folder) / f"{name}.csv").write_text(text)
        intake = take_in({name: Path(folder) / f"{name}.csv" for name in texts})

    def clashes(one, other):
        (horse, start, end), (horse_2, start_2, end_2) = (row.split(",")[:3] for row in (one, other))
        return horse == horse_2 and start <= (end_2 or "9") and start_2 <= (end or "9")

    kept = [line - 2 for line in intake.frames["management"]["line"]]
    for row in range(len(rows)):
        earlier = [other for other in kept if other < row]
        assert (row in kept) == (not any(clashes(rows[row], rows[other]) for other in earlier))

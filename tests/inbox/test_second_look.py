"""What only other files and rounds make doubtful is found, and how seldom a faultless cohort is doubted."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from inbox_sheets import HORSES, part

from hoofcohort.inbox import second_look
from hoofcohort.inbox.member import part_of
from hoofcohort.inbox.run import settle
from hoofcohort.indices.catalogue import CATALOGUE
from hoofcohort.mapping.index_limits import ARITHMETIC, INDEX_LIMITS, RELATED
from hoofcohort.sheets.sheet import Sheet
from hoofcohort.simulate.cohort import simulate_cohort
from hoofcohort.simulate.writing import csv_text
from hoofcohort.tables import TABLES

MEASURES = [column.name for column in TABLES["feet"].measurements]
FEET = "horse_id foot visit_date observer_id method toe_angle_deg toe_length_mm hoof_width_mm"
DAYS = [f"2026-{month:02d}-20" for month in range(1, 8)]
MARE = part("r0", "ash", HORSES, "H1 Y1 W1 2010 mare _ _", file="h.csv")


def told(inbox):
    return [
        (inbox.pool.parts[number].file, one.line, one.header, one.reason, one.remedy)
        for number in range(len(inbox.pool.parts))
        for one in inbox.pool.parts[number].findings
    ]


def by_rounds(rows_by_round):
    made = [
        part(f"r{number}", "ash", FEET, *rows, file=f"f{number}.csv")
        for number, rows in enumerate(rows_by_round, start=1)
    ]
    return settle([MARE, *made])


def test_an_outlier_that_only_earlier_rounds_show():
    lengths = ["83", "84", "82", "83", "120", "83", "84"]
    rows = [[f"H1 LF {day} A gauge 50 {length} 120"] for day, length in zip(DAYS, lengths, strict=True)]
    inbox = by_rounds(rows)
    remedy = "the median of the foot's 7 readings is 83 mm; look again"
    assert told(inbox) == [("f5.csv", 2, "toe_length_mm", "outlier", remedy)]
    assert inbox.accepted("feet")["toe_length_mm"].tolist() == lengths


def test_feet_exchanged_since_the_round_before():
    first = [f"H1 LF {DAYS[0]} A gauge 48 92 120", f"H1 RF {DAYS[0]} A gauge 55 80 130"]
    second = [f"H1 LF {DAYS[1]} A gauge 55 80 130", f"H1 RF {DAYS[1]} A gauge 48 92 120"]
    said = "on 2026-01-20 the differences between left and right were the other way round; if the feet were exchanged, "
    assert told(by_rounds([first, second])) == [
        ("f2.csv", 2, "foot", "sides_exchanged", f"{said}this row is RF, or else that visit's rows are exchanged"),
        ("f2.csv", 3, "foot", "sides_exchanged", f"{said}this row is LF, or else that visit's rows are exchanged"),
    ]
    third = [f"H1 LF {DAYS[2]} A gauge 48 92 120", f"H1 RF {DAYS[2]} A gauge 55 80 130"]
    assert {(file, reason) for file, _, _, reason, _ in told(by_rounds([first, second, third]))} == {
        ("f2.csv", "sides_exchanged")
    }
    assert told(by_rounds([first, third])) == []


def test_looking_at_fewer_horses_at_a_time_finds_the_same(cohort, monkeypatch):
    feet = cohort.feet.copy()
    feet.loc[feet.index % 97 == 0, "toe_length_mm"] += 30
    whole = told(found_in(cohort, feet))
    monkeypatch.setattr(second_look, "_AT_A_TIME", 100)
    assert told(found_in(cohort, feet)) == whole
    assert len(whole) >= 10


def test_what_a_file_alone_shows_is_told_once():
    same = [f"H1 LF {day} A gauge 50 {'120' if day == DAYS[3] else '83'} 120" for day in DAYS[:6]]
    found = told(by_rounds([same, [f"H1 LF {DAYS[6]} A gauge 50 83 120"]]))
    assert [(file, line, reason) for file, line, _, reason, _ in found] == [("f1.csv", 5, "outlier")]


def test_a_horses_size_comes_from_the_table_of_horses():
    horses = part("r0", "ash", "horse_id yard_id owner_id body_mass_kg", "H1 Y1 W1 200", file="h.csv")
    inbox = settle([horses, part("r1", "ash", FEET, f"H1 LF {DAYS[0]} A gauge 50 120 120", file="f.csv")])
    assert [(file, header, reason) for file, _, header, reason, _ in told(inbox)] == [
        ("f.csv", "toe_length_mm", "unlike_foot")
    ]


def test_every_index_has_limits_and_is_the_catalogues():
    numbers = {name for name, index in CATALOGUE.items() if index.kind == "number"}
    assert {limit.index for limit in INDEX_LIMITS} | set(RELATED) | {"heel_imbalance_abs_mm"} == numbers
    assert all(limit.source for limit in INDEX_LIMITS)
    rng = np.random.default_rng(1)
    for name, arithmetic in ARITHMETIC.items():
        values = {column: rng.uniform(0, 600, 500) for column in CATALOGUE[name].needs}
        for column in values.values():
            column[rng.random(500) < 0.1] = np.nan
        computed = CATALOGUE[name].compute(pd.DataFrame(values)).to_numpy(dtype=float)
        np.testing.assert_allclose(arithmetic(values), computed, rtol=1e-12)


KEYS = "horse_id foot visit_date observer_id method"


@pytest.mark.parametrize(
    ("columns", "cells", "reason", "remedy"),
    [
        (
            "frog_width_mm hoof_width_mm",
            "90 80",
            "impossible_index",
            "frog width to hoof width ratio is 1.12, possible are at most 1 (a part is no wider than the whole); "
            "correct frog width and hoof width",
        ),
        (
            "toe_angle_deg pastern_angle_deg",
            "35 70",
            "implausible_index",
            "hoof-pastern axis break (negative: broken back) is -35 deg, usual are -30 to 30 deg; look again at toe "
            "angle and pastern angle",
        ),
    ],
)
def test_an_index_outside_its_limits(columns, cells, reason, remedy):
    (found,) = part("r1", "ash", f"{KEYS} {columns}", f"H1 LF {DAYS[0]} A gauge {cells}").findings
    assert (found.reason, found.remedy) == (reason, remedy)
    assert found.severity == ("error" if reason == "impossible_index" else "warning")


def test_the_two_feet_of_a_pair():
    rows = [f"H1 {foot} {DAYS[0]} A gauge {angle}" for foot, angle in (("LF", 40), ("RF", 57), ("LH", 40), ("RH", 57))]
    found = part("r1", "ash", f"{KEYS} toe_angle_deg", *rows).findings
    assert [(one.line, one.reason) for one in found] == [(2, "implausible_index")]
    assert "usual are -15 to 15 deg; look again at toe angle of both feet" in found[0].remedy


def sheets_by_visit(feet):
    """Return a cohort's feet as one sheet a visit, in the order of days."""
    text = pd.read_csv(pd.io.common.StringIO(csv_text(feet, "feet.csv", [])), dtype=str, keep_default_na=False)
    for number, day in enumerate(np.array_split(np.sort(text["visit_date"].unique()), 3)):
        own = text[text["visit_date"].isin(day)]
        columns = tuple(own[name].to_numpy(dtype=object) for name in own.columns)
        places = tuple(range(1, len(own.columns) + 1))
        yield Sheet(f"f{number}.csv", "", tuple(own.columns), 1, places, columns, np.arange(2, len(own) + 2))


def found_in(cohort, feet):
    text = pd.read_csv(
        pd.io.common.StringIO(csv_text(cohort.horses, "horses.csv", [])), dtype=str, keep_default_na=False
    )
    columns = tuple(text[name].to_numpy(dtype=object) for name in text.columns)
    places, lines = tuple(range(1, len(text.columns) + 1)), np.arange(2, len(text) + 2)
    horses = part_of(Sheet("h.csv", "", tuple(text.columns), 1, places, columns, lines), [], "r0", "ash")
    parts = [part_of(sheet, [], f"r{number}", "ash") for number, sheet in enumerate(sheets_by_visit(feet), start=1)]
    inbox = settle([horses, *parts])
    assert inbox.ledger["total"]["rejected"] == 0
    return inbox


@pytest.fixture(scope="module")
def cohort():
    return simulate_cohort(horses=200, visits=3, seed=5, mistakes=False)


def test_a_faultless_cohort_is_seldom_doubted(cohort):
    found = pd.Series([reason for _, _, _, reason, _ in told(found_in(cohort, cohort.feet))], dtype=object)
    cells = int(cohort.feet[MEASURES].notna().to_numpy().sum())
    assert cells > 50_000
    assert (found == "outlier").sum() < cells / 5_000
    assert (found == "sides_exchanged").sum() == 0
    assert len(found) < cells / 2_500


def test_most_exchanges_of_uneven_feet_are_found(cohort):
    feet = cohort.feet.copy()
    names = sorted(feet["horse_id"].unique())
    uneven, exchanged = set(names[::3]), set(names[::6])
    right = feet["horse_id"].isin(uneven) & (feet["foot"] == "RF")
    for column, more in (("toe_angle_deg", 5), ("toe_length_mm", -10), ("hoof_width_mm", 10), ("frog_width_mm", 6)):
        feet.loc[right, column] += more
    last = feet.groupby("horse_id")["visit_date"].transform("max") == feet["visit_date"]
    turned = last & feet["horse_id"].isin(exchanged) & feet["foot"].isin(["LF", "RF"])
    feet.loc[turned, "foot"] = feet.loc[turned, "foot"].map({"LF": "RF", "RF": "LF"})
    inbox = found_in(cohort, feet)
    lines = {(file, line) for file, line, _, reason, _ in told(inbox) if reason == "sides_exchanged"}
    held = inbox.pool.frames["feet"]
    places = zip((inbox.pool.parts[number].file for number in held["part"]), held["line"], strict=True)
    reached = {horse for horse, place in zip(held["horse_id"], places, strict=True) if place in lines}
    assert reached <= exchanged
    assert len(reached) >= 0.5 * len(exchanged)


def test_an_accepted_row_never_comes_to_have_an_error():
    columns = f"{KEYS} frog_width_mm heel_buttress_width_mm hoof_width_mm"
    doubted = part("r1", "ash", columns, f"H1 LF {DAYS[0]} A gauge 95 115 110", file="a.csv")
    assert [(one.reason, one.severity) for one in doubted.findings] == [("implausible_index", "warning")]
    other = part("r2", "ash", columns, f"H1 LF {DAYS[1]} A gauge 60 80 110", file="b.csv")
    inbox = settle([MARE, doubted, other])
    assert inbox.ledger["total"]["rejected"] == 0
    assert [one for one in inbox.pool.parts[1].findings if one.severity == "error"] == []

import csv
import io
from types import SimpleNamespace

import pandas as pd
import pytest
from invented_results import effect, estimate, fit, model

from hoofcohort.exposure import exposure_windows
from hoofcohort.plan import parse_plan
from hoofcohort.report.sheet import Column, Sheet, csv_cell, text
from hoofcohort.report.sheets import outcome as sheets
from hoofcohort.report.sheets.cohort import (
    NOT_ON_RECORD,
    _most_days,
    _thirds,
    cohort_sheet,
    exposure_of_horses,
    horse_table,
    left_out_levels,
)
from hoofcohort.report.sheets.flow import counts_of, intake_sheet, rejected_rows
from hoofcohort.report.sheets.measures import describe
from hoofcohort.tables import TABLES


def sheet(records, **more):
    columns = (Column("Name", text("name"), number=False), Column("n", lambda r: str(r["n"])))
    return Sheet("things", "Things.", ("name", "n"), records, columns, **more)


def read(made):
    return list(csv.DictReader(io.StringIO(made.to_csv())))


@pytest.mark.parametrize(
    ("value", "cell"),
    [
        (None, ""),
        (float("nan"), ""),
        (True, "yes"),
        (3, "3"),
        (-1.23456789, "-1.23457"),
        ("=1+1", "'=1+1"),
        ("@x", "'@x"),
        ("-3", "-3"),
        ("plain, text", "plain, text"),
    ],
)
def test_cells_are_plain_numbers_and_no_formulas(value, cell):
    assert csv_cell(value) == cell


def test_csv_holds_the_records_not_the_pages_rounding():
    made = sheet([{"name": "+a", "n": 1.23456789}, {"name": 'b "c", d', "n": None}])
    assert made.to_csv() == 'name,n\n\'+a,1.23457\n"b ""c"", d",\n'
    assert read(made) == [{"name": "'+a", "n": "1.23457"}, {"name": 'b "c", d', "n": ""}]


def test_rows_stand_under_their_headings():
    made = sheet(
        [{"name": "a", "n": 1}, {"name": "b", "n": 2}, {"name": "", "n": 3}],
        group=lambda record: "small" if record["n"] < 3 else "large",
        marked=lambda record: record["n"] == 2,
    )
    assert made.groups() == [
        ("small", [(False, ["a", "1"]), (True, ["b", "2"])]),
        ("large", [(False, ["—", "3"])]),
    ]
    assert sheet([{"name": "a", "n": 1}]).groups() == [("", [(False, ["a", "1"])])]


def test_effects_stand_unadjusted_beside_adjusted_with_the_comparison_of_interest_set_off():
    made = sheets.effects_sheet(model())
    assert made.caption == "Toe-heel angle difference: differences and slopes, unadjusted and adjusted, in degrees."
    assert made.rows() == [
        (
            True,
            [
                "Diet: concentrate v hay (all days v all days)",
                "3.1 (1.2 to 5.0)",
                "0.002",
                "2.3 (1.0 to 3.6)",
                "40.0",
                "0.010",
            ],
        ),
        (
            False,
            [
                "Trim interval, per 7 days (mean over the window)",
                "3.1 (1.2 to 5.0)",
                "0.002",
                "0.2 (−0.4 to 0.8)",
                "40.0",
                "0.010",
            ],
        ),
    ]
    row = read(made)[0]
    assert (row["adjusted_estimate"], row["unadjusted_low"], row["of_interest"]) == ("2.31", "1.2", "yes")


def test_effects_that_could_not_be_estimated_are_dashes():
    assert sheets.effects_sheet(model(effects=[effect(None)])).rows()[0][1][3:] == ["—", "—", "—"]


def test_variances_by_level_with_sd_and_icc():
    rows = [cells for _, cells in sheets.variances_sheet(model()).rows()]
    assert rows[1] == ["horses", "30", "2.00", "4.00", "0.50"]
    assert rows[-1] == ["readings of one foot (residual)", "120", "1.00", "1.00", "—"]


def test_variances_with_their_profile_intervals():
    results = model()
    for row, ends in zip(results["adjusted"]["variances"], [(0, None), *[(0.8, 3.21)] * 4], strict=True):
        row["sd_low"], row["sd_high"] = ends
    results["adjusted"]["icc_intervals"] = {"yard": {"low": 0.0, "high": 1.0}, "horse": {"low": 0.334, "high": 0.666}}
    made = sheets.variances_sheet(results)
    rows = [cells for _, cells in made.rows()]
    assert rows[0][2:] == ["1.00 (0 to no limit)", "1.00", "0.12 (0.00 to 1.00)"]
    assert rows[1][2:] == ["2.00 (0.800 to 3.21)", "4.00", "0.50 (0.33 to 0.67)"]
    assert rows[2][4] == "0.12"
    assert [column.title for column in made.columns][2::2] == ["SD, degrees (95% interval)", "ICC (95% interval)"]
    assert "profile likelihood" in made.note
    row = read(made)[1]
    assert (row["sd_low"], row["sd_high"], row["icc_low"], row["icc_high"]) == ("0.8", "3.21", "0.334", "0.666")


def test_means_tests_and_absent_parts():
    assert sheets.means_sheet(model()).rows()[1][1] == ["concentrate", "11.3 (10.0 to 12.6)", "40.0"]
    assert sheets.means_sheet(model(adjusted=fit(means=[]))) is None
    assert sheets.f_tests_sheet(model()).rows()[1][1] == ["Age at the visit", "1", "28.0", "0.400", "0.53"]
    day = model(adjusted=fit(means=[{"factor": "diet", "value": "hay", **estimate(9.0, 8.0, 10.0)}]))
    day["settings"]["exposures"]["diet"]["form"] = "as_of"
    assert sheets.means_sheet(day).note == "Numbers held at their mean, words weighted equally."
    empty = model()
    parts = (sheets.check_sheet, sheets.without_visit_sheet, sheets.normality_sheet)
    assert [make(empty) for make in parts] == [None, None, None]


def test_family_with_plain_and_adjusted_p():
    family = [
        {"outcome": "a", "exposure": "diet", "num_df": 2, "den_df": 41.5, "f": 6.1, "p": 0.0048, "p_adjusted": 0.0096},
        {
            "outcome": "a",
            "exposure": "terrain",
            "num_df": None,
            "den_df": None,
            "f": None,
            "p": None,
            "p_adjusted": None,
        },
    ]
    rows = [cells for _, cells in sheets.family_sheet(family, {"a": "heel"}, "holm").rows()]
    assert rows == [["Heel", "Diet", "6.10 (2; 41.5)", "0.005", "0.010"], ["Heel", "Terrain", "—", "—", "—"]]


def test_what_leaving_the_visits_out_would_have_claimed_stands_beside():
    row = {"exposure": "diet", "label": "concentrate v hay (all days v all days)"}
    results = model(
        effects=[effect(estimate(2.0, 0.0, 4.0, df=120.0))],
        without_visit={"left_out": ["horse:visit"], "effects": [row | {"adjusted": estimate(2.0, 0.5, 3.5, df=318.0)}]},
    )
    cells = sheets.without_visit_sheet(results).rows()[0][1]
    assert cells[1:] == ["2.0 (0.0 to 4.0)", "1.0", "120", "2.0 (0.5 to 3.5)", "0.75", "318"]


def test_flow_counts_owners_and_animals_apart():
    horses = pd.DataFrame(
        {"horse_id": ["h1", "h2", "h3"], "owner_id": ["o1", "o1", "o2"], "yard_id": ["y1", "y2", "y2"]}
    )
    readings = pd.DataFrame({"horse_id": ["h1", "h1", "h2"], "foot": ["LF", "LF", "RH"]})
    assert counts_of(readings, horses) == {"owners": 1, "yards": 2, "horses": 2, "feet": 2, "readings": 3}


def test_intake_sums_and_first_reasons():
    account = {"file": "feet.csv", "rows_read": 10, "accepted": 8, "rejected": 2, "flagged": 1, "blank_lines": 0}
    ledger = {
        "files": {"feet": account | {"reasons": {"overlap": 2}}},
        "reasons": {"overlap": "It overlaps."},
        "totals": {key: account[key] for key in ("rows_read", "accepted", "rejected", "flagged")},
    }
    assert rejected_rows(ledger) == [{"file": "feet", "reason": "overlap", "sentence": "It overlaps.", "rows": 2}]
    assert [cells for _, cells in intake_sheet(ledger).rows()] == [
        ["Table of feet (readings)", "feet.csv", "10", "8", "2", "1"],
        ["All", "—", "10", "8", "2", "1"],
    ]


def test_measures_count_missing_values_and_a_pair_once():
    readings = pd.DataFrame(
        {
            "foot": ["LF", "RF", "LH", "RH"],
            "frog_width_mm": [60.0, 62.0, None, 64.0],
            "pair_difference_deg": [1.0] + [None] * 3,
        }
    )
    rows = {row["name"]: row for row in describe(readings)}
    assert (rows["frog_width_mm"]["n"], rows["frog_width_mm"]["missing"], rows["frog_width_mm"]["median"]) == (
        3,
        1,
        62.0,
    )
    assert (rows["pair_difference_deg"]["n"], rows["pair_difference_deg"]["missing"]) == (1, 1)
    assert rows["pair_difference_deg"]["sd"] is None


def test_horses_stand_where_they_spent_most_days():
    shares = pd.DataFrame({"hay": [0.6, 0.5, None], "pasture": [0.4, 0.5, None]}, index=["a", "b", "c"])
    assert _most_days(shares).to_dict() == {"a": "hay", "b": "hay", "c": NOT_ON_RECORD}


def test_thirds_keep_equal_values_together():
    mean = pd.Series([28.0, 28.0, 35.0, 42.0, 56.0, 56.0, None], index=list("abcdefg"))
    assert _thirds(mean, "days").to_dict() == {
        "a": "28 days", "b": "28 days", "c": "35 to 42 days", "d": "35 to 42 days", "e": "56 days",
        "f": "56 days", "g": NOT_ON_RECORD,
    }  # fmt: skip


def test_below_one_degree_of_freedom_there_is_neither_p_nor_f():
    flat = estimate(1.0, -1e150, 1e150, p=0.999, df=0.02)
    row = sheets.effects_sheet(model(effects=[effect(flat)])).rows()[0][1]
    assert row[3:] == ["1.0 (no interval)", "0.0", "—"]
    test = {"term": "diet", "num_df": 2, "den_df": -0.7, "f": -2.08, "p": None}
    rows = sheets.f_tests_sheet(model(adjusted=fit(tests=[test, test | {"den_df": 0.5, "f": 0.1, "p": 0.99}]))).rows()
    assert [cells[3:] for _, cells in rows] == [["—", "—"], ["—", "—"]]


def plan(**form):
    value = {
        "study": "s", "title": "T", "question": "Q?", "written": "2026-02-01",
        "data": {"horses": "h.csv", "management": "m.csv", "feet": "f.csv"},
        "outcomes": {"frog_width_mm": {"role": "secondary"}}, "exposures": {"diet": form}, "window_days": 100,
    }  # fmt: skip
    return parse_plan(value)


def small_cohort(**form):
    """Two horses of one yard: 80 days on hay and 20 on pasture before the visit, and no record at all."""
    horses = pd.DataFrame(
        {"horse_id": ["a", "b"], "yard_id": ["y", "y"], "owner_id": ["o", "p"], "birth_year": [2016, 2016]}
        | {"body_mass_kg": [500.0, None]}
    )
    management = pd.DataFrame({"horse_id": ["a", "a"], "diet": ["hay", "pasture"]})
    management["from_date"] = pd.to_datetime(["2026-01-01", "2026-06-12"])
    management["to_date"] = pd.to_datetime(["2026-06-11", None])
    for column in TABLES["management"].columns:
        if column.name not in management:
            management[column.name] = pd.Series(
                None, index=management.index, dtype="str" if column.words else "float64"
            )
    readings = pd.DataFrame({"horse_id": ["a", "b"], "foot": ["LF", "LF"]})
    readings["visit_date"] = pd.to_datetime(["2026-07-01", "2026-01-01"])
    own = plan(**form)
    windows = exposure_windows(readings, management, own.window_days)
    return SimpleNamespace(plan=own, horses=horses, readings=readings, windows=windows)


def test_horses_stand_where_the_plans_form_of_the_exposure_puts_them():
    assert exposure_of_horses(small_cohort(form="share"), "diet").to_dict() == {"a": "hay", "b": NOT_ON_RECORD}
    assert exposure_of_horses(small_cohort(form="as_of"), "diet").to_dict() == {"a": "pasture", "b": NOT_ON_RECORD}
    assert "spent most days of the window." in cohort_sheet(small_cohort(form="share")).caption
    assert cohort_sheet(small_cohort(form="as_of")).caption == (
        "The cohort by exposure. A horse stands in the group in which it most often was on the days of its readings."
    )


def test_age_is_that_of_the_models():
    assert horse_table(small_cohort(form="share"))["age"].tolist() == pytest.approx([10 + 181 / 365, 10.0])


def test_levels_that_the_readings_have_and_the_plan_leaves_out():
    visits = [("y", "a", "LF", 1), ("y", "a", "RF", 1), ("y", "a", "LF", 2), ("y", "b", "LF", 1)]
    several = pd.DataFrame(visits, columns=["yard_id", "horse_id", "foot", "visit_date"])
    whole = plan().for_outcome("frog_width_mm")
    assert left_out_levels(whole, several) == []
    bare = whole.model_copy(update={"levels": ["horse", "foot"], "also": []})
    assert left_out_levels(bare, several) == ["yard", "horse:visit"]
    assert left_out_levels(bare, several[several["visit_date"] == 1]) == ["yard"]
    assert left_out_levels(bare, several[several["horse_id"] == "a"]) == ["horse:visit"]
    assert left_out_levels(bare, several[several["foot"] == "LF"]) == ["yard"]


def test_variances_carry_the_p_value_of_their_bootstrap_test():
    test = {"statistic": 4.2, "p": 0.0249, "monte_carlo_error": 0.011, "p_chi_square": 0.0202, "replicates": 199}
    made = sheets.variances_sheet(model(variance_tests={"levels": {"foot": test}, "skipped": {}}))
    assert [column.title for column in made.columns][-1] == "Bootstrap p"
    assert [row[-1] for _, row in made.rows()] == ["—", "—", "0.025", "—", "—"]
    cells = {row["level"]: row for row in read(made)}
    assert (cells["foot"]["lr"], cells["foot"]["bootstrap_p"], cells["foot"]["replicates"]) == ("4.2", "0.0249", "199")
    assert cells["horse"]["bootstrap_p"] == cells["residual"]["bootstrap_p"] == ""

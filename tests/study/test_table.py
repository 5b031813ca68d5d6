"""The analysis table of hand-made frames: every count and value here was found by hand."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from hoofcohort.errors import InputError, NoReadingError
from hoofcohort.plan import OutcomeSettings, parse_plan
from hoofcohort.study.adjustments import Sources, adjustment_values, horse_rows
from hoofcohort.study.table import build_table


def settings(**changes: object) -> OutcomeSettings:
    value = {
        "study": "by-hand",
        "title": "By hand",
        "question": "Does it count right?",
        "written": "2026-01-01",
        "data": {"horses": "h.csv", "management": "m.csv", "feet": "f.csv"},
        "outcomes": {
            "toe_angle_deg": {
                "role": "primary",
                "comparison": {"exposure": "diet", "first": "concentrate", "second": "hay"},
            }
        },
        "exposures": {"diet": {"form": "share", "reference": "hay"}},
        "window_days": 10,
        "minimum_coverage": 0.8,
        "adjustments": ["body_mass_kg", "days_since_trim"],
    }
    return parse_plan(value | changes).for_outcome("toe_angle_deg")


def words(*values: str | None) -> pd.Series:
    return pd.Series(values, dtype="str")


def days(*values: str | None) -> pd.Series:
    return pd.Series(pd.to_datetime(list(values)))


HORSES = pd.DataFrame(
    {
        "horse_id": words("H1", "H2", "H3", "H4"),
        "yard_id": words("Y1", "Y1", "Y2", "Y2"),
        "owner_id": words("O1", "O2", "O4", "O3"),
        "birth_year": pd.Series([2010, 2012, 2014, 2016], dtype="Int64"),
        "sex": words("mare", None, "mare", "gelding"),
        "body_mass_kg": [500.0, np.nan, 480.0, 520.0],
    }
)
MANAGEMENT = pd.DataFrame(
    {
        "horse_id": words("H1", "H2", "H3", "H3", "H4", "H4", "H3"),
        "from_date": days(
            "2025-01-01", "2025-01-01", "2026-02-23", "2026-04-01", "2026-02-24", "2026-02-26", "2026-04-06"
        ),
        "to_date": days(None, None, "2026-03-01", "2026-04-05", "2026-02-25", None, None),
        "diet": words("hay", "hay", "hay", None, "hay", "concentrate", "pasture"),
        "terrain": words(*["mixed"] * 7),
        "trim_interval_days": [42.0, 42.0, 42.0, 42.0, 40.0, 60.0, 42.0],
        "shoeing": words("barefoot", "all", "all", "all", "all", "front", "all"),
        "turnout_hours": [24.0, 12.0, 12.0, 12.0, 8.0, 10.0, 12.0],
    }
)
READINGS = pd.DataFrame(
    {
        "horse_id": words("H1", "H1", "H2", "H3", "H3", "H4", "H4"),
        "foot": words("LF", "RF", "LF", "LF", "RF", "LH", "RH"),
        "visit_date": days(*["2026-03-01"] * 4, "2026-04-10", *["2026-03-03"] * 2),
        "observer_id": words(*["OBS-A"] * 7),
        "method": words(*["gauge"] * 7),
        "replicate": pd.Series([1] * 7, dtype="Int64"),
        "days_since_trim": pd.Series([20, 20, 20, 20, 20, 0, None], dtype="Int64"),
        "toe_angle_deg": [50.0, np.nan, 51.0, 52.0, 53.0, 54.0, 55.0],
        "line": pd.Series(range(2, 9), dtype="Int64"),
    }
)
# In order: used; no outcome; no body mass; 7 of 10 days on record; 10 of 10 but diet on 5; 8 of 10, on 2 of them hay,
# used; days since the trim missing.
COUNTS = ("readings", "feet", "horses", "yards", "owners", "lost")


def test_rows_leave_in_the_plans_order_and_every_step_is_counted():
    flow = build_table(settings(), READINGS, HORSES, MANAGEMENT).flow
    assert [(step["step"], *(step[key] for key in COUNTS)) for step in flow] == [
        ("accepted readings", 7, 7, 4, 2, 4, 0),
        ("outcome measured", 6, 6, 4, 2, 4, 1),
        ("management on record", 5, 5, 4, 2, 4, 1),
        ("diet on record", 4, 4, 3, 2, 3, 1),
        ("body mass known", 3, 3, 2, 2, 2, 1),
        ("days since the last trim known", 2, 2, 2, 2, 2, 1),
        ("rows used", 2, 2, 2, 2, 2, 0),
    ]
    assert flow[2]["reason"] == "fewer than 8 of the 10 days up to the visit on record"
    assert all(step["reason"] for step in flow if step["lost"])


def test_the_rows_used_carry_shares_of_the_days_on_record():
    table = build_table(settings(), READINGS, HORSES, MANAGEMENT)
    assert table.frame["line"].tolist() == [2, 7]
    assert table.frame["diet__hay"].tolist() == [1.0, 2 / 8]
    assert table.frame["diet__concentrate"].tolist() == [0.0, 6 / 8]


def test_missing_values_are_counted_among_all_accepted_readings():
    table = build_table(settings(), READINGS, HORSES, MANAGEMENT)
    assert table.missing == {"diet": 0, "body_mass_kg": 1, "days_since_trim": 1}
    assert table.short == {"diet": 2}, "7 of 10 days on record, and 10 of 10 with the diet on 5 of them"
    unmeasured = READINGS.assign(toe_angle_deg=READINGS["toe_angle_deg"].where(READINGS["horse_id"] == "H1"))
    again = build_table(settings(), unmeasured, HORSES, MANAGEMENT)
    assert (again.missing, again.short) == (table.missing, table.short), "whether the outcome was measured or not"
    day = build_table(settings(exposures={"diet": {"form": "as_of"}}), READINGS, HORSES, MANAGEMENT)
    assert day.missing["diet"] == 0
    assert day.short == {}
    no_record = MANAGEMENT[MANAGEMENT["horse_id"] != "H4"]
    assert build_table(settings(), READINGS, HORSES, no_record).missing["diet"] == 2


def test_a_number_exposure_is_the_mean_over_the_days_on_record():
    own = settings(exposures={"diet": {"form": "share"}, "trim_interval_days": {"form": "mean", "per": 7}})
    frame = build_table(own, READINGS, HORSES, MANAGEMENT).frame
    assert frame["trim_interval_days__mean"].tolist() == [42.0, (2 * 40 + 6 * 60) / 8]


def test_on_the_day_of_the_visit_no_window_is_asked_for():
    own = settings(exposures={"diet": {"form": "as_of"}}, adjustments=[])
    table = build_table(own, READINGS, HORSES, MANAGEMENT)
    assert [step["step"] for step in table.flow] == ["accepted readings", "outcome measured", "rows used"]
    assert table.frame["diet"].tolist() == ["hay", "hay", "hay", "pasture", "concentrate", "concentrate"]


def test_variables_hold_what_their_names_say():
    names = ["age_years", "side", "fore_hind", "season", "shoeing", "turnout_hours", "sex", "days_since_trim"]
    readings = READINGS.assign(visit_date=days(*["2026-07-02"] * 4, "2026-12-01", "2026-03-03", "2026-02-28"))
    windows = pd.DataFrame({"shoeing": words(*["all"] * 7), "turnout_hours": [8.0] * 7})
    got = adjustment_values(names, Sources(readings, horse_rows(readings, HORSES), windows))
    assert got["age_years"].iloc[0] == pytest.approx(16 + 182 / 365)
    assert got["side"].tolist() == ["left", "right", "left", "left", "right", "left", "right"]
    assert got["fore_hind"].tolist() == ["fore"] * 5 + ["hind"] * 2
    assert got["season"].tolist() == ["summer"] * 4 + ["winter", "spring", "winter"]
    assert got["sex"].isna().tolist() == [False, False, True, False, False, False, False]
    assert got["days_since_trim"].isna().tolist() == [False] * 6 + [True]


def test_seasons_by_month():
    months = pd.DataFrame({"visit_date": pd.date_range("2026-01-01", periods=12, freq="MS")})
    got = adjustment_values(["season"], Sources(months, months, months))["season"].tolist()
    assert got == ["winter", "winter", *["spring"] * 3, *["summer"] * 3, *["autumn"] * 3, "winter"]


def test_no_row_left_is_an_error_that_accounts_for_them():
    with pytest.raises(NoReadingError) as caught:
        build_table(settings(), READINGS.assign(toe_angle_deg=np.nan), HORSES, MANAGEMENT)
    assert str(caught.value) == "no reading is left: the last 7 were lost for 'no value of toe_angle_deg'"
    assert [step["readings"] for step in caught.value.flow][:2] == [7, 0]


def test_an_unknown_horse_and_an_unknown_outcome_are_errors():
    with pytest.raises(InputError, match="horse 'H4' is not in the table of horses"):
        build_table(settings(), READINGS, HORSES.iloc[:3], MANAGEMENT)
    with pytest.raises(InputError, match="no column 'toe_angle_deg'"):
        build_table(settings(), READINGS.drop(columns="toe_angle_deg"), HORSES, MANAGEMENT)

"""``hoofcohort derive`` as the workflow runs it."""

from __future__ import annotations

import pandas as pd

from hoofcohort.cli import main
from hoofcohort.indices import CATALOGUE

FEET = pd.DataFrame(
    {
        "horse_id": pd.Series(["H1", "H1"], dtype="str"),
        "foot": pd.Series(["LF", "RF"], dtype="str"),
        "visit_date": pd.to_datetime(["2026-03-02"] * 2),
        "observer_id": pd.Series(["OBS-A"] * 2, dtype="str"),
        "method": pd.Series(["gauge"] * 2, dtype="str"),
        "replicate": pd.Series([1, 1], dtype="Int64"),
        "toe_angle_deg": [52.0, 50.5],
        "heel_angle_deg": [45.0, None],
        "line": pd.Series([2, 3], dtype="Int64"),
    }
)
HORSES = pd.DataFrame({"horse_id": pd.Series(["H1"], dtype="str"), "body_mass_kg": [500.0]})


def test_readings_are_written_with_every_index(tmp_path, capsys):
    FEET.to_parquet(tmp_path / "feet.parquet")
    HORSES.to_parquet(tmp_path / "horses.parquet")
    out = tmp_path / "readings.parquet"
    args = ["--feet", str(tmp_path / "feet.parquet"), "--horses", str(tmp_path / "horses.parquet"), "--out", str(out)]
    assert main(["derive", *args]) == 0
    got = pd.read_parquet(out)
    assert list(got.columns) == [*FEET.columns, *CATALOGUE]
    assert got["heel_underrun_deg"].fillna(-1).tolist() == [7, -1]
    assert got["pair_difference_deg"].fillna(-9).tolist() == [1.5, -9]
    assert got["toe_angle_class"].tolist() == ["medium", "medium"]
    assert "2 readings with 15 indices each" in capsys.readouterr().err
    first = out.read_bytes()
    main(["derive", *args])
    assert out.read_bytes() == first


def test_a_missing_table_is_a_users_error_and_leaves_nothing(tmp_path, capsys):
    out = tmp_path / "readings.parquet"
    assert main(["derive", "--feet", "none.parquet", "--horses", "none.parquet", "--out", str(out)]) == 2
    assert capsys.readouterr().err.startswith("hoofcohort derive: none.parquet: cannot be read as a Parquet file; run ")
    assert not out.exists()

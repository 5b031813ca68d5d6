"""The cut-offs' file and what is counted against it."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest

from hoofcohort.errors import PlanError
from hoofcohort.planning.cutoffs import Cutoff, load_cutoffs
from hoofcohort.study.cutoffs import beyond_cutoffs

CONFIG = Path(__file__).parents[2] / "config/cutoffs.yaml"


def cutoff(**changes: object) -> Cutoff:
    whole = {
        "index": "heel_underrun_deg",
        "title": "t",
        "comparison": ">=",
        "value": 5.0,
        "source": "s",
        "status": "published",
    }
    return Cutoff.model_validate(whole | changes)


# Horse A: 4.9, 5.0 (fore) and missing; B: 9.0 (fore), -6.0 (hind); C: missing only.
READINGS = pd.DataFrame(
    {
        "horse_id": ["A", "A", "A", "B", "B", "C"],
        "foot": ["LF", "RF", "LH", "LF", "LH", "LF"],
        "heel_underrun_deg": [4.9, 5.0, None, 9.0, -6.0, None],
    }
)


# Tenths of a degree, five degrees apart, whose difference in binary is not 5.
TENTHS_FIVE_APART = [(a / 10, (a - 50) / 10) for a in range(300, 750) if a / 10 - (a - 50) / 10 != 5][::7]


def counts(**changes: object) -> list[int]:
    row = beyond_cutoffs(READINGS, [cutoff(**changes)]).iloc[0]
    return [row[key] for key in ("readings_with_value", "readings_beyond", "horses_with_value", "horses_beyond")]


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        ({"comparison": ">="}, [4, 2, 2, 2]),
        ({"comparison": ">"}, [4, 1, 2, 1]),
        ({"comparison": "<"}, [4, 2, 2, 2]),
        ({"comparison": "<="}, [4, 3, 2, 2]),
        ({"comparison": ">", "absolute": True}, [4, 2, 2, 1]),
        ({"comparison": ">=", "feet": ["LH", "RH"]}, [1, 0, 1, 0]),
        ({"index": "frog_ratio"}, [0, 0, 0, 0]),
    ],
)
def test_counts_of_readings_and_horses(changes, expected):
    assert counts(**changes) == expected


def test_the_grey_zone_is_counted_only_where_it_is_configured():
    table = beyond_cutoffs(READINGS, [cutoff(), cutoff(smallest_detectable_change=0.5)])
    assert table["smallest_detectable_change"].tolist() == ["none configured", "0.5"]
    assert pd.isna(table["readings_in_grey_zone"].iloc[0])
    assert table["readings_in_grey_zone"].iloc[1] == 2


def test_rules_are_told_in_words_with_their_unit():
    assert cutoff().rule == "heel_underrun_deg >= 5 deg"
    rule = cutoff(index="pair_difference_deg", comparison=">", value=1.5, absolute=True).rule
    assert rule == "|pair_difference_deg| > 1.5 deg"
    assert (
        cutoff(index="frog_ratio", comparison="<", value=0.67, feet=["LF", "RF"]).rule
        == "frog_ratio < 0.67, LF RF only"
    )


@pytest.mark.parametrize(("toe", "heel"), TENTHS_FIVE_APART)
def test_a_difference_of_tenths_is_compared_as_worked_out_by_hand(toe, heel):
    assert toe - heel != 5
    table = READINGS.iloc[:1].assign(heel_underrun_deg=toe - heel)
    rules = [cutoff(comparison=comparison) for comparison in (">=", "<=", ">", "<")]
    assert beyond_cutoffs(table, rules)["readings_beyond"].tolist() == [1, 1, 0, 0]


def test_no_readings_and_no_cutoffs():
    assert len(beyond_cutoffs(READINGS, [])) == 0
    assert beyond_cutoffs(READINGS.iloc[:0], [cutoff()])["readings_with_value"].tolist() == [0]


def test_the_projects_own_file_is_sound_and_names_a_source_and_a_status_for_each():
    cutoffs = load_cutoffs(CONFIG)
    limits = {(item.index, item.comparison, item.value): item.status for item in cutoffs}
    assert limits[("heel_underrun_deg", ">=", 5)] == "published"
    assert limits[("frog_ratio", "<", 0.67)] == "published"
    assert limits[("frog_ratio", "<", 0.5)] == "from memory, not verified"
    assert limits[("heel_toe_length_ratio", "<", 0.333333)] == "from memory, not verified"
    assert limits[("heel_forward_fraction", ">=", 0.333333)] == "common practice, no source"
    assert limits[("load_kpa", ">", 537.8)] == "published"
    assert len(beyond_cutoffs(READINGS, cutoffs)) == len(cutoffs) == 11


def test_all_faults_of_a_file_at_once(tmp_path):
    path = tmp_path / "cutoffs.yaml"
    path.write_text(
        "cutoffs:\n"
        "  - index: frog_ration\n    title: t\n    comparison: below\n    value: 0.6\n    source: s\n"
        "    status: published\n"
        "  - index: sole_pigment\n    title: t\n    comparison: '<'\n    value: x\n    status: rumour\n"
    )
    with pytest.raises(PlanError) as caught:
        load_cutoffs(path)
    lines = str(caught.value).splitlines()
    assert [line.removeprefix(f"{path}: ").split(": found")[0].split(": missing")[0] for line in lines] == [
        "line 2: cutoffs, item 1.index",
        "line 4: cutoffs, item 1.comparison",
        "line 8: cutoffs, item 2.index",
        "line 8: cutoffs, item 2.source",
        "line 11: cutoffs, item 2.value",
        "line 12: cutoffs, item 2.status",
    ]
    assert "did you mean 'frog_ratio'?" in lines[0]
    assert "allowed: <, <=, >, >=" in lines[1]

"""Groups of a Parquet file read in batches: the same whatever the column's type, and whatever is missing where."""

from __future__ import annotations

import datetime
from decimal import Decimal

import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from hoofcohort.errors import InputError
from hoofcohort.models.streaming import of_part, whole_groups
from hoofcohort.models.table_source import TableSource

DAYS = [datetime.datetime(2020, 1, day, tzinfo=datetime.UTC) for day in range(1, 8)]
KINDS = {
    "whole number": (pa.int64(), [7, 8, 9, 10, 11, 12, 13]),
    "small whole number": (pa.uint8(), [7, 8, 9, 10, 11, 12, 13]),
    "large whole number": (pa.uint64(), [2**63 + 1, 2**63 + 2, 5, 6, 8, 9, 10]),
    "fraction": (pa.float64(), [0.0, 1.5, 2.0, 3.0, 4.0, 5.0, 6.0]),
    "half precision": (pa.float16(), [0.0, 1.5, 2.0, 3.0, 4.0, 5.0, 6.0]),
    "decimal": (pa.decimal128(9, 2), [Decimal(number) for number in range(7)]),
    "text": (pa.string(), list("abcdefg")),
    "large text": (pa.large_string(), list("abcdefg")),
    "bytes": (pa.binary(), [letter.encode() for letter in "abcdefg"]),
    "words": (pa.dictionary(pa.int8(), pa.string()), list("abcdefg")),
    "numbers as words": (pa.dictionary(pa.int32(), pa.int64()), [7, 8, 9, 10, 11, 12, 13]),
    "moment": (pa.timestamp("us", "UTC"), DAYS),
    "moment without a zone": (pa.timestamp("ms"), [day.replace(tzinfo=None) for day in DAYS]),
    "day": (pa.date32(), [day.date() for day in DAYS]),
    "time of day": (pa.time64("us"), [datetime.time(hour) for hour in range(7)]),
    "length of time": (pa.duration("s"), [datetime.timedelta(hours=hour) for hour in range(7)]),
}


@pytest.fixture(autouse=True)
def small_batches(monkeypatch):
    monkeypatch.setattr("hoofcohort.models.table_source.SORTED_HERE", 0)
    monkeypatch.setattr("hoofcohort.models.table_source.BATCH", 4)


def source_of(path, labels, kind):
    """Write the labels in the order given, in row groups of four."""
    table = pa.table({"horse": pa.array(labels).cast(kind) if kind == pa.float16() else pa.array(labels, kind)})
    pq.write_table(table.append_column("y", pa.array(range(len(labels)), pa.float64())), path, row_group_size=4)
    return TableSource(str(path), ["horse", "y"], ["horse"])


def groups_of(source):
    return list(whole_groups(source.chunks(), ("horse",)))


@pytest.mark.parametrize("name", KINDS)
@pytest.mark.parametrize("gap", [5, 14], ids=["null early", "null late"])
def test_a_group_that_comes_again_is_found_whatever_is_missing(tmp_path, name, gap):
    kind, values = KINDS[name]
    labels = [value for value in values for _ in range(3)]
    labels[gap] = None
    sound = groups_of(source := source_of(tmp_path / "sound.parquet", labels, kind))
    assert source.rows_dropped == 1
    assert sum(map(len, sound)) == 20
    assert len(pd.concat([own["horse"].drop_duplicates() for own in sound])) == 7
    for again in (0, 3):
        mixed = source_of(tmp_path / "mixed.parquet", [*labels, values[again]], kind)
        with pytest.raises(InputError, match="do not all stand together; sort the rows"):
            groups_of(mixed)


def test_truths_with_a_gap_are_still_told_apart(tmp_path):
    labels = [False] * 6 + [None] + [True] * 6
    groups = groups_of(source_of(tmp_path / "truths.parquet", labels, pa.bool_()))
    assert [own["horse"].unique().tolist() for own in groups] == [[False], [True]]
    with pytest.raises(InputError, match="rows of 'False'"):
        groups_of(source_of(tmp_path / "mixed.parquet", [*labels, None, False], pa.bool_()))


def test_a_whole_number_is_named_as_it_stands(tmp_path):
    with pytest.raises(InputError, match=r"the rows of '7' \(column horse\)"):
        groups_of(source_of(tmp_path / "mixed.parquet", [7, 7, 8, 8, None, 7], pa.int64()))


def test_not_a_number_is_missing_too(tmp_path):
    source = source_of(tmp_path / "rows.parquet", [1.0, 1.0, float("nan"), None, 2.0], pa.float64())
    assert [len(own) for own in groups_of(source)] == [2, 1]
    assert source.rows_dropped == 2


def test_words_are_those_of_the_schema_whatever_is_missing(tmp_path):
    source = source_of(tmp_path / "rows.parquet", [7, 7, 8, 8, 7, None, 9, 9], pa.int64())
    assert source.words(["horse"]) == {"horse": ("7", "8", "9")}
    assert not source_of(tmp_path / "coded.parquet", [7, 8], KINDS["numbers as words"][0]).is_text("horse")
    assert source_of(tmp_path / "coded.parquet", ["a", "b"], KINDS["words"][0]).is_text("horse")


def test_a_column_of_lists_is_refused(tmp_path):
    source = source_of(tmp_path / "rows.parquet", [[1], [2]], pa.list_(pa.int64()))
    with pytest.raises(InputError, match=r"column 'horse' holds a list<.*> in every cell; numbers, words, dates"):
        groups_of(source)


def test_a_column_that_changes_its_type_is_refused():
    chunks = [pd.DataFrame({"horse": [7, 7]}), pd.DataFrame({"horse": [8.0, 7.0]})]
    with pytest.raises(InputError, match="column 'horse' comes as int64 at first and as float64 later"):
        list(whole_groups(chunks, ("horse",)))


def test_the_parts_of_a_table_are_the_same_groups_from_either_kind_of_file(tmp_path, monkeypatch):
    monkeypatch.setattr("hoofcohort.models.table_source.SORTED_HERE", 1000)
    rows = pd.DataFrame({"horse": [2, 10, 7, 33, 4, 100, 7, 2], "y": range(8)})
    rows.to_csv(tmp_path / "rows.csv", index=False)
    rows.to_parquet(tmp_path / "rows.parquet", index=False)
    found = []
    for name, part in (("rows.csv", (1, 2)), ("rows.parquet", (2, 2))):
        source = TableSource(str(tmp_path / name), ["horse", "y"], ["horse"])
        parts = of_part(whole_groups(source.chunks(), ("horse",)), ("horse",), part)
        found.append({str(horse) for own in parts for horse in own["horse"]})
    assert found == [{"10", "2", "4"}, {"100", "33", "7"}]

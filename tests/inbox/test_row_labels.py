"""Columns that statistics programs write before the first one to count the rows."""

from __future__ import annotations

import csv
import io

import pandas as pd
import pytest

from hoofcohort.inbox.member import read_parts
from hoofcohort.mapping.mapping import Mapping, To

ROWS = pd.DataFrame(
    {
        "horse_id": ["H1", "H1", "H2"],
        "foot": ["LF", "RF", "LF"],
        "visit_date": ["2026-03-14"] * 3,
        "observer_id": ["A"] * 3,
        "method": ["gauge"] * 3,
        "toe_angle_deg": [50.5, 51.0, 52.0],
    }
)


def parts(tmp_path, text, mappings=()):
    path = tmp_path / "feet.csv"
    path.write_text(text, encoding="utf-8")
    (part,) = read_parts(path, mappings)
    return part


def as_r_writes(decimal=".", separator=","):
    """A table as R's write.csv and write.csv2 lay it out, from memory: row names from 1 under an empty header."""
    out = io.StringIO()
    writer = csv.writer(out, delimiter=separator, quoting=csv.QUOTE_NONNUMERIC, lineterminator="\n")
    writer.writerow(["", *ROWS.columns])
    for name, row in enumerate(ROWS.itertuples(index=False), 1):
        writer.writerow([str(name), *row[:-1], row[-1]])
    return out.getvalue().replace(".", decimal)


def twice():
    return pd.read_csv(io.StringIO(ROWS.to_csv())).to_csv()


@pytest.mark.parametrize("text", [ROWS.to_csv(), twice(), as_r_writes(), as_r_writes(",", ";")])
def test_what_pandas_and_r_write_before_the_first_column_is_left_out_and_said(tmp_path, text):
    part = parts(tmp_path, text)
    assert part.refused == ""
    assert part.tables["feet"]["toe_angle_deg"].astype(float).tolist() == [50.5, 51.0, 52.0]
    assert part.places["horse_id"] == (text.split("\n")[0].count("nnamed") + 2, "horse_id")
    assert "column 1 has no name and only counts the rows; it was left out" in part.understood
    assert not any(sentence.startswith("columns without a name: column 1") for sentence in part.understood[:1])


def test_a_row_too_short_counts_as_one_row_and_its_cells_without_the_label(tmp_path):
    part = parts(tmp_path, ROWS.to_csv().replace("1,H1,RF,2026-03-14,A,gauge,51.0", "1,H1,RF,2026-03-14,A,gauge"))
    (one,) = [found for found in part.findings if found.reason == "ragged_row"]
    assert one.remedy.startswith("the row has 5 cells, the header 6 columns")


@pytest.mark.parametrize("labels", [["0", "2", "3"], ["2", "3", "4"], ["17", "203", "1000"]])
def test_rows_taken_out_of_a_labelled_file_are_read_without_their_labels(tmp_path, labels):
    part = parts(tmp_path, ROWS.set_axis(pd.Index(labels)).to_csv())
    assert part.tables["feet"]["toe_angle_deg"].astype(float).tolist() == [50.5, 51.0, 52.0]
    assert "column 1 has no name and holds rising whole numbers, as row labels do; it was left out" in part.understood


@pytest.mark.parametrize("first", ["", "Unnamed: 0", "Unnamed: 0.1,Unnamed: 0"])
def test_one_row_sent_alone_with_its_label_is_read(tmp_path, first):
    own = ",".join(["2"] * (first.count(",") + 1))
    part = parts(tmp_path, f"{first},{','.join(ROWS.columns)}\n{own},H1,LF,2026-03-14,A,gauge,50.5\n")
    assert (part.refused, len(part.tables["feet"])) == ("", 1)


def test_row_labels_beside_headers_of_a_mapping_are_left_out_too(tmp_path):
    mapping = Mapping(
        table="feet",
        columns={"Tier" if name == "horse_id" else name: To(to=name) for name in ROWS.columns},
        ignore=["Notiz"],
    )
    table = ROWS.rename(columns={"horse_id": "Tier"}).assign(Notiz="x").set_axis(pd.Index(["2", "5", "9"]))
    assert len(parts(tmp_path, table.to_csv(), [mapping]).tables["feet"]) == 3
    assert parts(tmp_path, table.assign(Farbe="x").to_csv(), [mapping]).refused


def test_a_refusal_says_which_column_was_left_out(tmp_path):
    part = parts(tmp_path, ",yard_id,owner_id,birth_year\n1,Y,O,2005\n2,Y,O,2006\n")
    assert part.refused.endswith(
        "; column 1 has no name and only counts the rows; it was left out; name it if it holds more, such as "
        "the horses' codes"
    )


def test_codes_without_a_header_are_not_taken_for_row_labels(tmp_path):
    part = parts(tmp_path, ",yard_id,owner_id,birth_year\n101,Y,O,2005\n205,Y,O,2006\n")
    assert "not known for certain: 'column 1'" in part.refused


@pytest.mark.parametrize("first", ["", "Unnamed: 0", "Unnamed: 0.1"])
@pytest.mark.parametrize(
    "labels", [["2", "1", "3"], ["2", "2", "3"], ["x", "y", "z"], ["0", "1", ""], ["01", "02", "03"]]
)
def test_another_column_without_a_name_is_never_left_out_in_silence(tmp_path, labels, first):
    part = parts(tmp_path, first + ROWS.set_axis(pd.Index(labels)).to_csv())
    assert "name each column that has no name, or delete it when it only counts rows" in part.refused


def test_a_mapping_that_names_the_column_keeps_it(tmp_path):
    columns = {name: To(to=name) for name in ROWS.columns} | {"column 1": To(to="replicate")}
    part = parts(tmp_path, as_r_writes(), [Mapping(table="feet", columns=columns)])
    assert part.tables["feet"]["replicate"].tolist() == ["1", "2", "3"]

from __future__ import annotations

import pytest
from mapped_sheets import FEET_CONSTANTS, one_column, sheet, told

from hoofcohort.errors import InputError
from hoofcohort.mapping.convert import convert
from hoofcohort.mapping.mapping import Mapping, To, labels, load_mapping, own_mapping


def written(tmp_path, text):
    path = tmp_path / "mapping.yaml"
    path.write_text(text, encoding="utf-8")
    return path


def faults(tmp_path, text):
    with pytest.raises(InputError) as caught:
        load_mapping(written(tmp_path, text))
    return str(caught.value).replace(f"{tmp_path}/", "").split("\n  ")[1:]


def test_a_mapping_is_read(tmp_path):
    mapping = load_mapping(
        written(
            tmp_path,
            'table: feet\ncolumns:\n  "Toe (cm)": {to: toe_length_mm, unit: cm, decimal: ","}\n'
            "  Huf: {to: foot, words: {VL: LF}}\nconstants: {method: gauge}\nignore: [Notes]\n",
        )
    )
    assert mapping.columns["Toe (cm)"] == To(to="toe_length_mm", unit="cm", decimal=",")
    assert mapping.columns["Huf"].words == {"VL": "LF"}
    assert mapping.constants == {"method": "gauge"}


def test_every_fault_is_told_with_its_line(tmp_path):
    assert faults(
        tmp_path,
        "table: feet\ncolumns:\n  A: {to: toe_lenght_mm}\n  B: {to: toe_angle_deg, unit: cm}\n"
        "  C: {to: foot, words: {VL: LV}}\n  D: {to: visit_date}\n  E: {to: visit_date}\nconstants: {method: guage}\n"
        "ignore: [A]\n",
    )[0].startswith("mapping.yaml: line 3: columns.A.to: found 'toe_lenght_mm'; allowed: horse_id, foot, ")
    told = faults(
        tmp_path,
        "table: feet\ncolumns:\n  B: {to: toe_angle_deg, unit: cm}\n  C: {to: foot, words: {VL: LV}}\n"
        "  D: {to: visit_date}\n  E: {to: visit_date}\nconstants: {method: guage}\nignore: [B]\n",
    )
    assert told == [
        "mapping.yaml: line 3: columns.B.unit: found 'cm'; allowed (for toe_angle_deg): deg",
        "mapping.yaml: line 4: columns.C.words.VL: found 'LV'; allowed: LF, RF, LH, RH",
        "mapping.yaml: line 5: columns.D.to: 'E' becomes 'visit_date' too; keep one",
        "mapping.yaml: line 6: columns.E.to: 'D' becomes 'visit_date' too; keep one",
        "mapping.yaml: line 7: constants.method: found 'guage'; allowed: gauge, tape, photo, scan, radiograph; "
        "did you mean 'gauge'?",
        "mapping.yaml: line 8: ignore, item 1: 'B' is mapped too; take it out of one of the two",
    ]


def test_a_value_given_in_our_words_must_be_one_of_ours(tmp_path):
    told = faults(
        tmp_path,
        "table: feet\ncolumns:\n  T: {to: thrush, words: {mild: one, none: 0, keine: ''}}\n"
        "constants: {visit_date: 3.4.2026, toe_length_mm: '8,3', method: tape}\n",
    )
    assert told == [
        "mapping.yaml: line 3: columns.T.words.mild: found 'one'; allowed: 0 to 3",
        "mapping.yaml: line 4: constants.toe_length_mm: found '8,3'; allowed: 20 to 250 mm",
        "mapping.yaml: line 4: constants.visit_date: found '3.4.2026'; allowed: YYYY-MM-DD",
    ]


def test_a_word_can_mean_none():
    mapping = Mapping(
        table="feet",
        columns={"T": To(to="thrush", words={"mild": "1", "keine Angabe": ""})},
        constants=FEET_CONSTANTS,
    )
    converted = convert(sheet(["T"], [["Mild"], ["keine angabe"], ["2"]]), mapping)
    assert converted.frame["thrush"].tolist() == ["1", "", "2"]
    (note,) = converted.notes
    assert (note.line, note.reason) == (3, "taken_as_missing")
    assert note.remedy == "'keine angabe' is taken as empty, as the mapping says"


@pytest.mark.parametrize(
    ("text", "start"),
    [
        (
            "table: foot\ncolumns: {}\n",
            "mapping.yaml: line 1: table: found 'foot'; allowed: horses, management, feet, flat",
        ),
        ("table: feet\n", "mapping.yaml: columns: missing; add it"),
        ("table: feet\ncolumns:\n  A: {to: foot, word: {}}\n", "mapping.yaml: line 3: columns.A.word: unknown key"),
        (
            "table: feet\ncolumns:\n  A: {to: foot}\n  A: {to: method}\n",
            "mapping.yaml: line 3: columns.A: the key stands",
        ),
    ],
)
def test_structure(tmp_path, text, start):
    assert faults(tmp_path, text)[0].startswith(start)


@pytest.mark.parametrize("text", ["a: [", "!!python/object/apply:os.system ['true']", "- a", ""])
def test_no_group_of_keys(tmp_path, text):
    with pytest.raises(InputError, match=r"mapping\.yaml"):
        load_mapping(written(tmp_path, text))


def test_a_mapping_that_does_not_fit_says_where():
    mapping = Mapping(table="feet", columns={"Toe length": To(to="toe_length_mm")}, constants=FEET_CONSTANTS)
    with pytest.raises(InputError) as caught:
        convert(sheet(["Toe lenght", "Notes"], [["80", "x"]]), mapping)
    assert str(caught.value).split("\n  ") == [
        "the mapping does not fit the file",
        "member.csv, line 1: the mapping's column 'Toe length' is not in the header; did you mean 'Toe lenght'?",
        "member.csv, line 1, column 1: header 'Toe lenght' is not in the mapping; map it or list it under 'ignore'",
        "member.csv, line 1, column 2: header 'Notes' is not in the mapping; map it or list it under 'ignore'",
    ]
    bare = Mapping(table="horses", columns={"Horse": To(to="horse_id")}, constants={"yard_id": "Y"})
    with pytest.raises(InputError, match="nothing becomes 'owner_id', which must be filled; map a column to it"):
        convert(sheet(["Horse"], [["H1"]]), bare)


def test_words_of_which_none_is_mapped_refuse_the_file_and_one_alone_its_row():
    mapping = Mapping(
        table="feet",
        columns={"Huf": To(to="foot", words={"VL": "LF"})},
        constants={key: value for key, value in FEET_CONSTANTS.items() if key != "foot"},
    )
    with pytest.raises(InputError) as caught:
        convert(sheet(["Huf"], [["AG"], ["AD"]]), mapping)
    assert str(caught.value).split("\n  ")[1] == (
        "member.csv, line 2, column 1 ('Huf'): none of its words is known: 'AD', 'AG'; write one of LF, RF, LH, RH in "
        "every row (most likely RF for 'AD', LF for 'AG'), or have each given under 'words' of this column in a mapping"
    )
    converted = convert(sheet(["Huf"], [["vl"], ["AD"], ["rh"]]), mapping)
    assert converted.frame["foot"].tolist() == ["LF", "", "RH"]
    (fault,) = converted.faults
    assert (fault.line, fault.position, fault.header, fault.value, fault.column) == (3, 1, "Huf", "AD", "foot")
    given = "given under 'words' of this column in a mapping"
    assert fault.remedy == f"write one of LF, RF, LH, RH (most likely RF), or have 'AD' {given}"


def test_headers_that_stand_twice_or_are_empty_are_named_by_their_place():
    assert labels(sheet(["Toe", "", "toe", "Foot"], [])) == ["Toe (column 1)", "column 2", "toe (column 3)", "Foot"]


def test_our_own_headers_need_no_mapping():
    own = own_mapping(sheet(["horse_id", "yard_id", "owner_id", "sex"], []))
    assert own is not None
    assert own.table == "horses"
    flat = own_mapping(sheet([*FEET_CONSTANTS, "birth_year", "diet"], []))
    assert flat is not None
    assert flat.table == "flat"
    assert own_mapping(sheet(["horse_id", "shoe size"], [])) is None


def test_a_code_that_a_spreadsheet_made_a_date_is_doubted():
    ((line, reason, remedy),) = told(one_column(["H1", "2026-05-03"], to="observer_id"))
    assert (line, reason) == (3, "code_is_a_date")
    assert "made it of 3-5 or 5-3" in remedy
    assert one_column(["2026-05-03"], to="observer_id").frame["observer_id"].tolist() == ["2026-05-03"]

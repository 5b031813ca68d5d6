from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from mapped_sheets import sheet

from hoofcohort.mapping.draft import draft
from hoofcohort.mapping.draft_text import draft_yaml
from hoofcohort.mapping.feet_in_a_row import feet_in_headers
from hoofcohort.mapping.mapping import To, load_mapping
from hoofcohort.mapping.vocabulary import ALIASES
from hoofcohort.tables import TABLES

MEMBER = sheet(
    ["Pferd", "Huf", "Datum", "Zehenlänge (cm)", "Height", "Feed", "weight lbs", "Notes", "x1"],
    [
        ["Star", "VL", "3/4/2026", "8,3", "15.2", "Gras", "1100", "=cmd\nline", "50"],
        ["Star", "VR", "3/4/2026", "8,5", "15.2", "hay", "1100", "", "51"],
        ["Moon", "HL", "4/4/2026", "8,4", "14.1", "moss", "900", "", "52"],
    ],
)


def guess(name):
    return next(guess for guess in draft(MEMBER).guesses if guess.header == name)


def test_headers_units_words_and_contents_are_guessed():
    drafted = draft(MEMBER)
    assert drafted.mapping.table == "flat"
    assert drafted.mapping.columns["Pferd"] == To(to="horse_id")
    assert drafted.mapping.columns["Huf"] == To(to="foot", words={"VL": "LF", "VR": "RF", "HL": "LH"})
    assert drafted.mapping.columns["Zehenlänge (cm)"] == To(to="toe_length_mm", unit="cm", decimal=",")
    assert drafted.mapping.columns["Height"].unit == "hands"
    assert drafted.mapping.columns["weight lbs"] == To(to="body_mass_kg", unit="lb")
    assert drafted.mapping.columns["Feed"] == To(to="diet", words={"Gras": "pasture"})
    assert drafted.mapping.ignore == ["Notes", "x1"]
    assert drafted.missing == ("observer_id", "method", "yard_id", "owner_id")


def test_what_the_cells_do_not_decide_is_left_open_and_never_sure():
    assert guess("Datum").to == To(to="visit_date")
    assert guess("Datum").confidence == "medium"
    assert guess("Datum").why == (
        "the header is known",
        "the cells do not decide the order of day and month: write date_order: DMY or date_order: MDY",
    )
    assert guess("Feed").why[-1] == "not known: 'moss': add them to words"
    assert guess("Zehenlänge (cm)").confidence == "high"
    assert guess("Notes").confidence == "low"
    assert guess("Pferd").sample == ("Star", "Moon")


def test_a_word_that_elsewhere_means_no_value_can_be_one_of_the_columns():
    drafted = draft(sheet(["Shoes", "Foot"], [["none", "?"], ["front", "LF"]]))
    assert drafted.mapping.columns["Shoes"] == To(to="shoeing", words={"none": "barefoot"})
    assert drafted.mapping.columns["Foot"] == To(to="foot")


def test_a_column_without_a_known_header_is_guessed_by_its_cells():
    drafted = draft(sheet(["a", "b"], [["near fore", "13/04/2026"], ["off hind", "03/04/2026"]]))
    assert [(g.to.to if g.to else "", g.confidence) for g in drafted.guesses] == [
        ("foot", "low"),
        ("visit_date", "low"),
    ]
    assert drafted.mapping.columns["b"].date_order == "DMY"


@pytest.mark.parametrize("table", ["horses", "management", "feet"])
def test_our_own_headers_are_recognised(table):
    names = TABLES[table].names
    drafted = draft(sheet(names, [["" for _ in names]]))
    assert drafted.mapping.table == table
    assert {header: to.to for header, to in drafted.mapping.columns.items()} == {name: name for name in names}


def test_the_yaml_is_the_mapping_with_comments(tmp_path):
    path = tmp_path / "mapping.yaml"
    path.write_text(draft_yaml(draft(MEMBER), "member.csv"), encoding="utf-8")
    assert load_mapping(path) == draft(MEMBER).mapping
    assert "  # low: the header is not known. Cells: '=cmd line'\n  - \"Notes\"\n" in path.read_text(encoding="utf-8")


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.text(max_size=12), min_size=1, max_size=5),
    st.lists(st.text(max_size=8), min_size=5, max_size=5),
)
def test_any_header_and_cells_give_yaml_that_says_the_same(tmp_path_factory, header, cells):
    header = [" ".join(name.split()) for name in header]
    given_sheet = sheet(header, [[cell.strip() for cell in cells[: len(header)]]] * 2)
    path = tmp_path_factory.mktemp("draft") / "mapping.yaml"
    drafted = draft(given_sheet)
    path.write_text(draft_yaml(drafted, "any\nname.csv"), encoding="utf-8", errors="surrogatepass")
    assert load_mapping(path) == drafted.mapping


def test_a_name_is_offered_as_the_horses_code_where_there_is_no_better_column():
    drafted = draft(sheet(["Name", "Foot", "Date"], [["Star", "LF", "2026-03-14"]]))
    assert drafted.mapping.columns["Name"] == To(to="horse_id")
    assert drafted.guesses[0].confidence == "low"
    assert drafted.guesses[0].why[0].startswith("a name is taken as the horse's code")
    for names in (["Name", "Horse"], ["Horse name", "Horse ID"]):
        drafted = draft(sheet([*names, "Foot"], [["Star", "H1", "LF"]]))
        assert drafted.mapping.columns[names[1]] == To(to="horse_id")
        assert drafted.mapping.ignore == [names[0]]


@pytest.mark.parametrize(
    "headers",
    [
        ["Angle LF", "Angle RF", "Angle LH"],
        ["Toe L", "Toe R"],
        ["Toe VL", "Toe VR"],
        ["LF toe angle (deg)", "RF toe angle (deg)"],
        ["Toe angle L"],
        ["left fore toe", "left hind toe"],
    ],
)
def test_columns_for_each_foot_are_not_mapped_and_it_is_said_how_to_lay_them_out(headers):
    drafted = draft(sheet(["Horse", "Date", *headers], [["H1", "2026-03-14", *["50"] * len(headers)]]))
    assert drafted.mapping.ignore == headers
    assert {guess.confidence for guess in drafted.guesses[2:]} == {"low"}
    (hint,) = drafted.hints
    assert "use one row a foot" in hint
    assert all(f"'{header}'" in hint for header in headers)
    assert f"# {hint}.\n" in draft_yaml(drafted, "member.csv")


def test_headers_of_other_words_name_no_foot():
    ours = [column.name for table in TABLES.values() for column in table.columns]
    theirs = [name for names in ALIASES.values() for name in names]
    assert feet_in_headers([*dict.fromkeys(ours), *theirs, "Date of visit", "Toe length (in)", "Heel (m)"]) == {}

from __future__ import annotations

from hoofcohort.cli import main
from hoofcohort.mapping.mapping import load_mapping


def test_a_draft_is_written_and_loads(tmp_path, capsys):
    file, out = tmp_path / "member.csv", tmp_path / "mapping.yaml"
    file.write_text(
        "Pferd;Huf;Datum;Zehenlänge (cm)\nStern;VL;13.4.2026;8,3\nStern;VR;13.4.2026;8,4\n", encoding="utf-8"
    )
    assert main(["draft-mapping", str(file), "--out", str(out)]) == 0
    mapping = load_mapping(out)
    assert {header: to.to for header, to in mapping.columns.items()} == {
        "Pferd": "horse_id",
        "Huf": "foot",
        "Datum": "visit_date",
        "Zehenlänge (cm)": "toe_length_mm",
    }
    assert mapping.columns["Datum"].date_order == "DMY"
    text = out.read_text(encoding="utf-8")
    assert "  # high: the header is known. Cells: '8,3', '8,4'\n" in text
    assert "# still needed, from a column or as a constant: observer_id, method\n" in text


def test_a_sheet_that_is_not_there_writes_nothing(tmp_path, capsys):
    file, out = tmp_path / "member.csv", tmp_path / "mapping.yaml"
    file.write_text("Pferd;Huf\nStern;VL\n", encoding="utf-8")
    assert main(["draft-mapping", str(file), "--sheet", "Feet", "--out", str(out)]) == 2
    assert "there is no sheet 'Feet'" in capsys.readouterr().err
    assert not out.exists()

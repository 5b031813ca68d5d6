"""A workbook with several sheets, each in the member's own words: a mapping for each, drafted by the command."""

from __future__ import annotations

import json

from openpyxl import Workbook

from hoofcohort.cli import main

SHEETS = {
    "Pferde": [["Pferd", "Stall", "Besitzer"], ["P1", "S1", "B1"], ["P2", "S1", "B2"]],
    "Haltung": [["Pferd", "von", "bis", "Futter", "Boden"], ["P1", "2026-01-01", "2026-06-30", "Heu", "weich"]],
    "Hufe": [
        ["Pferd", "Huf", "Datum", "Wer", "Methode", "Zehenwinkel"],
        ["P1", "VL", "2026-03-14", "A", "gauge", 50],
        ["P1", "VR", "2026-03-14", "A", "gauge", 51],
    ],
}
TARGETS = {
    "Pferde": "table: horses\ncolumns: {Pferd: {to: horse_id}, Stall: {to: yard_id}, Besitzer: {to: owner_id}}\n",
    "Haltung": "table: management\ncolumns:\n  Pferd: {to: horse_id}\n  von: {to: from_date}\n  bis: {to: to_date}\n"
    "  Futter: {to: diet, words: {Heu: hay}}\n  Boden: {to: terrain, words: {weich: soft}}\n",
    "Hufe": "table: feet\ncolumns:\n  Pferd: {to: horse_id}\n  Huf: {to: foot, words: {VL: LF, VR: RF}}\n"
    "  Datum: {to: visit_date}\n  Wer: {to: observer_id}\n  Methode: {to: method}\n"
    "  Zehenwinkel: {to: toe_angle_deg}\n",
}


def member(tmp_path):
    folder = tmp_path / "in/1/ash"
    folder.mkdir(parents=True)
    book = Workbook()
    book.remove(book.active)
    for name, rows in SHEETS.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(row)
    book.save(folder / "b.xlsx")
    return folder


def taken(tmp_path):
    assert main(["inbox", str(tmp_path / "in"), "--out", str(tmp_path / "out")]) == 0
    return json.loads((tmp_path / "out/ledger.json").read_text(encoding="utf-8"))["total"]


def test_each_sheet_is_read_by_its_own_mapping(tmp_path):
    folder = member(tmp_path)
    for name, text in TARGETS.items():
        (folder / f"b.xlsx.{name}.mapping.yaml").write_text(f"sheet: {name}\n{text}", encoding="utf-8")
    assert taken(tmp_path) == {"rows_read": 5, "accepted": 5} | dict.fromkeys(
        ("rejected", "aside", "superseded", "withdrawn", "duplicate"), 0
    )


def test_a_fault_told_of_a_sheet_is_of_its_own_mapping(tmp_path):
    folder = member(tmp_path)
    for name, text in TARGETS.items():
        said = text.replace("Zehenwinkel", "Trachtenwinkel")
        (folder / f"b.xlsx.{name}.mapping.yaml").write_text(f"sheet: {name}\n{said}", encoding="utf-8")
    assert taken(tmp_path)["rejected"] == 2
    (told,) = (
        one["refused"] for one in json.loads((tmp_path / "out/ledger.json").read_text())["files"] if one["refused"]
    )
    assert "the mapping's column 'Trachtenwinkel' is not in the header" in told
    assert "Futter" not in told


def test_a_draft_names_its_sheet(tmp_path):
    folder = member(tmp_path)
    for name in SHEETS:
        out = tmp_path / f"{name}.yaml"
        assert main(["draft-mapping", str(folder / "b.xlsx"), "--sheet", name, "--out", str(out)]) == 0
        assert f'\nsheet: "{name}"\n' in out.read_text(encoding="utf-8")

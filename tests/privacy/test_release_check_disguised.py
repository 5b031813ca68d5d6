"""A planted name is found under escapes, separators, encodings and marks that hide it from a plain search."""

from __future__ import annotations

import io
import json
import random
from pathlib import Path

import pandas as pd
import pytest

from hoofcohort.cli import main

ROOT = Path(__file__).parents[2]
CHIP = "276020000123457"


@pytest.fixture
def originals(tmp_path):
    folder = tmp_path / "originals"
    folder.mkdir()
    horses = [
        "horse_id,yard_id,owner_id,ueln,microchip",
        f"ROW-1,Hof Bäcker,Ferdinand Kowalczyk,,{CHIP}",
        "Łukasz Grün,Oakhill,Dr. Annegret Vogelsang,,",
        "123456,𝔷𝔬𝔯𝔟𝔩𝔞𝔵,Müller-Groß,,",
        "Ostrel,Reiterhof,山田太郎,,",
    ]
    (folder / "horses.csv").write_text("\n".join(horses) + "\n", encoding="utf-8")
    (folder / "management.csv").write_text("horse_id,from_date,diet,terrain,trim_interval_days\n")
    (folder / "feet.csv").write_text(
        "horse_id,foot,visit_date,observer_id,method\nOstrel,LF,2026-01-01,Paul Winter,gauge\n"
    )
    return folder


def check(tmp_path, originals, name, data):
    """Write a release of one file and check it: the exit status."""
    path = tmp_path / "release" / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(data if isinstance(data, bytes) else data.encode())
    return main(["release-check", str(tmp_path / "release"), "--against", str(originals)])


@pytest.mark.parametrize(
    "text",
    [
        json.dumps({"yard": "Hof Bäcker"}),
        json.dumps({"yard": "𝔷𝔬𝔯𝔟𝔩𝔞𝔵"}),
        "Hof B\\u{e4}cker",
        "Hof B\\U000000e4cker",
        "Hof B\\xe4cker",
        "Hof_x0020_Bäcker",
        "Hof&nbsp;B\\\\u00e4cker",
    ],
)
def test_an_escape_ends_where_its_letter_does(tmp_path, originals, capsys, text):
    assert check(tmp_path, originals, "a.json", text) == 1
    assert ": yard_id: " in capsys.readouterr().out


SPACED = [f"{CHIP}.0", f"{CHIP}.000", f"0{CHIP}", "276 020 000 123 457"]
SPACED += [sep.join(("276", "020", "000", "123", "457")) for sep in ",.'_/-\u00a0\u202f\u2019"] + [
    "27602  0000  123457"
]


@pytest.mark.parametrize("text", SPACED)
def test_a_microchip_is_found_whatever_parts_its_digits(tmp_path, originals, capsys, text):
    assert check(tmp_path, originals, "a.csv", f"label\n{text}\n") == 1
    assert ": microchip: " in capsys.readouterr().out


@pytest.mark.parametrize(
    "text",
    ["985.141.000.123.457", "0985141000123457", "985141000123457.0", "chip no. 985 141 000 123 457",
     "Microchip: 985,141,000,123,457"],
)  # fmt: skip
def test_an_unknown_microchip_is_seen_whatever_parts_its_digits(tmp_path, originals, capsys, text):
    assert check(tmp_path, originals, "a.txt", f"see {text}, there") == 1
    assert "looks like a microchip" in capsys.readouterr().out


@pytest.mark.parametrize(
    "text",
    [f"0.{CHIP}", f"0.0{CHIP}", f"{CHIP}.25", f"1{CHIP}", f"10{CHIP}", "2760.20000123457", f"{CHIP}0", "12.3 1234567",
     "123,456,789,012,345", "101 102 103 104 105", "1.234.567", "grid-row: 1 / span 3", "row;1", '"row": 1'],
)  # fmt: skip
def test_other_numbers_and_fields_are_no_alarm(tmp_path, originals, text):
    assert check(tmp_path, originals, "a.txt", f"see {text}, there") == 0


def test_thousands_of_rows_of_numbers_hold_no_microchip(tmp_path, originals):
    draw = random.Random(1)
    rows = [",".join(f"{draw.uniform(0, 999):.{digits}f}" for digits in (0, 0, 0, 0, 0, 2, 6)) for _ in range(3000)]
    assert check(tmp_path, originals, "a.csv", "\n".join(rows) + "\n" + "\n".join(rows).replace(",", " ")) == 0


ENCODED = {
    "cp850": "owner\nHof Bäcker\n".encode("cp850"),
    "mac_roman": "owner\nHof Bäcker\n".encode("mac_roman"),
    "cp1252": "owner\nHof Bäcker\n".encode("cp1252"),
    "cp1250": "owner\nŁukasz Grün\n".encode("cp1250"),
    "shift_jis": "owner\nby 山田太郎\n".encode("shift_jis"),
    "gb18030": "owner\nby 山田太郎\n".encode("gb18030"),
    "EBCDIC": "owner Oakhill Reiterhof".encode("cp500"),
    "one other byte": "owner\nHof Bäcker\n".encode() + b"\xe4\n",
    "one other byte in its line": b"owner\n" + b"Reiterhof \xe4\n",
}


@pytest.mark.parametrize("kind", ENCODED)
def test_text_of_another_encoding_is_searched_and_said_to_be_uncertain(tmp_path, originals, capsys, kind):
    assert check(tmp_path, originals, "a.txt", ENCODED[kind]) == 1
    said = capsys.readouterr().out
    assert "_id: " in said
    assert "NOT CHECKED a.txt: is not UTF-8; searched as cp1252, cp850, mac_roman," in said


@pytest.mark.parametrize("kind", ["cp1252", "cp866", "euc_jp"])
def test_text_of_another_encoding_never_passes_as_clean(tmp_path, originals, kind):
    text = "Жаворонок" if kind == "cp866" else "東京" if kind == "euc_jp" else "größer"
    assert check(tmp_path, originals, "a.csv", f"label\n{text}\n".encode(kind)) == 2


@pytest.mark.parametrize("text", ["Hof B=C3=A4cker", "Hof B=C3=A4ck=\ner", "Hof B=E4cker", "Hof B+AOQ-cker"])
def test_text_as_mail_writes_it_is_found(tmp_path, originals, capsys, text):
    assert check(tmp_path, originals, "a.txt", f"yard: {text}, there\n") == 1
    assert ": yard_id: " in capsys.readouterr().out


def _parquet(columns):
    written = io.BytesIO()
    pd.DataFrame(columns).to_parquet(written)
    return written.getvalue()


@pytest.mark.parametrize(
    ("name", "text"),
    [("data/a.csv", "horse_id,n\nH-23ZMQ5TD5MD6UPCH,1\n"), ("rejects.csv", "file,line,column,value\nx,1,sex,\n"),
     ("a.json", '{"horse_id": "H-23ZMQ5TD5MD6UPCH"}'), ("a.txt", "Horse ID;n\nH-23ZMQ5TD5MD6UPCH;1\n"),
     ("tables/influence_y.csv", "level,rank,label,distance\nhorse,1,H-23ZMQ5TD5MD6UPCH,0.07\n"),
     ("models/y.json", '{"rows": [{"label": "W-23ZMQ5TD5MD6UPCH", "distance": 0.07}]}'),
     ("report.html", "<td>horse</td><td>H-23ZMQ5TD5MD6UPCH</td><td>0.07</td>"),
     ("data/effects/y.parquet", _parquet({"level": ["horse"], "label": ["H-23ZMQ5TD5MD6UPCH / LF"], "value": [0.1]}))],
)  # fmt: skip
def test_rows_of_single_horses_are_warned_of(tmp_path, originals, capsys, name, text):
    assert check(tmp_path, originals, name, text) == 0
    said = capsys.readouterr().out
    assert f"WARNING {name}: rows of single horses or readings" in said
    assert "0 places not checked, 1 files with rows of single horses\n" in said


@pytest.mark.parametrize(
    "text",
    [
        "file,line,column,value,reason\n",
        "group,horses,mean\nhay,21,5.25\n",
        "the horse_id",
        "label,mean\npasture v hay,0.1\n",
        "sheet,rows\nS-23ZMQ5TD5MD6UPCH,9\n",
    ],
)
def test_results_are_no_rows_of_single_horses(tmp_path, originals, capsys, text):
    assert check(tmp_path, originals, "a.csv", text) == 0
    assert "WARNING" not in capsys.readouterr().out


NAME = "Ferdinand Kowalczyk"
MARKED = {
    "line break": "Ferdinand<br>Kowalczyk",
    "divisions": "<div>Ferdinand</div>\n<div class='x'>Kowalczyk</div>",
    "table cells": "<tr>\n  <td>Ferdinand</td>\n  <td>Kowalczyk</td></tr>",
    "code": "Ferd<code>inand</code> Kowalczyk",
    "direction": "Ferdinand <bdi>Kow</bdi>alczyk",
    "capital tags": "Ferd<SPAN CLASS='x'>inand</SPAN> Kowalczyk",
    "comment": "Ferd<!-- here > there -->inand Kowalczyk",
    "letters drawn one by one": "\n".join(f'<text x="{at}">{letter}</text>' for at, letter in enumerate(NAME)),
    "escaped tags": "Ferd&lt;b&gt;inand&lt;/b&gt; Kowalczyk",
    "runs of a document": "<w:r><w:t>Ferd</w:t></w:r><w:r><w:t>inand Kow</w:t></w:r><w:r><w:t>alczyk</w:t></w:r>",
    "a slide": "<a:r><a:t>Ferdinand Kow</a:t></a:r><a:r><a:t>alczyk</a:t></a:r>",
    "an open document": '<text:span text:style-name="T1">Ferdinand</text:span><text:s/>Kowalczyk',
    "cells of a CSV file": "Ferdinand;Kowalczyk",
    "cells in bars": "| Ferdinand | Kowalczyk |",
    "a workbook's header": '<oddHeader>&amp;C&amp;"Arial,Bold"&amp;12Ferdinand Kowalczyk</oddHeader>',
    "a header's first code": "<oddHeader>&amp;L&amp;KFF0000Ferdinand&amp;B Kowalczyk</oddHeader>",
}


@pytest.mark.parametrize("kind", MARKED)
def test_a_name_is_found_through_marks_between_its_letters(tmp_path, originals, capsys, kind):
    assert check(tmp_path, originals, "a.xml", f"<p>hay</p>\n{MARKED[kind]}\n") == 1
    line = 3 if MARKED[kind].startswith("<tr>") else 2
    assert f"a.xml: line {line}: owner_id: f*******" in capsys.readouterr().out


def test_a_name_is_found_in_rich_text_which_never_counts_as_wholly_searched(tmp_path, originals, capsys):
    text = r"{\rtf1\ansi {\b Hof} B\'e4{\i ck}er and \u321?ukasz {Gr\'fcn}}"
    assert check(tmp_path, originals, "a.rtf", text) == 1
    said = capsys.readouterr().out
    assert ": yard_id: " in said
    assert ": horse_id: " in said
    assert "NOT CHECKED a.rtf: is RTF" in said


@pytest.mark.parametrize(
    "text",
    ["<td>ROW</td><td>1</td>", "<td>123</td><td>456</td>", "<text>1</text>\n<text>23456</text>", "ROW;1", "Oak;hill"],
)
def test_neighbouring_cells_are_no_short_value(tmp_path, originals, text):
    assert check(tmp_path, originals, "a.html", f"<p>hay</p>\n{text}\n") == 0


FORMS = {
    "surname first": ("Kowalczyk, Ferdinand", "owner_id"),
    "initial": ("F. Kowalczyk", "owner_id"),
    "initial last": ("Kowalczyk F.", "owner_id"),
    "without title": ("Annegret Vogelsang", "owner_id"),
    "initial without title": ("A. Vogelsang", "owner_id"),
    "surname": ("by Vogelsang in May", "possibly owner_id"),
    "a surname that is a usual word, with its initial": ("P. Winter", "observer_id"),
    "two letters for one": ("Mueller-Gross", "owner_id"),
    "no umlaut": ("Muller Gross", "owner_id"),
    "bare letters": ("Lukasz Grun", "horse_id"),
    "two letters in a horse's name": ("Łukasz Gruen", "horse_id"),
    "run together with capitals": ("OakhillFeet.csv", "yard_id"),
    "genitive": ("Reiterhofs", "possibly yard_id"),
    "in a sentence without blanks": ("これは山田太郎です", "owner_id"),
}


@pytest.mark.parametrize("kind", FORMS)
def test_a_name_is_found_in_other_forms(tmp_path, originals, capsys, kind):
    text, column = FORMS[kind]
    assert check(tmp_path, originals, "a.txt", f"see {text}, there") == 1
    said = capsys.readouterr().out
    assert f"FOUND a.txt: line 1: {column}: " in said
    assert said.count("FOUND") == 1


@pytest.mark.parametrize(
    "text", ["in winter", "Ferdinand", "oakhillfeet", "Grunt", "Muller", "Vogelsangen", "a kowal", "OstrElm", "山"]
)
def test_other_words_are_no_forms_of_a_name(tmp_path, originals, text):
    assert check(tmp_path, originals, "a.txt", f"see {text}, there") == 0


def test_a_name_in_a_files_name_is_found_beside_its_capital(tmp_path, originals, capsys):
    assert check(tmp_path, originals, "OakhillFeet.csv", "group\nhay\n") == 1
    assert "FOUND OakhillFeet.csv: the file's name line 1: yard_id" in capsys.readouterr().out

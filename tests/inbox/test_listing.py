"""What lies in an inbox is read, or somebody is told that it is not; names that some systems take for one are one."""

from __future__ import annotations

import json
import os
import unicodedata

import pytest

from hoofcohort.cli import main
from hoofcohort.inbox.listing import list_inbox, list_unread

HORSES = "horse_id,yard_id,owner_id\nH1,Y1,W1\n"
FEET = "horse_id,foot,visit_date,observer_id,method,toe_angle_deg\nH1,LF,2026-03-01,A,gauge,{}\n"


def put(folder, name, text=HORSES):
    path = folder / "in" / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text)


def taken(folder):
    assert main(["inbox", str(folder / "in"), "--out", str(folder / "out")]) == 0
    return json.loads((folder / "out/ledger.json").read_text(encoding="utf-8"))


MAPPING = "table: horses\ncolumns: {nag: {to: horse_id}, yard: {to: yard_id}, who: {to: owner_id}}\n"


@pytest.mark.parametrize("name", ["mapping.yaml", "h.csv.mapping.yaml", "h.mapping.yaml", "h.csv.first.mapping.yaml"])
def test_a_mapping_is_found_by_its_name(tmp_path, name):
    put(tmp_path, "1/ash/h.csv", "nag,yard,who\nH1,Y1,W1\n")
    put(tmp_path, f"1/ash/{name}", MAPPING)
    ledger = taken(tmp_path)
    assert ledger["total"]["accepted"] == 1
    assert ledger["unread"] == []


@pytest.mark.parametrize("name", ["g.csv.mapping.yaml", "h.yaml", "mapping.yml", "h.csv.mapping.YAML", "hmapping.yaml"])
def test_the_coordinator_is_told_of_a_mapping_that_belongs_to_no_file(tmp_path, capsys, name):
    put(tmp_path, "1/ash/h.csv", "nag,yard,who\nH1,Y1,W1\n")
    put(tmp_path, f"1/ash/{name}", MAPPING)
    ledger = taken(tmp_path)
    assert ledger["total"]["accepted"] == 0
    assert [one["file"] for one in ledger["unread"]] == [f"ash/{name}"]
    assert f"ash/{name}: not read: a mapping that belongs to no file" in capsys.readouterr().err
    assert name not in (tmp_path / "out/letters/ash.html").read_text(encoding="utf-8")


def test_a_mapping_of_a_later_rounds_file_belongs_to_it(tmp_path):
    put(tmp_path, "1/ash/h.csv.mapping.yaml", MAPPING)
    put(tmp_path, "2/ash/h.csv", "nag,yard,who\nH1,Y1,W1\n")
    assert taken(tmp_path)["total"]["accepted"] == 1


def test_nothing_is_passed_over_in_silence(tmp_path, capsys):
    put(tmp_path, "1/ash/horses.csv")
    put(tmp_path, "1/loose.csv")
    put(tmp_path, "loose too.csv")
    put(tmp_path, "README.md")
    put(tmp_path, "1/ash/.DS_Store")
    put(tmp_path, "1/zoe/sub/feet.csv")
    (tmp_path / "in/1/ash/gone.csv").symlink_to(tmp_path / "nowhere")
    os.mkfifo(tmp_path / "in/1/ash/pipe.csv")
    (tmp_path / "in/1" / os.fsdecode(b"b\xe4r")).mkdir()
    ledger = taken(tmp_path)
    assert {one["file"]: one["why"].split(";")[0] for one in ledger["unread"]} == {
        "loose too.csv": "it lies in no member's folder",
        "loose.csv": "it lies in no member's folder",
        "b?r": "the folder's name holds signs that no name should",
    }
    refused = {f"{one['member']}/{one['file']}": one["refused"] for one in ledger["files"] if one["refused"]}
    assert list(refused) == ["ash/gone.csv", "ash/pipe.csv", "zoe/sub/"]
    assert "folder with 1 file;" in refused["zoe/sub/"]
    told = [capsys.readouterr().err, (tmp_path / "out/coordinator.html").read_text(encoding="utf-8")]
    for name in ("loose.csv", "loose too.csv", "b?r", "gone.csv", "pipe.csv", "sub/"):
        assert all(name in text for text in told)
    assert "sub/" in (tmp_path / "out/letters/zoe.html").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("one", "other"), [("adler", "Adler"), *[("Bärbel", "Bärbel")]], ids=["capitals", "composed and decomposed"]
)
def test_a_member_is_one_however_the_folder_is_written(tmp_path, one, other):
    other = unicodedata.normalize("NFD", other)
    assert one != other
    put(tmp_path, f"1/{one}/feet.csv", HORSES)
    put(tmp_path, f"2/{other}/FEET.csv", HORSES.replace("Y1", "Y2"))
    ledger = taken(tmp_path)
    assert list(ledger["members"]) == [one]
    assert [ledger["total"][fate] for fate in ("accepted", "superseded")] == [1, 1]
    assert len(list((tmp_path / "out/letters").iterdir())) == 2


def test_two_folders_of_one_round_for_one_name_are_never_mixed(tmp_path):
    put(tmp_path, "1/Adler/horses.csv")
    put(tmp_path, "1/adler/horses.csv", HORSES.replace("H1", "H2"))
    assert [source.path.parent.name for source in list_inbox(tmp_path / "in")] == ["Adler"]
    (unread,) = list_unread(tmp_path / "in")
    assert (unread.member, unread.file) == ("Adler", "adler/horses.csv")
    ledger = taken(tmp_path)
    assert [one["refused"].split(";")[0] for one in ledger["files"] if one["refused"]] == [
        "a second folder of the round differs from 'Adler' in capitals alone"
    ]


def test_two_files_whose_names_differ_in_capitals_are_both_read_and_told(tmp_path):
    put(tmp_path, "1/ash/horses.csv")
    put(tmp_path, "1/ash/Feet.CSV", FEET.format(50))
    put(tmp_path, "1/ash/feet.csv", FEET.format(51).replace("LF", "RF"))
    put(tmp_path, "2/ash/feet.csv", FEET.format(52))
    total = taken(tmp_path)["total"]
    assert [total[fate] for fate in ("accepted", "superseded")] == [3, 1]
    assert "Feet.CSV is another file; both were read" in (tmp_path / "out/letters/ash.html").read_text()
    assert "differ in capitals alone" in (tmp_path / "out/coordinator.html").read_text()

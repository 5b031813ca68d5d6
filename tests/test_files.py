"""Files appear whole or not at all, and hold what they were given."""

from __future__ import annotations

import json
import stat

import pandas as pd
import pytest

from hoofcohort import files
from hoofcohort.cli import main


def everything(folder):
    return sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*"))


def refuse(path):
    path.write_text("half")
    raise ZeroDivisionError


def test_text_is_written_as_it_is_and_can_be_read_by_all(tmp_path):
    target = tmp_path / "new" / "folder" / "a.txt"
    files.write_text_atomic(target, "Hufwinkel 50°\r\nzwei\n")
    assert target.read_bytes() == "Hufwinkel 50°\r\nzwei\n".encode()
    assert stat.S_IMODE(target.stat().st_mode) == 0o644
    files.write_text_atomic(str(target), "")
    assert target.read_bytes() == b""
    assert everything(tmp_path) == ["new", "new/folder", "new/folder/a.txt"]


def test_a_failure_keeps_the_old_file_and_leaves_nothing_beside_it(tmp_path):
    target = tmp_path / "a.txt"
    target.write_text("old")
    with pytest.raises(ZeroDivisionError):
        files.write_atomic(target, refuse)
    assert target.read_text() == "old"
    assert everything(tmp_path) == ["a.txt"]


def test_several_files_are_written_all_or_none(tmp_path):
    (tmp_path / "kept").mkdir()
    first, second = tmp_path / "kept" / "a.txt", tmp_path / "made" / "deep" / "b.txt"
    with pytest.raises(ZeroDivisionError):
        files.write_files_atomic({first: lambda path: path.write_text("a"), second: refuse})
    assert everything(tmp_path) == ["kept"]
    files.write_files_atomic({first: lambda path: path.write_text("a"), second: lambda path: path.write_text("b")})
    assert (first.read_text(), second.read_text()) == ("a", "b")
    assert everything(tmp_path) == ["kept", "kept/a.txt", "made", "made/deep", "made/deep/b.txt"]


def test_an_interrupt_leaves_nothing_either(tmp_path):
    def interrupted(path):
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        files.write_atomic(tmp_path / "made" / "a.txt", interrupted)
    assert everything(tmp_path) == []


def test_json_keeps_order_and_letters_and_refuses_what_is_no_number(tmp_path):
    target = tmp_path / "a.json"
    value = {"z": 1, "a": ["ß", None, 0.1]}
    files.write_json_atomic(target, value)
    assert list(json.loads(target.read_text(encoding="utf-8")).items()) == list(value.items())
    assert "ß" in target.read_text(encoding="utf-8")
    for broken in (float("nan"), float("inf")):
        with pytest.raises(ValueError, match="JSON compliant"):
            files.write_json_atomic(target, {"x": broken})
    assert json.loads(target.read_text(encoding="utf-8")) == value
    assert everything(tmp_path) == ["a.json"]


def test_parquet_comes_back_without_its_index(tmp_path):
    frame = pd.DataFrame({"a": [1.5, None], "b": ["x", "y"]}, index=[7, 9])
    files.write_parquet_atomic(tmp_path / "a.parquet", frame)
    pd.testing.assert_frame_equal(
        pd.read_parquet(tmp_path / "a.parquet"), frame.reset_index(drop=True), check_dtype=False
    )


def test_digest_is_that_of_the_published_example(tmp_path):
    """FIPS 180-2, appendix B.1: the SHA-256 of the three letters abc."""
    (tmp_path / "a").write_bytes(b"abc")
    assert files.sha256_of(tmp_path / "a") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


@pytest.mark.parametrize(
    ("text", "guarded"),
    [
        ("=1+1", "'=1+1"), ("+a", "'+a"), ("@x", "'@x"), ("\tx", "'\tx"), ("\rx", "'\rx"), ("-x", "'-x"),
        ("-4.5", "-4.5"), ("+3e2", "+3e2"), ("a=1", "a=1"), ("", ""), ("-", "'-"),
    ],
)  # fmt: skip
def test_text_is_guarded_against_formulas(text, guarded):
    assert files.guard_formula(text) == guarded


def test_signs_that_steer_a_terminal_reach_neither_the_screen_nor_a_letter(tmp_path, capsys):
    member = tmp_path / "in/1/ash"
    member.mkdir(parents=True)
    (member / "h.csv").write_text("horse_id,yard_id,owner_id\nH1,Y1,W1\n", encoding="utf-8")
    (member / "g.csv").write_text("a,b,c\n1,2,3\n", encoding="utf-8")
    (member / "g.csv.mapping.yaml").write_text('table: horses\ncolumns: {"x\\e[31m\\u009b": {to: nothing}}\n')
    assert main(["inbox", str(tmp_path / "in"), "--out", str(tmp_path / "out")]) == 0
    told = capsys.readouterr()
    texts = [
        told.out,
        told.err,
        *((tmp_path / "out/letters" / f"ash.{kind}").read_text("utf-8") for kind in ("html", "csv")),
    ]
    assert "x?[31m?" in told.err
    assert not any(sign in text for text in texts for sign in ("\x1b", "\x9b"))

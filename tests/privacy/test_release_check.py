"""A planted name is found in whatever file and spelling; what is clean passes; what cannot be read does not."""

from __future__ import annotations

import base64
import bz2
import gzip
import html
import io
import json
import random
import re
import shutil
import struct
import tarfile
import time
import zipfile
import zlib
from pathlib import Path
from urllib.parse import quote

import openpyxl
import pandas as pd
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from examples import examples
from hoofcohort.cli import main
from hoofcohort.privacy.keys import new_key, read_key
from hoofcohort.privacy.lookup import Lookup
from hoofcohort.privacy.patterns import find_patterns
from hoofcohort.privacy.private_values import Originals, Private, fold, why_not
from hoofcohort.privacy.release import check_release, key_spellings, masked
from hoofcohort.privacy.unpack import unpack

ROOT = Path(__file__).parents[2]
HORSE, YARD, CHIP = "Zorblax-Ämber 7", "Old & Crooked Mill", "276020000123457"
CLEAN = "<html><body><p>Heels under-run by 5.25 deg (4.13 to 6.37) in 63 horses; mare, hay, soft.</p></body></html>"


@pytest.fixture
def originals(tmp_path):
    folder = tmp_path / "originals"
    folder.mkdir()
    (folder / "horses.csv").write_text(
        "horse_id,yard_id,owner_id,ueln,microchip\n"
        f"{HORSE},{YARD},W17,276020000ABC457,{CHIP}\n1,Bay,other,,\nZQ-2,Y9,Qmwort,,\n"
    )
    (folder / "management.csv").write_text(
        "horse_id,from_date,diet,terrain,trim_interval_days\n1,2026-01-01,hay,soft,42\n"
    )
    (folder / "feet.csv").write_text("horse_id,foot,visit_date,observer_id,method\n1,LF,2026-01-01,Vandrel,gauge\n")
    return folder


def check(tmp_path, originals, files, *more):
    """Write a release and check it: the exit status."""
    release = tmp_path / "release"
    for name, data in files.items():
        path = release / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data if isinstance(data, bytes) else data.encode())
    return main(["release-check", str(release), "--against", str(originals), *more])


def test_a_clean_release_passes_and_says_what_was_not_searched(tmp_path, originals, capsys):
    assert check(tmp_path, originals, {"report.html": CLEAN, "tables/a.csv": "group,horses\nhay,21\n1,Bay\n"}) == 0
    said = capsys.readouterr().out
    assert "not searched: 1 values of horse_id, because they are fewer than 6 digits" in said
    assert "not searched: 1 values of yard_id, because they are fewer than 4 letters" in said
    assert "not searched: 1 values of yard_id, because they are fewer than 3 letters and digits" in said
    assert "not searched: 1 values of owner_id, because they are made of words that the tables' own" in said
    assert "2 files searched for 8 private values: 0 found, 0 places not checked" in said


SPELLINGS = {
    "as it is": HORSE,
    "capitals": HORSE.upper(),
    "without accents": "Zorblax-Amber 7",
    "another accent form": "Zorblax-A\u0308mber 7",
    "underscores": "zorblax_ämber_7",
    "run together": "ZORBLAXÄMBER7",
    "broken up": "Zor blax Äm-ber 7",
    "over two lines": "Zorblax-Ämber\n   7",
    "html": html.escape(HORSE).replace("Ä", "&#196;"),
    "html named": HORSE.replace("Ä", "&Auml;").replace("-", "&#x2d;"),
    "html twice": "Zorblax-&amp;Auml;mber 7",
    "url": quote(HORSE),
    "url twice": quote(quote(HORSE)),
    "json": json.dumps(HORSE),
    "escapes throughout": "".join(f"\\u{ord(letter):04x}" for letter in HORSE),
    "tags inside": "Zor<b>blax</b>-<span class='x'>Ämber</span> 7",
    "inside a longer word": "reportzorblaxamber7final",
}


@pytest.mark.parametrize("spelling", SPELLINGS.values(), ids=list(SPELLINGS))
def test_a_name_is_found_in_every_spelling(tmp_path, originals, capsys, spelling):
    assert check(tmp_path, originals, {"report.html": f"{CLEAN}\n<p>of {spelling}.</p>\n"}) == 1
    said = capsys.readouterr().out
    assert "FOUND report.html: line 2: horse_id: z*******" in said
    assert "zorblax" not in said.lower().split("FOUND", 1)[-1]


@pytest.mark.parametrize(
    ("text", "column"),
    [(YARD, "yard_id"), (CHIP, "microchip"), ("276 020 000 123 457", "microchip"), ("276020000abc457", "ueln"),
     ("W17", "owner_id"), ("zq-2", "horse_id"), ("zq 2", "horse_id"), ("Vandrel's", "observer_id"),
     ("qmwort", "owner_id")],
)  # fmt: skip
def test_every_private_column_is_searched(tmp_path, originals, capsys, text, column):
    assert check(tmp_path, originals, {"a.txt": f"see {text}, there"}) == 1
    assert f": {column}: " in capsys.readouterr().out


@pytest.mark.parametrize(
    "text",
    [
        "W170",
        "xW17",
        "zq-20",
        "Vandrelsen",
        "0.276020000123457001",
        "0.276020000123457",
        "2760.20000123457",
        "mill old crooked",
    ],
)
def test_what_only_resembles_a_value_is_no_alarm(tmp_path, originals, text):
    assert check(tmp_path, originals, {"a.txt": f"see {text}, there"}) == 0


def zipped(name, data):
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(name, data)
    return packed.getvalue()


def tarred(name, data):
    packed = io.BytesIO()
    with tarfile.open(fileobj=packed, mode="w") as archive:
        member = tarfile.TarInfo(name)
        member.size = len(data)
        archive.addfile(member, io.BytesIO(data))
    return packed.getvalue()


def workbook(text):
    book, written = openpyxl.Workbook(), io.BytesIO()
    book.active["B7"] = text
    book.save(written)
    return written.getvalue()


def parquet(frame):
    written = io.BytesIO()
    frame.to_parquet(written)
    return written.getvalue()


def chunk(kind, body):
    return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))


def png(kind, body):
    head = struct.pack(">IIBBBBB", 1, 1, 8, 0, 0, 0, 0)
    parts = [(b"IHDR", head), (kind, body), (b"IDAT", zlib.compress(b"\0\0")), (b"IEND", b"")]
    return b"\x89PNG\r\n\x1a\n" + b"".join(chunk(*part) for part in parts)


NAME = HORSE.encode()
NOTE = png(b"tEXt", b"Title\0" + HORSE.encode("latin-1"))
HOLDERS = {
    "a.csv": f"group,label\nhay,{HORSE}\n".encode(),
    "a.json": json.dumps({"label": [HORSE]}).encode(),
    "a.svg": f'<svg><g id="{html.escape(HORSE)}"/></svg>'.encode(),
    "marked.txt": HORSE.encode("utf-8-sig"),
    "wide.txt": f"name: {HORSE}".encode("utf-16"),
    "wide-le.txt": f"name: {HORSE}".encode("utf-16-le"),
    "wide-be.txt": f"name: {HORSE}".encode("utf-16-be"),
    "old.txt": f"name: {HORSE}".encode("cp1252"),
    "a.csv.gz": gzip.compress(NAME, mtime=0),
    "a.bz2": bz2.compress(NAME),
    "a.zip": zipped("inner.txt", NAME),
    "name.zip": zipped(f"{HORSE}.txt", b""),
    "twice.zip": zipped("inner.gz", gzip.compress(NAME, mtime=0)),
    "a.tar": tarred("inner.txt", NAME),
    "a.xlsx": workbook(HORSE),
    "a.parquet": parquet(pd.DataFrame({"label": [HORSE], "n": [1]})),
    "number.parquet": parquet(pd.DataFrame({"n": [int(CHIP), 2]})),
    "float.parquet": parquet(pd.DataFrame({"n": [float(CHIP), 2.5]})),
    "column.parquet": parquet(pd.DataFrame({HORSE: [1]})),
    "nested.parquet": parquet(pd.DataFrame({"n": [[HORSE, "x"]]})),
    "note.png": NOTE,
    "packed-note.png": png(b"zTXt", b"Title\0\0" + zlib.compress(HORSE.encode("latin-1"))),
    "world-note.png": png(b"iTXt", b"Title\0\1\0de\0\0" + zlib.compress(NAME)),
    "embedded.svg": b'<image href="data:image/png;base64,' + base64.b64encode(NOTE) + b'"/>',
    f"of {HORSE}.txt": b"nothing",
    f"{HORSE}/a.txt": b"nothing",
    "a.pdf": b"%PDF-1.4\n1 0 obj<</Title (" + HORSE.encode("latin-1") + b")>>\n",
    "page.pdf": b"%PDF-1.4\nstream\n" + zlib.compress(HORSE.encode("latin-1")) + b"\nendstream\n",
    "unknown.bin": b"\0\1\2\3\0" + HORSE.encode("latin-1") + b"\0\7",
    "wide.bin": b"\0\1\2\3\0\7" + HORSE.encode("utf-16-le").replace(b"\0", b"") + b"\0\7\7",
}


@pytest.mark.parametrize("name", HOLDERS)
def test_a_name_is_found_in_every_kind_of_file(tmp_path, originals, capsys, name):
    assert check(tmp_path, originals, {name: HOLDERS[name], "beside.html": CLEAN}) == 1
    found = [line for line in capsys.readouterr().out.splitlines() if line.startswith("FOUND")]
    assert all(line.startswith(f"FOUND {name}: ") for line in found)
    assert any(re.search(r": (horse_id|microchip): ", line) for line in found)


def test_clean_files_of_every_kind_pass(tmp_path, originals):
    clean = {
        "a.zip": zipped("inner.html", CLEAN), "a.xlsx": workbook("hay"), "a.png": png(b"tEXt", b"Software\0hay"),
        "a.parquet": parquet(pd.DataFrame({"label": ["hay"], "n": [1.5], "day": [pd.Timestamp("2026-01-01")]})),
        "a.csv.gz": gzip.compress(b"group\nhay\n", mtime=0), "empty.txt": b"",
    }  # fmt: skip
    assert check(tmp_path, originals, clean) == 0


encrypted = bytearray(zipped("inner.txt", b"x"))
encrypted[6] |= 1
encrypted[encrypted.index(b"PK\x01\x02") + 8] |= 1
UNREADABLE = {
    "a.pdf": b"%PDF-1.4\nhay",
    "a.bin": bytes(range(256)),
    "locked.zip": bytes(encrypted),
    "cut.gz": gzip.compress(b"hay" * 1000, mtime=0)[:-9],
    "cut.parquet": b"PAR1xxxx",
    "cut.png": NOTE[:40],
    "bomb.zip": zipped("z", b"\0" * 1000),
    "broken.svg": b'<image href="data:image/png;base64,AAAAA"/>',
}


@pytest.mark.parametrize("name", UNREADABLE)
def test_what_cannot_be_read_is_not_clean(tmp_path, originals, capsys, name):
    assert check(tmp_path, originals, {name: UNREADABLE[name], "beside.html": CLEAN}) == 2
    assert f"NOT CHECKED {name}" in capsys.readouterr().out


def test_archives_without_end_are_not_followed(monkeypatch):
    data = b"hay"
    for _ in range(8):
        data = gzip.compress(data, mtime=0)
    assert [reason for _, reason in unpack(data).unseen] == ["is packed too deeply or unpacks to too much"]
    monkeypatch.setattr("hoofcohort.privacy.unpack.Unpacked.left", 0)
    large = unpack(gzip.compress(b"\0" * 600_000_000, compresslevel=1, mtime=0)).unseen
    assert large == [("", "cannot be read (OverflowError)")]


@pytest.mark.parametrize("form", ["hex", "HEX", "raw", "base64", "shifted", "url", "utf-16"])
def test_the_key_is_found(tmp_path, originals, capsys, form):
    new_key(tmp_path / "key")
    key = read_key(tmp_path / "key")
    written = {
        "hex": key.hex().encode(), "HEX": key.hex().upper().encode(), "raw": key, "base64": base64.b64encode(key),
        "shifted": base64.b64encode(b"xx" + key + b"y"), "url": base64.urlsafe_b64encode(key),
        "utf-16": key.hex().encode("utf-16"),
    }[form]  # fmt: skip
    data = written if form == "utf-16" else b"here: " + written + b" end"
    assert check(tmp_path, originals, {"a.txt": data}, "--key", str(tmp_path / "key")) == 1
    assert "the key: s" in capsys.readouterr().out
    assert check(tmp_path, originals, {"a.txt": CLEAN}, "--key", str(tmp_path / "key")) == 0


def test_the_keys_spellings_hold_for_any_key():
    draw = random.Random(1)
    for size in (32, 33, 34, 48):
        key = draw.randbytes(size)
        for before in range(4):
            for after in range(3):
                whole = base64.b64encode(draw.randbytes(before) + key + draw.randbytes(after)).decode()
                assert any(one in whole for one in key_spellings(key))


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("write to a.b@example.org now", "e-mail address"),
        ("ring +49 170 555 01 23 now", "telephone number"),
        ("ring 0170 555 0123 now", "telephone number"),
        ("at 52.5163 N, 13.3777 E", "coordinates"),
        ("at 52°31'10\" N", "coordinates"),
        ('{"lat": 52.5163, "lon": 13.3777}', "coordinates"),
        ("chip 276098100000001.", "microchip or UELN"),
        ("passport 276098ABC000001", "UELN"),
    ],
)
def test_what_looks_private_is_found_though_it_is_nobodys(tmp_path, originals, capsys, text, what):
    assert check(tmp_path, originals, {"a.txt": text}) == 1
    assert (
        f"looks like a {what}" in (out := capsys.readouterr().out)
        or f"looks like an {what}" in out
        or (f"looks like {what}" in out)
    )


def test_numbers_of_a_report_look_like_nothing():
    text = "0.123456789012345 1.23456789012345e-05,-0.5123,12.34567 2026-03-14 sha256:" + "ab12" * 16
    text += ' <path d="M 012 345 678 0170 555 0123"/> mean 12.3456 SE 1.2345 E 0.12'
    assert list(find_patterns(text)) == []


@pytest.mark.parametrize(
    ("header", "cell", "what"),
    [("horse_id", "7", "column horse_id without a pseudonym"), ("microchip", "x", "never published"),
     ("owner_email", "x", "never published"), ("notes", "x", "never published"), ("Latitude", "x", "never published")],
)  # fmt: skip
@pytest.mark.parametrize("kind", ["csv", "parquet"])
def test_a_released_table_holds_no_private_column(tmp_path, originals, capsys, header, cell, what, kind):
    frame = pd.DataFrame({"group": ["hay"], header: [cell]})
    data = parquet(frame) if kind == "parquet" else frame.to_csv(index=False, sep=";").encode()
    assert check(tmp_path, originals, {f"a.{kind}": data}) == 1
    assert what in capsys.readouterr().out


def test_the_demo_under_pseudonyms_is_clean_and_one_column_forgotten_is_not(tmp_path, monkeypatch, capsys):
    demo, out, key = ROOT / "synthetic_data", tmp_path / "out", tmp_path / "key"
    new_key(key)
    made = ["pseudonymise", str(demo), "--key", str(key), "--out", str(out)]
    search = ["release-check", str(out), "--against", str(demo), "--key", str(key)]
    assert main(made) == 0
    assert main(search) == 0
    from hoofcohort.privacy import deidentify

    whole = deidentify._cells
    for column in ("horse_id", "yard_id", "owner_id", "observer_id"):

        def forgets(declared, values, names, forgotten=column):
            if declared.name == forgotten:
                return ["" if value != value else str(value) for value in values]
            return whole(declared, values, names)

        monkeypatch.setattr(deidentify, "_cells", forgets)
        assert main(made) == 0
        capsys.readouterr()
        assert main(search) == 1
        assert f": {column}: " in capsys.readouterr().out


def test_no_originals_and_no_release_are_no_clean_answer(tmp_path, originals, capsys):
    assert main(["release-check", str(tmp_path / "none"), "--against", str(originals)]) == 2
    (tmp_path / "empty").mkdir()
    assert main(["release-check", str(tmp_path / "empty"), "--against", str(originals)]) == 2
    assert main(["release-check", str(originals), "--against", str(tmp_path / "empty")]) == 2
    for name in ("horses", "management", "feet"):
        head = (originals / f"{name}.csv").read_text().split("\n")[0]
        (originals / f"{name}.csv").write_text(head + "\n")
    assert check(tmp_path, originals, {"a.txt": "x"}) == 2
    assert "hold no private value that can be searched for" in capsys.readouterr().err


def test_a_withdrawn_name_is_found_where_the_earlier_tables_are_given_too(tmp_path, originals, capsys):
    earlier = tmp_path / "earlier"
    shutil.copytree(originals, earlier)
    (originals / "horses.csv").write_text("horse_id,yard_id,owner_id\nQuillonet,Bay,Vesperine\n")
    text = {"a.txt": f"of {HORSE}"}
    assert check(tmp_path, originals, text) == 0
    assert "not searched: names of horses and people whose consent was withdrawn" in capsys.readouterr().out
    assert check(tmp_path, originals, text, "--against", str(earlier)) == 1
    assert ": horse_id: " in capsys.readouterr().out
    assert check(tmp_path, earlier, text, "--against", str(originals)) == 1
    assert check(tmp_path, originals, text, "--against", str(tmp_path / "never")) == 2


def test_a_link_to_a_folder_is_not_passed_over(tmp_path, originals, capsys):
    check(tmp_path, originals, {"a.txt": "x"})
    (tmp_path / "release/more").symlink_to(originals)
    assert main(["release-check", str(tmp_path / "release"), "--against", str(originals)]) == 2
    assert "NOT CHECKED more: is a link to a folder" in capsys.readouterr().out


def test_masked_values_tell_little():
    assert masked("Zorblax") == "Z****** (7 characters)"
    assert masked("Y9") == "Y* (2 characters)"


WORDS = st.text(st.sampled_from("abcdé12 -_/&"), min_size=1, max_size=14)


@settings(max_examples=examples(200), deadline=None)
@given(st.lists(WORDS, min_size=1, max_size=5), st.text(max_size=20), st.text(max_size=20))
def test_whatever_is_searched_for_is_found_alone_in_a_line(texts, before, after):
    values = [Private("c", tuple(re.findall(r"[^\W_]+", fold(text)))) for text in texts]
    values = [value for value in values if value.joined and not why_not(value)]
    assume(values)
    for value in values:
        found = Lookup(values).find(f"{before},\n,{' '.join(value.words)},\n,{after}")
        assert value.joined in {own.joined for _, own in found}


def test_many_values_in_some_megabytes_take_seconds(tmp_path):
    draw = random.Random(1)
    values = [Private("horse_id", ("h", f"{number:06d}x")) for number in range(50_000)]
    values += [Private("microchip", (f"276{draw.randrange(10**12):012d}",)) for _ in range(50_000)]
    page = "".join(f"<tr><td>{draw.random():.6f}</td><td>hay {n}</td></tr>\n" for n in range(100_000))
    (tmp_path / "report.html").write_text(page + "<p>h-000017x</p>")
    assert len(page) > 4_000_000
    start = time.process_time()
    found = check_release(tmp_path, Originals(values, {})).findings
    assert [(one.what, one.place) for one in found] == [("horse_id", "line 100001")]
    assert time.process_time() - start < 20


@pytest.mark.parametrize("text", ["without horse 1 it moves", "yard: Bay", '{"horse": "1"}', "Horse #1.", "yard_Y9"])
def test_a_short_value_is_found_where_the_text_says_what_it_is(tmp_path, originals, capsys, text):
    assert check(tmp_path, originals, {"a.txt": text}) == 1
    assert re.search(r"FOUND a.txt: line 1: (horse|yard)_id: ", capsys.readouterr().out)


@pytest.mark.parametrize(
    "text", ["1 horse", "63 horses, 1 yard", "of one horse 1.25 mm", "the horse 12", "yard 1", "bay"]
)
def test_a_short_value_is_no_alarm_elsewhere(tmp_path, originals, text):
    assert check(tmp_path, originals, {"a.txt": text}) == 0


@pytest.mark.parametrize("kind", ["csv", "parquet", "xlsx", "json"])
@pytest.mark.parametrize(("header", "cell"), [("label", "Y9"), ("horse_id", "77"), ("Horse ID", "77")])
def test_labels_and_codes_are_looked_at_whatever_they_hold(tmp_path, originals, capsys, kind, header, cell):
    frame = pd.DataFrame({"rank": [1], header: [cell]})
    if kind == "json":
        data = f'{{"horse_id": "{cell}"}}'.encode()
    elif kind == "xlsx":
        written = io.BytesIO()
        frame.to_excel(written, index=False)
        data = written.getvalue()
    else:
        data = parquet(frame) if kind == "parquet" else frame.to_csv(index=False).encode()
    assert check(tmp_path, originals, {f"a.{kind}": data}) == 1


@pytest.mark.parametrize("cell", [int(CHIP), float(CHIP)])
def test_a_microchip_kept_as_a_number_is_found_in_a_workbook(tmp_path, originals, capsys, cell):
    assert check(tmp_path, originals, {"a.xlsx": workbook(cell)}) == 1
    assert ": microchip: 2" in capsys.readouterr().out


def test_a_microchip_as_a_spreadsheet_writes_it_is_found(tmp_path, originals, capsys):
    assert check(tmp_path, originals, {"a.csv": "n\n2.76020000123457E+14\n"}) == 1
    assert ": microchip: 2" in capsys.readouterr().out


def test_members_and_their_files_are_searched_for_after_an_inbox(tmp_path, originals, capsys):
    files = [{"member": "Quillon", "file": name} for name in ("feet.csv", "quillon herd.xlsx")]
    (originals / "ledger.json").write_text(json.dumps({"members": {"Quillon": {}}, "files": files}))
    assert check(tmp_path, originals, {"a.txt": "feet.csv and horses.csv"}) == 0
    assert "1 values of file, because they are the names of the study's own files\n" in capsys.readouterr().out
    assert check(tmp_path, originals, {"a.txt": "sent by quillon, in Quillon_herd.xlsx"}) == 1
    said = capsys.readouterr().out
    assert ": member: " in said
    assert ": file: " in said

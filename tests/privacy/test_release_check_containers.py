"""A planted name is found wherever a container keeps text beside its content, and encoded in a text."""

from __future__ import annotations

import base64
import gzip
import io
import random
import struct
import tarfile
import zipfile
import zlib

import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from hoofcohort.cli import main

NAME = "Łukasz Grünwald"


@pytest.fixture
def originals(tmp_path):
    folder = tmp_path / "originals"
    folder.mkdir()
    (folder / "horses.csv").write_text(f"horse_id,yard_id,owner_id\nEisvogel,Hof,{NAME}\n", encoding="utf-8")
    (folder / "management.csv").write_text("horse_id,from_date,diet,terrain,trim_interval_days\n")
    (folder / "feet.csv").write_text("horse_id,foot,visit_date,observer_id,method\n")
    return folder


def check(tmp_path, originals, files):
    release = tmp_path / "release"
    release.mkdir(exist_ok=True)
    for name, data in files.items():
        (release / name).write_bytes(data)
    return main(["release-check", str(release), "--against", str(originals)])


def zipped(comment=b"", note=b"", extra=b"", before=b""):
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        archive.writestr("first.txt", "hay")
        packed.write(before)
        archive.start_dir = packed.tell()
        member = zipfile.ZipInfo("second.txt")
        member.comment, member.extra = note, extra
        archive.writestr(member, "hay")
        archive.comment = comment
    return packed.getvalue()


def tarred(headers=None, group="", after=b""):
    packed = io.BytesIO()
    with tarfile.open(fileobj=packed, mode="w", format=tarfile.PAX_FORMAT, pax_headers=headers or {}) as archive:
        member = tarfile.TarInfo("inner.txt")
        member.gname = group
        archive.addfile(member, io.BytesIO())
    return packed.getvalue() + after


def gzipped(flag, field):
    data = bytearray(gzip.compress(b"hay", mtime=0))
    data[3] |= flag
    return bytes(data[:10]) + field + bytes(data[10:])


def chunk(kind, body):
    return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))


def png(*chunks, after=b""):
    head = chunk(b"IHDR", struct.pack(">IIBBBBB", 1, 1, 8, 0, 0, 0, 0))
    body = b"".join(chunk(*one) for one in chunks)
    return b"\x89PNG\r\n\x1a\n" + head + body + chunk(b"IDAT", zlib.compress(b"\0\0")) + chunk(b"IEND", b"") + after


def parquet(column, metadata=None):
    written = io.BytesIO()
    field = pa.field("label", column.type, metadata=metadata)
    pq.write_table(pa.table([column], schema=pa.schema([field])), written)
    return written.getvalue()


TEXT = NAME.encode()
INNER = io.BytesIO()
with zipfile.ZipFile(INNER, "w", zipfile.ZIP_DEFLATED) as inner:
    inner.writestr("a.txt", NAME)
UNUSED = pa.DictionaryArray.from_arrays(pa.array([0, 0], pa.int32()), pa.array(["hay", NAME]))
CONTAINERS = {
    "gzip's stored name": gzipped(8, TEXT + b"\0"),
    "gzip's comment": gzipped(16, TEXT + b"\0"),
    "gzip's extra field": gzipped(4, struct.pack("<H", len(TEXT)) + TEXT),
    "a ZIP archive's comment": zipped(comment=TEXT),
    "a ZIP entry's comment": zipped(note=TEXT),
    "a ZIP entry's extra field": zipped(extra=struct.pack("<HH", 0x9999, len(TEXT)) + TEXT),
    "between ZIP entries": zipped(before=b"by the hand of " + TEXT),
    "after a ZIP archive": zipped() + b"\nby the hand of " + TEXT,
    "a tar archive's headers": tarred({"comment": NAME}),
    "a tar entry's group": tarred(group=NAME),
    "after a tar archive": tarred(after=TEXT),
    "a PNG's note": png((b"tEXt", b"Title\0" + TEXT)),
    "a PNG's packed note": png((b"zTXt", b"Title\0\0" + zlib.compress(TEXT))),
    "a PNG's EXIF": png((b"eXIf", b"MM\0\x2a" + NAME.encode("utf-16-be"))),
    "a PNG's EXIF at an odd place": png((b"eXIf", b"II\x2a\0\0" + NAME.encode("utf-16-le"))),
    "a PNG's colour profile": png((b"iCCP", b"icc\0\0" + zlib.compress(b"desc" + b"\0" + TEXT))),
    "a PNG's private chunk": png((b"prVt", TEXT)),
    "an archive after a PNG": png(after=INNER.getvalue()),
    "an unused word of a Parquet column": parquet(UNUSED),
    "the notes of a Parquet column": parquet(pa.array(["hay"]), {"by": NAME + " of the long hay meadow" * 9}),
}


@pytest.mark.parametrize("kind", CONTAINERS)
def test_a_name_beside_the_content_is_found(tmp_path, originals, capsys, kind):
    assert check(tmp_path, originals, {"a.bin": CONTAINERS[kind]}) == 1
    assert "FOUND a.bin: " in (said := capsys.readouterr().out)
    assert ": owner_id: l" in said


@pytest.mark.parametrize(
    "data",
    [zipped(b"hay", b"hay", struct.pack("<HH", 0x9999, 3) + b"hay"), tarred({"comment": "hay"}, "users"),
     gzipped(8, b"hay.txt\0"), png((b"tEXt", b"Title\0hay"), (b"pHYs", b"\0" * 9)), parquet(pa.array(["hay", None]))],
    ids=["zip", "tar", "gzip", "png", "parquet"],
)  # fmt: skip
def test_clean_containers_pass(tmp_path, originals, data):
    assert check(tmp_path, originals, {"a.bin": data}) == 0


@pytest.mark.parametrize("data", [zipped() + b"\0\1" * 40, zipped(before=b"x" * 40), png((b"prVt", b"hay"))])
def test_places_where_no_text_belongs_are_pointed_out(tmp_path, originals, capsys, data):
    assert check(tmp_path, originals, {"a.bin": data}) == 2
    assert "NOT CHECKED a.bin: " in capsys.readouterr().out


def test_an_empty_folders_name_and_a_links_target_are_searched(tmp_path, originals, capsys):
    (tmp_path / "release" / NAME).mkdir(parents=True)
    assert check(tmp_path, originals, {"a.txt": b"hay"}) == 1
    (tmp_path / "release" / NAME).rmdir()
    (tmp_path / "release/b.txt").symlink_to(f"../{NAME}.txt")
    assert check(tmp_path, originals, {"a.txt": b"hay"}) == 1
    said = capsys.readouterr().out
    assert "the link's target line 1: owner_id" in said
    assert "NOT CHECKED b.txt: is no file that can be read" in said


ENCODED = {
    "base64": base64.b64encode(TEXT).decode(),
    "base64 of Latin-1": base64.b64encode(b"Eisvogel of Gr\xfcnwald").decode(),
    "base64 without its end": base64.b64encode(b"Eisvogel").decode().rstrip("="),
    "base64 for addresses": base64.urlsafe_b64encode(b"\xc3\xbe\xc3\xbf~~?>" + TEXT).decode(),
    "base64 over lines": base64.encodebytes(b"hay, " * 30 + TEXT).decode(),
    "base64 of UTF-16": base64.b64encode(NAME.encode("utf-16-le")).decode(),
    "base64 of an archive": base64.b64encode(INNER.getvalue()).decode(),
    "base64 twice": base64.b64encode(base64.b64encode(TEXT)).decode(),
    "base64 in a list": "\n".join(base64.b64encode(text).decode().rstrip("=") for text in (b"old hay", TEXT)),
    "hexadecimal": TEXT.hex(),
    "HEXADECIMAL": TEXT.hex().upper(),
    "a data address in capitals": "DATA:TEXT/PLAIN;BASE64," + base64.b64encode(TEXT).decode(),
    "a quoted parameter": 'data:text/plain;charset="utf-8";base64,' + base64.b64encode(TEXT).decode(),
    "a data address of an archive": 'data:a/b;name="x y";base64,' + base64.b64encode(INNER.getvalue()).decode(),
}


@pytest.mark.parametrize("kind", ENCODED)
def test_a_name_is_found_in_what_a_text_encodes(tmp_path, originals, capsys, kind):
    assert check(tmp_path, originals, {"a.json": f'{{"n": 1,\n"x": "{ENCODED[kind]}"}}\n'.encode()}) == 1
    said = capsys.readouterr().out
    assert ": owner_id: l" in said or ": horse_id: e" in said


def test_what_only_looks_encoded_is_no_alarm(tmp_path, originals):
    draw = random.Random(1)
    sums = [draw.randbytes(32).hex() for _ in range(300)]
    keys = [base64.b64encode(draw.randbytes(30)).decode() for _ in range(300)]
    words = ["reports/heels-and-frogs/figures", "administration", "276020000123", "a" * 40, "0123456789abcdef" * 4]
    assert check(tmp_path, originals, {"a.json": "\n".join((*sums, *keys, *words)).encode()}) == 0


def test_words_that_happen_to_decode_are_no_place_in_doubt(tmp_path, originals):
    draw = random.Random(2)
    parts = ("ba", "ke", "lo", "mi", "nu", "ra", "sto", "tre", "vin", "wal", "zor", "der", "hag", "fel", "gru", "ost")
    words = ["".join(draw.choices(parts, k=4)).capitalize() for _ in range(20_000)]
    assert check(tmp_path, originals, {"a.txt": "\n".join(words).encode()}) == 0

"""Files read one by one, by one process or by two, give the same bytes; what is kept of a file must be of that file."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from inbox_sheets import part

from examples import examples
from hoofcohort.cli import main
from hoofcohort.inbox import gather
from hoofcohort.inbox.listing import Source, list_inbox
from hoofcohort.inbox.run import settle, write_inbox
from hoofcohort.inbox.table_text import csv_of_frame, csv_of_rows
from hoofcohort.intake.run import take_in
from hoofcohort.simulate.demo_inbox import write_inbox as write_demo

TABLES = ("horses", "management", "feet")


def files(folder: Path) -> dict[str, bytes]:
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """The demo inbox, what is kept of its files, and what the command makes of it."""
    folder = tmp_path_factory.mktemp("parts")
    write_demo(folder / "in")
    for source in list_inbox(folder / "in"):
        assert main(["inbox-file", str(source.path), "--parts", str(folder / "parts")]) == 0
    assert main(["inbox", str(folder / "in"), "--out", str(folder / "one"), "--jobs", "1"]) == 0
    return folder


def test_parts_gathered_give_the_commands_bytes(made, tmp_path):
    arguments = [str(made / "in"), "--parts", str(made / "parts"), "--out", str(tmp_path / "out")]
    assert main(["inbox-gather", *arguments]) == 0
    assert files(tmp_path / "out") == files(made / "one")
    assert len(files(made / "parts")) == 2 * len(list_inbox(made / "in"))


def test_two_processes_give_the_same_bytes(made, tmp_path, monkeypatch):
    given_away = []
    submit = gather.ProcessPoolExecutor.submit
    monkeypatch.setattr(
        gather.ProcessPoolExecutor, "submit", lambda pool, *task: given_away.append(task) or submit(pool, *task)
    )
    assert main(["inbox", str(made / "in"), "--out", str(tmp_path / "out"), "--jobs", "2"]) == 0
    assert files(tmp_path / "out") == files(made / "one")
    assert given_away


def test_a_part_of_an_earlier_version_is_refused(made, tmp_path, capsys):
    shutil.copytree(made / "in", tmp_path / "in")
    (source,) = [one for one in list_inbox(tmp_path / "in") if (one.member, one.path.name) == ("ash", "feet.csv")]
    source.path.write_bytes(source.path.read_bytes().replace(b"gauge", b"photo"))
    arguments = [str(tmp_path / "in"), "--parts", str(made / "parts"), "--out", str(tmp_path / "out")]
    assert main(["inbox-gather", *arguments]) == 2
    assert "was made of another version of the file" in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize(
    ("name", "content"), [(".json", b"{}"), (".json", b"\xff"), (".parquet", b"PAR1"), (".parquet", None)]
)
def test_a_part_that_cannot_be_read_says_what_to_run(made, tmp_path, capsys, name, content):
    shutil.copytree(made / "parts", tmp_path / "parts")
    source = list_inbox(made / "in")[3]
    broken = tmp_path / "parts" / f"{source.part}{name}"
    broken.unlink()
    if content is not None:
        broken.write_bytes(content)
    arguments = [str(made / "in"), "--parts", str(tmp_path / "parts"), "--out", str(tmp_path / "out")]
    assert main(["inbox-gather", *arguments]) == 2
    assert f"cannot be read; run hoofcohort inbox-file {source.path} again" in capsys.readouterr().err


@pytest.mark.parametrize("name", ["2026-1-spring/ivy/mapping.yaml", "2026-1-spring/ash/none.csv", "2026-1-spring/ash"])
def test_only_a_members_file_is_read(made, tmp_path, capsys, name):
    assert main(["inbox-file", str(made / "in" / name), "--parts", str(tmp_path / "parts")]) == 2
    assert not (tmp_path / "parts").exists()
    assert capsys.readouterr().err


NAMES = st.text(st.characters(exclude_characters="/\0", exclude_categories=["Cs"]), min_size=1)
NAMES = NAMES.filter(lambda name: name not in (".", ".."))


@settings(deadline=None)
@given(st.lists(st.tuples(NAMES, NAMES, NAMES), min_size=2, unique=True))
def test_a_parts_name_is_safe_and_its_own(names):
    made = [Source(Path("/in") / name, round_name, member, ()).part for round_name, member, name in names]
    assert all(re.fullmatch("[A-Za-z0-9-]{17,100}", one) for one in made)
    assert len({one.casefold() for one in made}) == len(made)


CELLS = st.text(st.sampled_from("ab,\"'\n\r =+-@;\t1é"), max_size=4)


@settings(deadline=None)
@given(st.lists(st.tuples(CELLS, CELLS, CELLS), max_size=12), st.booleans())
def test_joined_columns_are_what_the_csv_module_writes(rows, categories):
    frame = pd.DataFrame(rows, columns=["a", "b", "c"], dtype=object)
    if categories:
        frame["b"] = frame["b"].astype("category")
    assert csv_of_frame(frame) == csv_of_rows(["a", "b", "c"], rows)


HORSE = st.builds(
    "{} Y1 {} {} mare {} _".format,
    st.sampled_from(["H1", "H2", "H3"]),
    st.sampled_from(["W1", "W2"]),
    st.sampled_from(["2010", "2025"]),
    st.sampled_from(["_", "_", "DE1234567890123", "DE1234567890124"]),
)
DAY = st.sampled_from(["2024-03-01", "2025-01-01", "2025-06-30", "2026-01-01"])
STRETCH = st.builds("{} {} {} hay soft".format, st.sampled_from(["H1", "H2", "H4"]), DAY, st.one_of(DAY, st.just("_")))
FOOT = st.builds(
    "{} {} {} A gauge {} {}".format,
    st.sampled_from(["H1", "H2", "H3", "H4"]),
    st.sampled_from(["LF", "RF"]),
    DAY,
    st.sampled_from(["50", "45", "20"]),
    st.sampled_from(["45", "80", "_"]),
)
HEADERS = {
    "horses": "horse_id yard_id owner_id birth_year sex ueln microchip",
    "management": "horse_id from_date to_date diet terrain",
    "feet": "horse_id foot visit_date observer_id method toe_angle_deg heel_angle_deg",
}


@settings(max_examples=examples(10), deadline=None)
@given(st.lists(st.tuples(st.sampled_from(["ash", "elm"]), st.lists(HORSE, max_size=3), st.lists(STRETCH, max_size=4),
                          st.lists(FOOT, max_size=6)), min_size=1, max_size=3))  # fmt: skip
def test_the_intake_takes_whole_what_the_inbox_leaves(tmp_path_factory, sent):
    """Asked once, though what it rejects changes what is left."""
    out = tmp_path_factory.mktemp("left")
    parts = [
        part(f"r{number}", member, HEADERS[table], *rows, file=f"{table}.csv")
        for number, (member, *tables) in enumerate(sent)
        for table, rows in zip(HEADERS, tables, strict=True)
    ]
    write_inbox(settle(parts), out)
    assert take_in({table: out / f"{table}.csv" for table in TABLES}).rejects == []

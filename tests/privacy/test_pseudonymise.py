"""Pseudonyms: the same name the same everywhere, nothing private left, and the study's numbers as they were."""

from __future__ import annotations

import csv
import hashlib
import hmac
import json
import math
import stat
from base64 import b32encode
from pathlib import Path

import pytest
import yaml

from hoofcohort.cli import main
from hoofcohort.errors import InputError
from hoofcohort.privacy.keys import new_key, read_key
from hoofcohort.privacy.pseudonyms import LETTERS, PATTERN, Pseudonyms
from hoofcohort.study import permutation, variance_tests
from hoofcohort.tables import TABLES

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "synthetic_data"
OUTCOME = "heel_underrun_deg"


@pytest.fixture(scope="module")
def released(tmp_path_factory):
    """The demo under pseudonyms: its folder, the key's file beside it."""
    folder = tmp_path_factory.mktemp("released")
    assert main(["pseudonymise", "--new-key", str(folder / "key")]) == 0
    made = ["pseudonymise", str(DEMO), "--key", str(folder / "key"), "--out", str(folder / "out")]
    assert main([*made, "--as-of", "2026-09-30"]) == 0
    return folder


def rows(path):
    with open(path, encoding="utf-8", newline="") as handle:
        return list(csv.DictReader(handle))


def test_a_pseudonym_is_what_rfc_2104_and_rfc_4648_say():
    key = bytes(range(32))
    digest = hmac.digest(key, b"hoofcohort pseudonym 1\0horse\0Bess", hashlib.sha256)
    assert Pseudonyms(key).of("horse", " Bess ") == "H-" + b32encode(digest)[:16].decode()


def test_equal_names_of_different_kinds_and_keys_have_nothing_in_common():
    first, other = Pseudonyms(bytes(range(32))), Pseudonyms(bytes(range(1, 33)))
    made = [names.of(kind, "A1") for names in (first, other) for kind in LETTERS]
    assert len({name[2:] for name in made}) == len(made)
    assert all(PATTERN.fullmatch(name) for name in made)


def test_two_names_with_one_pseudonym_are_noticed(monkeypatch):
    names = Pseudonyms(bytes(range(32)))
    monkeypatch.setattr(names, "_make", lambda kind, name: "H-AAAA")
    assert names.of("horse", "one") == names.of("horse", "one")
    with pytest.raises(RuntimeError, match="same pseudonym"):
        names.of("horse", "two")


def test_no_two_of_many_names_collide():
    names = Pseudonyms(bytes(range(32)))
    assert len({names.of("horse", f"H{number}") for number in range(100_000)}) == 100_000


def test_a_new_key_is_secret_and_is_never_written_over(tmp_path):
    new_key(tmp_path / "a")
    new_key(tmp_path / "b")
    assert stat.S_IMODE((tmp_path / "a").stat().st_mode) == 0o600
    assert len(read_key(tmp_path / "a")) == 32
    assert read_key(tmp_path / "a") != read_key(tmp_path / "b")
    before = (tmp_path / "a").read_bytes()
    with pytest.raises(InputError, match="is there already"):
        new_key(tmp_path / "a")
    assert (tmp_path / "a").read_bytes() == before


@pytest.mark.parametrize(
    ("text", "mode", "message"),
    [
        ("ab" * 32, 0o600, "not drawn at random"),
        (bytes(range(31)).hex(), 0o600, "31 bytes; a key has 32"),
        ("password", 0o600, "is no key"),
        ("", 0o600, "is no key"),
        (bytes(range(32)).hex(), 0o640, "others than its owner may read it; run: chmod 600"),
    ],
)
def test_a_bad_key_is_refused(tmp_path, text, mode, message):
    path = tmp_path / "key"
    path.write_text(text)
    path.chmod(mode)
    with pytest.raises(InputError, match=message):
        read_key(path)


def test_the_same_horse_is_the_same_in_every_table_and_run(released, tmp_path):
    tables = {name: rows(released / "out" / f"{name}.csv") for name in TABLES}
    horses = {row["horse_id"] for row in tables["horses"]}
    assert len(horses) == len(tables["horses"]) == 63
    assert {row["horse_id"] for row in tables["feet"]} <= horses
    assert {row["horse_id"] for row in tables["management"]} <= horses
    again = ["pseudonymise", str(DEMO), "--key", str(released / "key"), "--out", str(tmp_path / "again")]
    assert main([*again, "--as-of", "2026-09-30"]) == 0
    for name in TABLES:
        assert (tmp_path / f"again/{name}.csv").read_bytes() == (released / f"out/{name}.csv").read_bytes()


def test_every_private_column_is_a_pseudonym_or_gone_and_the_order_tells_nothing(released):
    for name, table in TABLES.items():
        found = rows(released / "out" / f"{name}.csv")
        for column in table.columns:
            cells = {row[column.name] for row in found if row.get(column.name)}
            if column.private == "remove":
                assert column.name not in found[0]
            if column.private == "pseudonym":
                assert all(PATTERN.fullmatch(cell) for cell in cells)
                assert cells or not column.required
        keys = [tuple(row[key] for key in table.key) for row in found]
        assert keys == sorted(keys)


def test_the_studys_intake_takes_all_of_it(released, tmp_path):
    files = [item for name in TABLES for item in (f"--{name}", str(released / "out" / f"{name}.csv"))]
    assert main(["intake", *files, "--as-of", "2026-09-30", "--out-dir", str(tmp_path)]) == 0
    assert json.loads((tmp_path / "ledger.json").read_text())["totals"]["rejected"] == 0


def fitted(data, folder, observer):
    """The demo's first outcome, from three CSV files to its record; ``observer`` is the base of that factor."""
    plan = yaml.safe_load((ROOT / "config/demo.yaml").read_text())
    plan["data"] |= {name: str(data / f"{name}.csv") for name in TABLES}
    plan["references"]["observer_id"] = observer
    plan["cutoffs"] = str(ROOT / "config/cutoffs.yaml")
    (folder / "plan.yaml").write_text(yaml.safe_dump(plan, sort_keys=False))
    files = [item for name in TABLES for item in (f"--{name}", str(data / f"{name}.csv"))]
    kept = folder / "data"
    inputs = [item for name in ("horses", "management") for item in (f"--{name}", str(kept / f"{name}.parquet"))]
    assert main(["intake", *files, "--as-of", "2026-09-30", "--out-dir", str(folder)]) == 0
    feet = ["--feet", str(kept / "feet.parquet"), "--horses", str(kept / "horses.parquet")]
    assert main(["derive", *feet, "--out", str(kept / "readings.parquet")]) == 0
    outputs = ["--out", "model.json", "--analysis-out", "analysis.parquet", "--effects-out", "effects.parquet"]
    outputs = [word if word.startswith("--") else str(folder / word) for word in outputs]
    asked = ["--plan", str(folder / "plan.yaml"), "--outcome", OUTCOME, "--readings", str(kept / "readings.parquet")]
    assert main(["fit-outcome", *asked, *inputs, *outputs]) == 0
    return json.loads((folder / "model.json").read_text())


def numbers(value, path=()):
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from numbers(inner, (*path, key))
    elif isinstance(value, list):
        for place, inner in enumerate(value):
            yield from numbers(inner, (*path, place))
    elif isinstance(value, float):
        yield path, value


def test_the_study_gives_the_same_numbers(released, tmp_path, monkeypatch):
    # Neither of these is compared below.
    monkeypatch.setattr(permutation, "PERMUTATIONS", 99)
    monkeypatch.setattr(variance_tests, "REPLICATES", 19)
    (tmp_path / "a").mkdir()
    (tmp_path / "b").mkdir()
    first = Pseudonyms(read_key(released / "key")).of("observer", "OBS-A")
    before, after = fitted(DEMO, tmp_path / "a", "OBS-A"), fitted(released / "out", tmp_path / "b", first)
    for part in ("adjusted", "unadjusted", "effects", "variables", "flow"):
        whole, second = dict(numbers(before[part])), dict(numbers(after[part]))
        assert whole.keys() == second.keys()
        for path, value in whole.items():
            assert math.isclose(value, second[path], rel_tol=1e-10, abs_tol=1e-10), (part, path)
    assert len(dict(numbers(before["adjusted"]))) > 100


@pytest.mark.parametrize("where", ["in/key", "out/key"])
def test_a_key_beside_the_data_is_refused(tmp_path, where, capsys):
    (tmp_path / "in").mkdir()
    (tmp_path / "out").mkdir()
    new_key(tmp_path / where)
    done = main(["pseudonymise", str(tmp_path / "in"), "--key", str(tmp_path / where), "--out", str(tmp_path / "out")])
    assert done == 2
    assert "the key lies inside" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("beside", "where"),
    [
        ("horses.csv", "x.key"),
        ("feet.csv", "x.key"),
        ("management.csv", "keys/x.key"),
        ("ledger.json", "letters/x.key"),
        ("consent.csv", "x.key"),
        ("consent.csv", "2026-1/elm/x.key"),
        ("2026-1/elm/mapping.yaml", "x.key"),
        ("2026-1/elm/feet.mapping.yaml", "x.key"),
        ("2026-1/elm/feet.mapping.yaml", "2026-1/elm/x.key"),
    ],
)
def test_no_key_is_made_among_data(tmp_path, beside, where, capsys):
    data = tmp_path / "data"
    for path in (data / beside, data / where, tmp_path / "apart/x.key"):
        path.parent.mkdir(parents=True, exist_ok=True)
    (data / beside).write_text("x")
    assert main(["pseudonymise", "--new-key", str(data / where)]) == 2
    assert f"the key lies inside {data}" in capsys.readouterr().err
    assert not (data / where).exists()
    assert main(["pseudonymise", "--new-key", str(tmp_path / "apart/x.key")]) == 0
    (tmp_path / "link").symlink_to(data / where)
    assert main(["pseudonymise", "--new-key", str(tmp_path / "link")]) == 2
    assert not (data / where).exists()


def test_a_key_is_made_above_the_project(tmp_path):
    """As the README has it: beside the folder in which data and inbox have folders of their own."""
    for name in ("project/data/horses.csv", "project/inbox/2026-1/elm/mapping.yaml", "project/inbox/consent.csv"):
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_text("x")
    assert main(["pseudonymise", "--new-key", str(tmp_path / "study.key")]) == 0


def test_nothing_is_written_where_something_is_wrong(released, tmp_path, capsys):
    key = str(released / "key")
    assert main(["pseudonymise", str(DEMO), "--key", key, "--out", str(DEMO / "public")]) == 2
    assert "one folder lies in the other" in capsys.readouterr().err
    (tmp_path / "letters").mkdir()
    assert main(["pseudonymise", str(DEMO), "--key", key, "--out", str(tmp_path)]) == 2
    assert "'letters'" in capsys.readouterr().err
    assert sorted(path.name for path in tmp_path.iterdir()) == ["letters"]
    assert main(["pseudonymise", str(tmp_path), "--key", key, "--out", str(tmp_path.parent / "never")]) == 2
    assert not (tmp_path.parent / "never").exists()
    assert main(["pseudonymise", str(DEMO)]) == 2
    assert "needs --key, --out" in capsys.readouterr().err


def test_an_inboxs_ledger_goes_out_with_nobodys_name(released, tmp_path):
    inbox, out = tmp_path / "inbox", tmp_path / "out"
    assert main(["inbox", str(DEMO / "inbox"), "--out", str(inbox)]) == 0
    assert main(["pseudonymise", str(inbox), "--key", str(released / "key"), "--out", str(out)]) == 0
    assert sorted(path.name for path in out.iterdir()) == ["feet.csv", "horses.csv", "ledger.json", "management.csv"]
    before, after = (json.loads((folder / "ledger.json").read_text()) for folder in (inbox, out))
    assert after["total"] == before["total"]
    assert len(after["members"]) == len(before["members"])
    assert all(PATTERN.fullmatch(name) for name in after["members"])
    assert sum(one["rows_read"] for one in after["files"]) == before["total"]["rows_read"]
    told = (out / "ledger.json").read_text()
    assert not [one["file"] for one in before["files"] if f'"{one["file"]}"' in told]
    assert not [name for name in before["members"] if f'"{name}"' in told]


def test_a_ledger_of_another_kind_is_refused(released, tmp_path, capsys):
    for name in TABLES:
        (tmp_path / f"{name}.csv").write_bytes((DEMO / f"{name}.csv").read_bytes())
    (tmp_path / "ledger.json").write_text('{"files": {}, "totals": {}}')
    out = tmp_path.parent / "other"
    assert main(["pseudonymise", str(tmp_path), "--key", str(released / "key"), "--out", str(out)]) == 2
    assert "is not the ledger that 'hoofcohort inbox' writes" in capsys.readouterr().err
    assert not out.exists()

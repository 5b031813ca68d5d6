"""``hoofcohort statistics-make``, ``-merge`` and ``-fit`` as two associations use them."""

from __future__ import annotations

import json
import re
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from hoofcohort.cli import main
from hoofcohort.models.statistics_file import read_statistics, statistics_text

ROOT = Path(__file__).parents[2]
DATA = ROOT / "tests/reference/data/cohort_visit_pub.csv"
MODEL = [
    "--outcome", "y", "--terms", "diet", "trim", "limb", "diet:limb", "--levels", "horse", "foot",
    "--also", "horse:visit",
]  # fmt: skip


def run(*words: object) -> int:
    return main([str(word) for word in words])


def make(folder: Path, name: str, *options: object, data: Path = DATA) -> Path:
    out = folder / name
    assert run("statistics-make", data, *options, "--out", out) == 0
    return out


@pytest.fixture
def halves(tmp_path) -> list[Path]:
    """The public cohort in two files of different horses, rows shuffled."""
    rows = pd.read_csv(DATA, dtype=str, keep_default_na=False)
    first = rows["horse"].isin(sorted(rows["horse"].unique())[:22])
    paths = []
    for place, part in enumerate((rows[first], rows[~first])):
        paths.append(tmp_path / f"association {place}.csv")
        part.sample(frac=1, random_state=place).to_csv(paths[-1], index=False)
    return paths


def fitted(folder: Path, command: str, *words: object) -> dict:
    out = folder / f"{command}.json"
    assert run(command, *words, "--out", out) == 0
    return json.loads(out.read_text())


def test_two_files_give_the_fit_of_all_rows(halves, tmp_path, capsys):
    agreed = make(tmp_path, "agreed.json", *MODEL, "--only-specification")
    parts = [make(tmp_path, f"{path.stem}.json", "--like", agreed, "--minimum", 1, data=path) for path in halves]
    assert run("statistics-merge", *parts, "--out", tmp_path / "all.json") == 0
    capsys.readouterr()
    ours = fitted(tmp_path, "statistics-fit", tmp_path / "all.json", "--means", "diet")
    said = capsys.readouterr().out
    theirs = fitted(tmp_path, "model", DATA, *MODEL, "--means", "diet")
    assert ours["messages"][0] == (
        "Fitted from statistics, without rows: 2 parts, 40 horses, no cell of fewer than 1; "
        "0 horses left out for a small cell."
    )
    assert ours["messages"][1:] == theirs["messages"]
    assert list(ours) == list(theirs)
    assert (ours["groups"], ours["rows_used"]) == (theirs["groups"], theirs["rows_used"])
    for kind in ("coefficients", "variances", "tests", "means", "contrasts"):
        for one, other in zip(ours[kind], theirs[kind], strict=True):
            assert_alike(one, other)
    assert "diet[hay]:limb[hind]" in said


def test_profile_intervals_are_those_of_all_rows(tmp_path):
    path = make(tmp_path, "one.json", *MODEL, "--minimum", 1)
    ours = fitted(tmp_path, "statistics-fit", path, "--profile")
    theirs = fitted(tmp_path, "model", DATA, *MODEL, "--profile")
    assert ours["variances"][0]["low"] > 0
    for one, other in zip(ours["variances"], theirs["variances"], strict=True):
        assert list(one) == list(other)
        for end in ("low", "high"):
            assert one[end] == pytest.approx(other[end], rel=1e-6, abs=1e-9)


def assert_alike(ours: dict, theirs: dict) -> None:
    assert list(ours) == list(theirs)
    for key, value in theirs.items():
        assert ours[key] == (value if isinstance(value, str) else pytest.approx(value, rel=1e-9, abs=1e-10)), key


def numbers_in(value: object) -> list[float]:
    if isinstance(value, dict):
        return [number for own in value.values() for number in numbers_in(own)]
    if isinstance(value, list):
        return [number for own in value for number in numbers_in(own)]
    return [float(value)] if isinstance(value, int | float) else []


def test_a_file_holds_no_row_no_label_and_no_animal_s_sums(tmp_path):
    text = make(tmp_path, "one.json", *MODEL, "--leave-out-small-cells").read_text()
    assert not re.search(r"H0\d\d", text)
    content = json.loads(text)
    assert content["fewest_animals_in_a_cell"] >= 5
    assert content["animals"] + content["animals_left_out"] == 40
    assert min(count for count in content["animals_per_word"].values() if count) >= 5
    rows = pd.read_csv(DATA)
    centre = np.array(content["specification"]["centre"])
    held = np.array(numbers_in([content[key] for key in ("within", "column_sums", "cells", "members")]))
    for shift in (0.0, centre[-1]):
        assert not np.isclose(held[:, None], rows["y"].to_numpy() - shift, rtol=1e-12, atol=0).any()
        for by in ("horse", ["horse", "foot"], ["horse", "visit"]):
            sums = (rows["y"] - shift).groupby([rows[name] for name in np.atleast_1d(by)]).sum().to_numpy()
            assert not np.isclose(held[:, None], sums, rtol=1e-12, atol=0).any()


def test_a_file_read_and_written_again_is_the_same(tmp_path):
    path = make(tmp_path, "one.json", *MODEL, "--minimum", 1)
    assert statistics_text(read_statistics(path.read_text())) == path.read_text()
    assert make(tmp_path, "two.json", *MODEL, "--minimum", 1).read_bytes() == path.read_bytes()


def test_small_cells_are_refused_with_the_remedies(tmp_path, capsys):
    assert run("statistics-make", DATA, *MODEL, "--out", tmp_path / "x.json") == 2
    said = capsys.readouterr().err
    rows = pd.read_csv(DATA)
    visits = rows.groupby("horse")[["foot", "visit"]].apply(lambda own: tuple(sorted(own["visit"].value_counts())))
    assert f"of {rows['horse'].nunique()} in all" in said
    few = visits.map(visits.value_counts()) < 5
    assert f"rest on fewer than 5 horses, {few.sum()} of 40" in said
    assert "--leave-out-small-cells" in said and "--minimum" in said
    assert not (tmp_path / "x.json").exists()


def test_the_animals_of_small_cells_can_be_left_out(tmp_path, capsys):
    model = ["--outcome", "y", "--levels", "horse", "foot", "--also", "horse:visit"]
    path = make(tmp_path, "some.json", *model, "--leave-out-small-cells")
    assert "6 horses for a small cell" in capsys.readouterr().err
    rows = pd.read_csv(DATA)
    visits = rows.groupby("horse")["visit"].apply(lambda own: tuple(sorted(own.value_counts())))
    kept = visits.index[visits.map(visits.value_counts()) >= 5]
    left = tmp_path / "left.csv"
    rows[rows["horse"].isin(kept)].to_csv(left, index=False)
    ours = fitted(tmp_path, "statistics-fit", path)
    theirs = fitted(tmp_path, "model", left, *model)
    assert_alike(ours["coefficients"][0], theirs["coefficients"][0])
    assert "6 horses left out for a small cell" in ours["messages"][0]


def test_a_word_of_few_animals_is_refused_or_its_animals_are_left_out(tmp_path, capsys):
    rows = pd.read_csv(DATA.with_name("rankdef_pub.csv"), dtype=str)
    horses = sorted(rows["horse"].unique())
    rows.loc[rows["horse"].isin(horses[:2]), "diet"] = "chaff"
    rows.to_csv(tmp_path / "rare.csv", index=False)
    options = [tmp_path / "rare.csv", "--outcome", "y", "--terms", "diet", "--levels", "horse", "foot"]
    assert run("statistics-make", *options, "--out", tmp_path / "x.json") == 2
    assert "fewer than 5 horses have diet[chaff] (2); pool words" in capsys.readouterr().err
    assert not (tmp_path / "x.json").exists()
    assert run("statistics-make", *options, "--leave-out-small-cells", "--out", tmp_path / "x.json") == 0
    assert "2 horses for a small cell" in capsys.readouterr().err
    assert json.loads((tmp_path / "x.json").read_text())["animals_per_word"]["diet[chaff]"] == 0


def test_what_could_be_taken_apart_is_refused_with_the_remedies(tmp_path, capsys):
    rows = pd.read_csv(DATA.with_name("rankdef_pub.csv"))
    horses = sorted(rows["horse"].unique())
    rows["ill"] = np.where(rows["horse"].isin(horses[:9]), "yes", "no")
    rows["lame"] = np.where(rows["horse"].isin(horses[:10]), "yes", "no")
    rows.to_csv(tmp_path / "rows.csv", index=False)
    options = [tmp_path / "rows.csv", "--outcome", "y", "--terms", "ill", "lame", "--levels", "horse", "foot"]
    assert run("statistics-make", *options, "--out", tmp_path / "x.json") == 2
    said = capsys.readouterr().err
    assert (
        "rows.csv: horses with 8 rows, 4 of foot (48 of them): the sums of ill[yes], lame[yes] can be combined" in said
    )
    assert "into those of 1 horse alone, fewer than 5" in said
    for remedy in ("Pool words", "leave the term out", "--leave-out-small-cells", "lower --minimum"):
        assert remedy in said
    assert not (tmp_path / "x.json").exists()
    assert run("statistics-make", *options, "--minimum", 1, "--out", tmp_path / "x.json") == 0


def test_with_a_level_above_the_cells_lie_inside_its_groups(tmp_path, capsys):
    data = DATA.with_name("yard3_pub.csv")
    options = ["--outcome", "y", "--terms", "limb", "--levels", "yard", "horse", "foot"]
    assert run("statistics-make", data, *options, "--out", tmp_path / "x.json") == 2
    assert "within one yard) rest on fewer than 5 horses" in (said := capsys.readouterr().err)
    assert "leave the level 'yard' out" in said
    path = make(tmp_path, "two.json", *options, "--minimum", 2, "--leave-out-small-cells", data=data)
    found = read_statistics(path.read_text())
    assert found.counted().min() >= 2
    horses = pd.read_csv(data).groupby("yard")["horse"].nunique()
    assert found.animals + found.left_out == horses.sum()


def test_where_something_crosses_inside_the_yard_yards_are_counted(tmp_path, capsys):
    data = DATA.with_name("yard3_pub.csv")
    options = ["--outcome", "y", "--terms", "limb", "--levels", "yard", "horse", "--also", "yard:visit"]
    yards = pd.read_csv(data)["yard"].nunique()
    assert run("statistics-make", data, *options, "--out", tmp_path / "x.json") == 2
    assert re.search(rf"\(yards with the same.* fewer than 5 yards, {yards} of {yards} in all", capsys.readouterr().err)
    assert run("statistics-make", data, *options, "--leave-out-small-cells", "--out", tmp_path / "x.json") == 2
    assert "no cell rests on 5 yards, so that leaving the smaller ones out leaves nothing" in capsys.readouterr().err


def test_words_agreed_beforehand(halves, tmp_path, capsys):
    agreed = [*MODEL, "--words", "diet=hay,grass,mixed,straw", "--minimum", 1]
    path = make(tmp_path, "one.json", *agreed)
    record = fitted(tmp_path, "statistics-fit", path)
    assert [row["term"] for row in record["coefficients"]][1:3] == ["diet[grass]", "diet[mixed]"]
    assert "diet[straw]" in record["dropped_terms"]
    only = make(tmp_path, "hay.json", *MODEL, "--words", "diet=hay,grass,mixed", "--only-specification")
    rows = pd.read_csv(halves[0], dtype=str)
    rows.loc[3, "diet"] = "Hay"
    rows.to_csv(halves[0], index=False)
    capsys.readouterr()
    assert run("statistics-make", halves[0], "--like", only, "--out", tmp_path / "x.json") == 2
    assert "association 0.csv: column 'diet': 'Hay' is not among the agreed words (hay, grass, mixed)" in (
        capsys.readouterr().err
    )


def parquet(path: Path, rows: pd.DataFrame) -> Path:
    rows.to_parquet(path, index=False)
    return path


def test_a_parquet_file_read_in_batches_gives_what_the_csv_file_gives(tmp_path, monkeypatch, capsys):
    rows = pd.read_csv(DATA)
    rows.loc[[4, 17], "trim"] = np.nan
    rows.to_csv(tmp_path / "rows.csv", index=False)
    options = [*MODEL, "--minimum", 1]
    theirs = read_statistics(make(tmp_path, "csv.json", *options, data=tmp_path / "rows.csv").read_text())
    data = parquet(tmp_path / "rows.parquet", rows.sort_values("horse", kind="stable"))
    monkeypatch.setattr("hoofcohort.models.table_source.SORTED_HERE", 0)
    monkeypatch.setattr("hoofcohort.models.table_source.BATCH", 30)
    ours = read_statistics(
        make(tmp_path, "parquet.json", "--like", tmp_path / "csv.json", *options[-2:], data=data).read_text()
    )
    assert (ours.rows, ours.rows_dropped, ours.animals) == (theirs.rows, 2, theirs.animals)
    np.testing.assert_allclose(ours.root, theirs.root, atol=1e-10)
    assert [cell.key for cell in ours.cells] == [cell.key for cell in theirs.cells]
    parts = [
        make(tmp_path, f"p{k}.json", "--like", tmp_path / "csv.json", "--minimum", 1, "--part", f"{k}/3", data=data)
        for k in (1, 2, 3)
    ]
    assert run("statistics-merge", *parts, "--out", tmp_path / "all.json") == 0
    merged = read_statistics((tmp_path / "all.json").read_text())
    assert (merged.rows, merged.rows_dropped, merged.animals) == (theirs.rows, 2, theirs.animals)
    np.testing.assert_allclose(merged.root, theirs.root, atol=1e-10)
    assert (
        run(
            "statistics-make",
            parquet(tmp_path / "mixed.parquet", rows.sort_values("foot")),
            *options,
            "--out",
            tmp_path / "x.json",
        )
        == 2
    )
    assert "do not all stand together; sort the rows" in capsys.readouterr().err
    assert (
        run("statistics-make", tmp_path / "mixed.parquet", *options, "--part", "1/9", "--out", tmp_path / "x.json") == 2
    )
    assert "do not all stand together; sort the rows" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("options", "said"),
    [
        ([], "one of --like, --model, or --outcome"),
        (["--outcome", "y"], "--levels: name the nested groupings"),
        (["--outcome", "y", "--levels", "horse", "horse"], "--levels names something twice"),
        (["--outcome", "y", "--levels", "hors"], "no column 'hors'; did you mean 'horse'?"),
        (["--outcome", "y", "--levels", "horse", "--also", "visit"], "must be written LEVEL:COLUMN"),
        (["--outcome", "diet", "--levels", "horse"], "column 'diet': 'hay' is not a number"),
        ([*MODEL, "--part", "3/2"], "--part: found '3/2'"),
        ([*MODEL, "--part", "41/41"], "no row is left to summarise; where this is one of several parts, ask for fewer"),
        ([*MODEL, "--minimum", "0"], "--minimum is a whole number from 1 up, found 0"),
        ([*MODEL, "--animal", "dog"], "the animals cannot be counted by 'dog'"),
        ([*MODEL, "--words", "diet"], "--words: found 'diet'"),
        ([*MODEL, "--words", "terrain=a,b"], "'terrain', which is in no term"),
        (["--like", "none.json"], "none.json: cannot be read"),
        (["--like", DATA], "is not a statistics file: not JSON"),
    ],
)
def test_what_the_user_can_put_right(options, said, tmp_path, capsys):
    assert run("statistics-make", DATA, *options, "--out", tmp_path / "x.json") == 2
    found = capsys.readouterr().err
    assert found.startswith("hoofcohort statistics-make: ")
    assert said in found
    assert list(tmp_path.iterdir()) == []


def test_files_about_different_things_are_not_merged(tmp_path, capsys):
    one = make(tmp_path, "one.json", *MODEL, "--minimum", 1)
    other = make(tmp_path, "other.json", *MODEL, "--words", "diet=hay,grass,mixed", "--minimum", 1)
    assert run("statistics-merge", one, other, "--out", tmp_path / "all.json") == 2
    said = capsys.readouterr().err
    assert "coding of 'diet': words grass, hay, mixed and words hay, grass, mixed" in said
    assert "other.json" in said
    assert run("statistics-merge", one, one, "--out", tmp_path / "all.json") == 2
    assert "holds rows that an earlier part holds already" in capsys.readouterr().err
    assert not (tmp_path / "all.json").exists()


def changed(content: dict, path: list, value: object) -> dict:
    here = content
    for key in path[:-1]:
        here = here[key]
    here[path[-1]] = value
    return content


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (["format"], "another"),
        (["rows"], 12),
        (["rows"], "many"),
        (["within", 0], [1.0]),
        (["within", 0, 0], float("inf")),
        (["cells", 0, "groups"], [1, 9, 9]),
        (["cells", 0, "counts", 0, 0], -1),
        (["cells", 0, "counts", 0, 1], 7),
        (["cells", 0, "blocks"], 0),
        (["cells", 0, "factor"], []),
        (["cells"], []),
        (["cells"], {"a": 1}),
        (["levels_above"], [[0]]),
        (["specification", "blocks"], "barn"),
        (["specification", "codings", 0, "kind"], "poem"),
        (["specification", "codings", 0, "kind"], "number"),
        (["specification", "codings", 1, "columns"], ["trim", "y"]),
        (["specification", "intercept"], "false"),
        (["specification", "also"], ["barn:visit"]),
        (["specification", "labels", "horse"], []),
        (["specification", "animal"], "foot"),
        (["specification", "terms"], "diet"),
        (["specification", "terms"], ["diet", "none"]),
        (["specification", "extra"], 1),
        (["specification", "centre"], [0.0]),
    ],
)
def test_a_damaged_file_is_refused(path, value, tmp_path, capsys):
    content = json.loads(make(tmp_path, "one.json", *MODEL, "--minimum", 1).read_text())
    (tmp_path / "bad.json").write_text(json.dumps(changed(content, path, value)))
    assert run("statistics-fit", tmp_path / "bad.json", "--out", tmp_path / "fit.json") == 2
    assert "bad.json: " in capsys.readouterr().err
    assert not (tmp_path / "fit.json").exists()


def test_a_specification_alone_cannot_be_fitted(tmp_path, capsys):
    only = make(tmp_path, "only.json", *MODEL, "--only-specification")
    assert "within" not in json.loads(only.read_text())
    assert run("statistics-fit", only, "--out", tmp_path / "fit.json") == 2
    assert "holds a specification and no statistics" in capsys.readouterr().err

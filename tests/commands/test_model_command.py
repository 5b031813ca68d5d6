"""``hoofcohort model`` as a person uses it: what it writes, what it refuses and how."""

import json

import numpy as np
import pytest

from hoofcohort.cli import main


@pytest.fixture
def data(tmp_path):
    rng = np.random.default_rng(1)
    lines = ["yard,horse,foot,visit,diet,trim,angle"]
    for yard in "AB":
        for horse in range(6):
            base = rng.normal(50, 2)
            for foot in ("LF", "RF"):
                for visit in range(3):
                    angle = base + rng.normal(0, 1)
                    diet = ("hay", "grass")[horse % 2]
                    lines.append(f"{yard},{horse},{foot},{visit},{diet},{rng.uniform(4, 9):.2f},{angle:.2f}")
    lines[5] = "A,0,RF,1,hay,NA,50.1"
    lines[6] = "A,0,RF,2,,6.1,50.2"
    path = tmp_path / "angles.csv"
    path.write_text("\n".join(lines) + "\n")
    return path


def run(data, tmp_path, *options):
    out = tmp_path / "fit.json"
    status = main(["model", str(data), "--outcome", "angle", "--out", str(out), *options])
    return status, json.loads(out.read_text()) if out.exists() else None


def test_record_holds_everything_it_should(data, tmp_path, capsys):
    options = "--terms diet trim diet:trim --levels horse --also horse:visit --means diet"
    status, record = run(data, tmp_path, *options.split())
    assert status == 0
    assert (record["rows_used"], record["rows_dropped"]) == (70, 2)
    assert record["groups"] == {"horse": 6, "horse:visit": 18}
    assert [row["term"] for row in record["coefficients"]] == ["(intercept)", "diet[hay]", "trim", "diet[hay]:trim"]
    assert [row["level"] for row in record["variances"]] == ["horse", "horse:visit", "residual"]
    assert {(row["factor"], row["value"]) for row in record["means"]} == {("diet", "grass"), ("diet", "hay")}
    assert [(row["first"], row["second"]) for row in record["contrasts"]] == [("grass", "hay")]
    assert record["log_likelihood"] == -record["criterion"] / 2
    assert "2 of 72 rows were left out for a missing value: diet 1, trim 1." in record["messages"]
    assert "70 rows used, 2 dropped" in capsys.readouterr().out


def test_horse_numbers_count_within_their_yard(data, tmp_path):
    _, record = run(data, tmp_path, "--terms", "trim", "--levels", "yard", "horse")
    assert record["groups"] == {"yard": 2, "horse": 12}
    assert any("Level 'yard' has only 2 groups" in message for message in record["messages"])


def test_a_number_column_is_words_when_listed(data, tmp_path):
    _, record = run(data, tmp_path, "--terms", "visit", "--categorical", "visit", "--levels", "horse", "--no-intercept")
    assert [row["term"] for row in record["coefficients"]] == ["visit[0]", "visit[1]", "visit[2]"]


@pytest.mark.parametrize(
    ("options", "message"),
    [
        (["--terms", "dite", "--levels", "horse"], "no column 'dite'; did you mean 'diet'?"),
        (["--terms", "trim", "--levels", "hrse"], "no column 'hrse'; did you mean 'horse'?"),
        (["--terms", "trim", "--levels", "horse", "--also", "yard:visit"], "with one of the levels (horse)"),
        (["--terms", "trim", "trim", "--levels", "horse"], "term 'trim' is given twice"),
        (["--terms", "trim", "--levels", "horse", "--means", "trim"], "means of 'trim': it is numeric"),
        (["--terms", "trim", "--levels", "horse", "--confidence", "95"], "between 0 and 1"),
        (["--levels", "horse", "horse"], "--levels names something twice: horse horse"),
        (["--terms", "diet", "--levels", "horse", "--means", "diet:diet"], "name a variable twice"),
        (["--levels", "horse", "--method", "ml", "--df", "kenward-roger"], "restricted maximum likelihood only"),
    ],
)  # fmt: skip
def test_refusals_say_what_to_do_and_leave_nothing(data, tmp_path, capsys, options, message):
    status, record = run(data, tmp_path, *options)
    assert status == 2
    assert record is None
    assert message in capsys.readouterr().err


def test_a_slip_in_a_number_column_is_not_taken_for_a_word(data, tmp_path, capsys):
    data.write_text(data.read_text().replace("A,0,RF,1,hay,NA,50.1", "A,0,RF,1,hay,6 weeks,50.1"))
    status, record = run(data, tmp_path, "--terms", "trim", "--levels", "horse")
    assert status == 2
    assert record is None
    assert "line 6, column 'trim': '6 weeks' is not a number" in capsys.readouterr().err


@pytest.mark.parametrize("place", [1, 9])
def test_a_row_with_an_extra_cell_is_refused_with_its_line(data, tmp_path, capsys, place):
    lines = data.read_text().splitlines()
    lines[place] = lines[place].replace(".", ",", 1)
    data.write_text("\n".join(lines))
    assert run(data, tmp_path, "--terms", "trim", "--levels", "horse") == (2, None)
    assert f"line {place + 1}: 8 cells, but the header has 7 columns; a decimal comma" in capsys.readouterr().err


def test_two_columns_of_one_name_are_refused(data, tmp_path, capsys):
    data.write_text(data.read_text().replace("diet,trim,angle", "diet,angle,angle", 1))
    assert run(data, tmp_path, "--levels", "horse") == (2, None)
    assert "2 columns are named 'angle'" in capsys.readouterr().err


def test_line_numbers_count_line_breaks_in_cells(data, tmp_path, capsys):
    text = data.read_text().replace("yard,horse", '"yard","horse"', 1).replace("A,0,LF,0", '"A\nhome",0,LF,0', 1)
    data.write_text(text.replace("A,0,RF,1,hay,NA,50.1", "A,0,RF,1,hay,6 weeks,50.1"))
    assert run(data, tmp_path, "--terms", "trim", "--levels", "horse") == (2, None)
    assert "line 7, column 'trim': '6 weeks' is not a number" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (b"", "no header line"),
        (b'angle,a\n"1,2\n', "cannot be read as comma-separated text"),
        (b"angle,a\n1\x00,2\n", "it holds a NUL character"),
        (b"angle,a\n1,\xfc\n", "is not UTF-8 text; save it as CSV in UTF-8"),
        (b"angle;a\n1;2\n", "separated by semicolons"),
        (None, "cannot be read (No such file or directory)"),
    ],
)
def test_unreadable_files_are_refused(tmp_path, capsys, content, message):
    path = tmp_path / "data.csv"
    if content is not None:
        path.write_bytes(content)
    assert run(path, tmp_path, "--levels", "a") == (2, None)
    assert message in capsys.readouterr().err


def test_a_place_that_cannot_be_written_is_named(data, tmp_path, capsys):
    status = main(["model", str(data), "--outcome", "angle", "--levels", "horse", "--out", str(tmp_path)])
    assert status == 2
    assert f"{tmp_path}: cannot be used (Is a directory); name another" in capsys.readouterr().err


def test_profile_intervals_are_added_and_change_nothing_else(data, tmp_path, capsys):
    options = ["--terms", "diet", "trim", "--levels", "horse", "--also", "horse:visit"]
    _, plain = run(data, tmp_path, *options)
    _, record = run(data, tmp_path, *options, "--profile")
    printed = capsys.readouterr().out
    added = {"low", "high", "sd_low", "sd_high"}
    for before, after in zip(plain["variances"], record["variances"], strict=True):
        assert set(after) - set(before) == added
        assert after["sd_low"] <= after["sd"] <= after["sd_high"]
        assert after["high"] == pytest.approx(after["sd_high"] ** 2)
        assert {key: after[key] for key in before} == before
    assert set(record["icc_intervals"]) == {"horse", "horse:visit", "residual"}
    for name, share in record["icc"].items():
        assert record["icc_intervals"][name]["low"] <= share <= record["icc_intervals"][name]["high"]
    assert record["coefficients"] == plain["coefficients"]
    residual = record["variances"][-1]
    assert f"{residual['sd_low']:.4g} to {residual['sd_high']:.4g}" in printed
    _, by_ml = run(data, tmp_path, *options, "--profile", "--method", "ml")
    for row in by_ml["coefficients"]:
        assert row["profile_low"] < row["estimate"] < row["profile_high"]


def test_an_upper_end_that_does_not_exist_is_null_and_said(data, tmp_path, capsys):
    options = ["--terms", "diet", "--levels", "yard", "horse", "--profile", "--confidence", "0.9999999"]
    _, record = run(data, tmp_path, *options)
    assert (record["variances"][0]["level"], record["variances"][0]["high"]) == ("yard", None)
    assert "The data set no upper limit to the variance of level 'yard'." in record["messages"]
    assert "to no limit" in capsys.readouterr().out


def test_a_bootstrap_adds_intervals_and_tests(data, tmp_path, capsys):
    options = "--terms diet trim diet:trim --levels horse --also horse:visit --bootstrap 40 --seed 2"
    status, record = run(data, tmp_path, *options.split())
    assert status == 0
    found = record["bootstrap"]
    assert (found["replicates"] + found["failed"], found["seed"]) == (40, 2)
    assert [row["level"] for row in found["variances"]] == ["horse", "horse:visit", "residual"]
    assert all(row["low"] <= row["high"] for name in ("sds", "icc", "coefficients") for row in found[name])
    # a term inside an interaction cannot be left out alone
    assert [row["tested"] for row in found["tests"]] == ["horse", "horse:visit", "diet:trim"]
    assert [row["method"] for row in found["tests"]] == ["reml", "reml", "ml"]
    said = capsys.readouterr().out
    assert "parametric bootstrap: 40 refits, 0 left out; seed 2" in said
    _, again = run(data, tmp_path, *options.split())
    assert again == record
    _, other = run(data, tmp_path, *options.replace("--seed 2", "--seed 3").split())
    assert other["bootstrap"]["sds"] != found["sds"]
    assert other["coefficients"] == record["coefficients"]


def test_a_bootstrap_of_a_handful_is_refused(data, tmp_path, capsys):
    status, record = run(data, tmp_path, "--terms", "trim", "--levels", "horse", "--bootstrap", "5")
    assert (status, record) == (2, None)
    assert "5 bootstrap replicates were asked for; 20 to 1,000,000 are allowed" in capsys.readouterr().err

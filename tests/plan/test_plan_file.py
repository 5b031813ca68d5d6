"""Reading a plan's file: lines, duplicate keys, broken YAML, and files that are not there."""

from __future__ import annotations

from pathlib import Path

import pytest

from hoofcohort.errors import PlanError
from hoofcohort.plan import load_plan
from hoofcohort.planning.yaml_file import read_yaml

DEMO = Path(__file__).parents[2] / "config/demo.yaml"


def refused(path: Path, text: str | bytes, **options: bool) -> list[str]:
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    with pytest.raises(PlanError) as caught:
        load_plan(path, **options)
    return [line.removeprefix(f"{path}: ") for line in str(caught.value).splitlines()]


def demo(*swaps: tuple[str, str]) -> str:
    text = DEMO.read_text(encoding="utf-8")
    for old, new in swaps:
        assert text.count(old) >= 1, old
        text = text.replace(old, new, 1)
    return text


def line_of(text: str, piece: str) -> int:
    return next(number for number, line in enumerate(text.splitlines(), 1) if piece in line)


def test_every_fault_has_its_line_and_they_are_told_in_the_files_order(tmp_path):
    text = demo(("confidence: 0.95", "confidence: 95"), ("first: concentrate", "first: oats"), ("  - side", "  - sied"))
    told = refused(tmp_path / "p.yaml", text)
    assert told == [
        f"line {line_of(text, 'oats')}: outcomes.heel_underrun_deg.comparison.first: found 'oats'; allowed (the words "
        "of diet): hay, pasture, concentrate",
        f"line {line_of(text, 'sied')}: adjustments, item 4: found 'sied'; allowed: age_years, body_mass_kg, sex, "
        "breed_group, height_cm, fore_hind, side, days_since_trim, observer_id, farrier_id, method, season, shoeing, "
        "turnout_hours, replicate; did you mean 'side'?",
        f"line {line_of(text, ': 95')}: confidence: found 95; allowed: from 0.5 below 1",
    ]


def test_a_key_that_stands_twice_is_a_fault_at_any_depth(tmp_path):
    text = demo(("confidence: 0.95", "confidence: 0.95\nstudy: again"), ("    per: 7", "    per: 7\n    form: as_of"))
    told = refused(tmp_path / "p.yaml", text)
    first, second = line_of(text, "form: mean"), line_of(text, "form: as_of")
    assert told == [
        f"line {line_of(text, 'study:')}: study: the key stands twice, in lines {line_of(text, 'study:')} and "
        f"{line_of(text, 'study: again')}; keep one of them",
        f"line {first}: exposures.trim_interval_days.form: the key stands twice, in lines {first} and {second}; keep "
        "one of them",
    ]


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("study: a\ntitle: [x\nquestion: y\n", "line 3, column 9: not valid YAML: "),
        (
            "study: a\n\ttitle: x\n",
            "line 2, column 1: not valid YAML: found character '\\t' that cannot start any token; ",
        ),
        ("study: a\n  title: x\n", "line 2, column 8: not valid YAML: mapping values are not allowed here; check "),
        ("study: !!python/object/apply:os.system [echo]\n", "line 1, column 8: not valid YAML: could not determine a "),
        ("study: *nowhere\n", "line 1, column 8: not valid YAML: found undefined alias 'nowhere'; "),
        ("- a\n- b\n", "line 1: the file must be a group of keys, such as 'study: my-study'"),
        ("", "line 1: the file must be a group of keys, such as 'study: my-study'"),
        ("# nothing\n", "line 1: the file must be a group of keys, such as 'study: my-study'"),
        ("study: a\n---\nstudy: b\n", "line 2, column 1: not valid YAML: but found another document; "),
        (b"study: \xff\n", "not UTF-8 text (byte 8); save the file as UTF-8"),
        ("[" * 5000, "not readable as YAML: maximum recursion depth exceeded"),
    ],
)
def test_what_is_not_yaml_is_refused_with_its_line(tmp_path, text, message):
    told = refused(tmp_path / "p.yaml", text)
    assert len(told) == 1
    assert told[0].startswith(message)


def test_nothing_in_a_plan_is_run(tmp_path):
    trace = tmp_path / "trace"
    refused(tmp_path / "p.yaml", f"study: !!python/object/apply:pathlib.Path.touch [{trace}]\n")
    assert not trace.exists()


@pytest.mark.parametrize("text", ["study: &a [*a]\n", "a: &a [x, x]\nb: &b [*a, *a]\nstudy: [*b, *b]\n"])
def test_aliases_do_no_harm(tmp_path, text):
    assert any("study: found a list; it must be text" in line for line in refused(tmp_path / "p.yaml", text))


def test_many_aliases_of_aliases_are_refused_at_once(tmp_path):
    layers = "\n".join(f"a{i}: &a{i} [{', '.join([f'*a{i - 1}'] * 9)}]" for i in range(1, 30))
    told = refused(tmp_path / "p.yaml", f"a0: &a0 x\n{layers}\ntitle: *a29\n")
    assert any(
        line.endswith("title: found a list; it must be text (in quotes, where YAML reads it as something else)")
        for line in told
    )
    assert max(len(line) for line in told) < 500


def test_a_file_that_is_not_there(tmp_path):
    with pytest.raises(PlanError, match="no such file; give the path from the folder in which you start the command"):
        load_plan(tmp_path / "none.yaml")
    with pytest.raises(PlanError, match="cannot be read: Is a directory"):
        load_plan(tmp_path)


def test_data_files_and_cutoffs_are_looked_for_together_with_everything_else(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    text = demo(("confidence: 0.95", "confidence: 95"))
    told = refused(tmp_path / "p.yaml", text, check_files=True)
    remedy = "give its path from the folder in which the command is started"
    assert [line.split(": ", 1)[1] for line in told] == [
        f"data.horses: no file 'synthetic_data/horses.csv'; {remedy}",
        f"data.management: no file 'synthetic_data/management.csv'; {remedy}",
        f"data.feet: no file 'synthetic_data/feet.csv'; {remedy}",
        "confidence: found 95; allowed: from 0.5 below 1",
        "cutoffs: config/cutoffs.yaml: no such file; give the path from the folder in which you start the command",
    ]


def test_a_byte_order_mark_and_windows_line_ends_are_read(tmp_path):
    path = tmp_path / "p.yaml"
    path.write_bytes(b"\xef\xbb\xbf" + DEMO.read_bytes().replace(b"\n", b"\r\n"))
    assert load_plan(path) == load_plan(DEMO)


def test_lines_of_keys_and_items(tmp_path):
    path = tmp_path / "x.yaml"
    path.write_text("a:\n  b: 1\n  c:\n    - x\n    - y\n")
    assert read_yaml(path).lines == {("a",): 1, ("a", "b"): 2, ("a", "c"): 3, ("a", "c", 0): 4, ("a", "c", 1): 5}

"""The page as a whole: well formed, self-contained, escaped, accessible, reproducible."""

from __future__ import annotations

import csv
import json
import re
import shutil
from collections import Counter
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree

import pandas as pd
import pytest
from small_run import HORSE_MARK, OBSERVER, OUTCOMES, TITLE, YARD

from hoofcohort.cli import main
from hoofcohort.exposure import exposure_windows
from hoofcohort.files import sha256_of
from hoofcohort.plan import parse_plan
from hoofcohort.report.page import render

VOID = {"meta", "link", "br", "hr", "img", "input", "col", "wbr", "base", "area", "source"}
CAUSAL = re.compile(
    r"\b(caus(e|es|ed|ing|al)|effect of|led to|leads to|due to|because of|results? in|improv\w+|worsen\w+|prevent\w*|"
    r"no effect|proves?|proven|affect(s|ing)|benefit\w*|harm\w*|impact\w*|protect\w*|influenc(es|ed))\b",
    re.IGNORECASE,
)

NO_CLAIM = (
    "may have been chosen because of the feet",
    "A causal diagram and the size of bias, which the statement also asks for, are for the authors to add",
    "from the results in the run&#39;s folder",
)


class Page(HTMLParser):
    """Collects what the tests ask about, and every tag that is not closed in order."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.faults: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.text: dict[str, list[str]] = {}
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        if not self.open or self.open.pop() != tag:
            self.faults.append(f"</{tag}> at {self.getpos()}")

    def handle_data(self, data: str) -> None:
        if self.open:
            self.text.setdefault(self.open[-1], []).append(data)

    def named(self, *names: str) -> list[dict[str, str | None]]:
        """Attributes of all tags with one of these names."""
        return [attributes for tag, attributes in self.tags if tag in names]


@pytest.fixture(scope="module")
def parsed(page: str) -> Page:
    return Page(page)


def test_every_tag_is_closed_in_order(parsed: Page) -> None:
    assert parsed.faults == []
    assert parsed.open == []


def test_ids_are_unique_and_every_link_finds_one(parsed: Page) -> None:
    ids = Counter(attributes["id"] for _, attributes in parsed.tags if "id" in attributes)
    assert [name for name, times in ids.items() if times > 1] == []
    targets = {attributes["href"].removeprefix("#") for attributes in parsed.named("a")}
    assert targets <= set(ids)
    described = {attributes["aria-labelledby"] for _, attributes in parsed.tags if "aria-labelledby" in attributes}
    assert described <= set(ids)
    used = {href for _, attributes in parsed.tags if (href := attributes.get("xlink:href", "")).startswith("#")}
    assert {href[1:] for href in used} <= set(ids)


def test_nothing_is_fetched_and_nothing_runs(page: str, parsed: Page) -> None:
    for _, attributes in parsed.tags:
        for name in ("src", "href", "xlink:href", "srcset", "action", "data"):
            value = attributes.get(name)
            assert value is None or value.startswith(("#", "data:")), (name, value)
        assert not [name for name in attributes if name.startswith("on")]
    assert not parsed.named("script", "link", "iframe", "object", "embed", "base", "form")
    assert "@import" not in page
    assert not re.search(r"url\((?!#)", page)
    policy = next(a["content"] for a in parsed.named("meta") if a.get("http-equiv") == "Content-Security-Policy")
    assert policy == "default-src 'none'; style-src 'unsafe-inline'; img-src data:"


def test_text_of_the_plan_and_the_files_is_escaped(page: str, parsed: Page) -> None:
    assert OBSERVER not in page
    assert "observer_id[&lt;script&gt;alert(1)&lt;/script&gt;]" in page
    assert YARD not in page
    assert TITLE not in page
    assert parsed.text["h1"] == [TITLE]
    assert parsed.text["title"] == [TITLE]
    assert not parsed.named("b") or all("kept" not in text for text in parsed.text["b"])


def test_headings_descend_one_step_at_a_time_and_language_is_named(parsed: Page) -> None:
    levels = [int(tag[1]) for tag, _ in parsed.tags if re.fullmatch(r"h[1-6]", tag)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after <= before + 1 for before, after in pairwise(levels))
    assert parsed.named("html") == [{"lang": "en"}]


def test_tables_have_captions_and_scoped_heads(parsed: Page) -> None:
    assert len(parsed.named("table")) == len(parsed.named("caption")) > 20
    assert {attributes.get("scope") for attributes in parsed.named("th")} <= {"col", "row", "rowgroup"}


def test_figures_have_captions_and_say_what_is_to_be_seen(parsed: Page) -> None:
    assert len(parsed.named("figure")) == len(parsed.named("figcaption")) >= 3 + 3 * len(OUTCOMES)
    drawings = parsed.named("svg")
    assert len(drawings) > 30
    assert all(drawing["role"] == "img" and len(drawing["aria-label"]) > 20 for drawing in drawings)


def test_numbers_of_tables_and_figures_run_on(page: str) -> None:
    for word in ("Table", "Figure"):
        found = [int(number) for number in re.findall(rf"<b>{word} (\d+)\.</b>", page)]
        assert found == list(range(1, len(found) + 1))


def test_the_banner_says_that_the_data_are_invented(page: str) -> None:
    assert page.count("Invented data.") == 2
    assert page.index("Invented data.") < page.index("<h1>")


def test_invented_data_are_named_on_every_printed_page_and_real_data_nowhere() -> None:
    mark = '@top-left { content: "Invented data"'
    plan = {
        "study": "s",
        "title": "T",
        "question": "Q?",
        "written": "2026-02-01",
        "data": {"horses": "h.csv", "management": "m.csv", "feet": "f.csv"},
        "outcomes": {"frog_width_mm": {"role": "secondary"}},
        "exposures": {"diet": {}},
    }
    assert mark in render(parse_plan(plan | {"invented": True}), [], [])
    real = render(parse_plan(plan), [], [])
    assert mark not in real
    assert "Invented" not in real


def test_sections_stand_in_the_declared_order(parsed: Page) -> None:
    anchors = [attributes["id"] for attributes in parsed.named("section")]
    order = ["findings", "plan", "flow", "cohort", "measures", *(f"outcome-{name}" for name in OUTCOMES)]
    order += ["multiplicity", "limitations", "cautions", "methods", "provenance"]
    assert [anchor for anchor in anchors if anchor in order] == order


def test_findings_speak_of_associations_only(page: str) -> None:
    text = re.sub(
        r"<[^>]+>", " ", re.search(r'<section id="findings".*?</section>\s*<section id="plan"', page, re.S)[0]
    )
    assert CAUSAL.findall(text) == []
    assert "95% interval" in text
    assert text.index("95% interval") < text.index("p = ") if "p = " in text else "p < 0.001" in text


def test_no_word_of_the_page_claims_a_cause(page: str) -> None:
    """Text, labels of figures and titles; the passages that speak of causes without claiming one are named."""
    text = re.sub(r"<style.*?</style>|<[^>]+>", " ", page, flags=re.DOTALL)
    text += " ".join(re.findall(r'(?:aria-label|title|alt)="([^"]*)"', page))
    text = re.sub(r"\s+", " ", text)
    assert len(text) > 20_000
    for passage in NO_CLAIM:
        assert passage in text
        text = text.replace(passage, "")
    assert [text[max(0, m.start() - 60) : m.end() + 40] for m in CAUSAL.finditer(text)] == []


def test_no_p_value_is_written_as_zero_and_no_number_is_broken(page: str) -> None:
    text = re.sub(r"<svg.*?</svg>|<style.*?</style>|<[^>]+>", " ", page, flags=re.DOTALL)
    assert not re.search(r"p = 0\.0+\b", text)
    assert not re.search(r"\b(nan|NaN|None|inf)\b", text)


def test_text_stands_out_from_its_ground(page: str) -> None:
    colours = dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{6});", page))
    pairs = [(ink, ground) for ink in ("ink", "muted", "link") for ground in ("paper", "band")]
    pairs.append(("warn-ink", "warn-paper"))
    assert {
        pair: contrast(colours[pair[0]], colours[pair[1]]) for pair in pairs if contrast(*map(colours.get, pair)) < 4.5
    } == {}
    for drawn in set(re.findall(r"<text[^>]*?fill: (#[0-9a-f]{6})", page)):
        assert contrast(drawn, colours["paper"]) >= 4.5


def contrast(first: str, second: str) -> float:
    """Contrast ratio of two colours (WCAG 2.1, published)."""
    lights = sorted(map(_luminance, (first, second)))
    return (lights[1] + 0.05) / (lights[0] + 0.05)


def _luminance(colour: str) -> float:
    channels = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_contrast_of_black_on_white_is_21() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21)


def test_tables_and_figures_lie_beside_the_page(reported: Path, parsed: Page) -> None:
    tables = sorted(reported.glob("tables/*.csv"))
    assert len(tables) == len(parsed.named("table"))
    for path in tables:
        rows = list(csv.reader(path.open(encoding="utf-8", newline="")))
        assert len(rows) > 1
        assert {len(row) for row in rows} == {len(rows[0])}
        assert not [cell for row in rows for cell in row if re.match(r"[=+@\t\r]|-(?![\d.])", cell)]
    influence = (reported / "tables" / f"influence_{OUTCOMES[0]}.csv").read_text(encoding="utf-8").splitlines()
    horses = [line.split(",")[2] for line in influence if line.startswith("horse,")]
    assert horses and all(label.startswith(f"'{HORSE_MARK}H") for label in horses)
    figures = sorted(reported.glob("figures/*.svg"))
    assert len(figures) == len(parsed.named("svg"))
    assert {ElementTree.parse(path).getroot().tag for path in figures} == {"{http://www.w3.org/2000/svg}svg"}


def test_missing_values_are_counted_among_all_accepted_readings(reported: Path) -> None:
    rows = {row["name"]: row for row in csv.DictReader((reported / "tables" / "missing.csv").open(encoding="utf-8"))}
    frames = {name: pd.read_parquet(reported / "data" / f"{name}.parquet") for name in ("readings", "management")}
    readings = frames["readings"]
    windows = exposure_windows(readings, frames["management"], 120)
    for name in ("diet", "terrain", "trim_interval_days"):
        days = (windows[f"{name}__coverage"].fillna(0) * 120).round()
        expected = (int((days == 0).sum()), int(days.between(1, 59).sum()), int((days < 60).sum()), len(readings))
        assert tuple(int(rows[name][key]) for key in ("missing", "short", "without", "of")) == expected
        assert expected[0] > 0
    assert rows["age_years"]["short"] == ""


def test_manifest_holds_the_hash_of_everything(reported: Path) -> None:
    record = json.loads((reported / "manifest.json").read_text(encoding="utf-8"))
    outputs = {row["file"]: row["sha256"] for row in record["outputs"]}
    assert set(outputs) == {
        path.relative_to(reported).as_posix() for part in ("figures", "tables") for path in reported.glob(f"{part}/*")
    }
    assert all(sha256_of(reported / name) == digest for name, digest in outputs.items())
    inputs = [row for row in record["inputs"] if row["role"] == "run"]
    assert {"plan.json", "ledger.json", "rejects.csv", "flags.csv"} <= {row["file"] for row in inputs}
    assert all(sha256_of(reported / row["file"]) == row["sha256"] for row in inputs)
    own = [row for row in record["inputs"] if row["role"] == "input"]
    assert [sha256_of(row["file"]) for row in own] == [row["sha256"] for row in own]
    needed = {
        "hoofcohort",
        "python",
        "pandas",
        "numpy",
        "scipy",
        "statsmodels",
        "pandera",
        "pyarrow",
        "seaborn",
        "matplotlib",
    }
    assert needed <= set(record["versions"])


def test_the_same_run_gives_the_same_bytes(run_before_report: Path, reported: Path, tmp_path: Path) -> None:
    again = tmp_path / "elsewhere"
    shutil.copytree(run_before_report, again)
    (again / "figures").mkdir()
    (again / "figures" / "of-an-earlier-run.svg").write_text("<svg/>")
    assert main(["report", "--run-dir", str(again)]) == 0
    first, second = (
        {p.relative_to(folder): p.read_bytes() for p in folder.rglob("*") if p.is_file()}
        for folder in (reported, again)
    )
    assert first.keys() == second.keys()
    assert [name for name in first if first[name] != second[name]] == []


def test_a_missing_result_is_named_and_nothing_is_written(
    run_before_report: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    broken = tmp_path / "run"
    shutil.copytree(run_before_report, broken)
    (broken / "models" / "frog_ratio.json").unlink()
    before = sorted(broken.rglob("*"))
    assert main(["report", "--run-dir", str(broken)]) == 2
    said = capsys.readouterr().err
    assert "frog_ratio.json: no such file" in said
    assert "hoofcohort fit-outcome" in said
    assert sorted(broken.rglob("*")) == before


def test_a_run_folder_that_is_not_there_is_named(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["report", "--run-dir", str(tmp_path / "none")]) == 2
    assert "no such folder" in capsys.readouterr().err


def test_a_page_that_cannot_be_written_is_named_and_nothing_else_is_written(
    run_before_report: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    run = tmp_path / "run"
    shutil.copytree(run_before_report, run)
    (tmp_path / "file").write_text("not a folder")
    before = sorted(run.rglob("*"))
    assert main(["report", "--run-dir", str(run), "--out", str(tmp_path / "file" / "report.html")]) == 2
    assert "cannot be written" in capsys.readouterr().err
    assert sorted(run.rglob("*")) == before

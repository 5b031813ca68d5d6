"""Every measurement is drawn and explained, and the page is whole."""

from __future__ import annotations

import dataclasses
import math
import re
from html.parser import HTMLParser
from xml.etree import ElementTree

import pytest

from hoofcohort.cli import main
from hoofcohort.tables import TABLES
from hoofcohort.tables.declare import Column
from hoofcohort.templates import dictionary_page as page
from hoofcohort.templates.drawings import detail, overview
from hoofcohort.templates.marks import MARKS, marks_of
from hoofcohort.templates.outlines import VIEWS

SVG = "{http://www.w3.org/2000/svg}"


def undrawn(columns):
    """The measurements that lack a line on a drawing, a drawing that holds it, or a word on how to measure."""
    return [
        column.name
        for column in columns
        if not column.how
        or not marks_of(column.name)
        or not all(f'data-column="{column.name}"' in overview(mark.view) for mark in marks_of(column.name))
    ]


def test_every_measurement_is_drawn_and_explained():
    columns = page.drawn_columns()
    assert {column.name for column in columns} == {mark.column for mark in MARKS}
    assert len(columns) >= 17
    assert undrawn(columns) == []


def test_a_measurement_added_without_a_drawing_is_found(monkeypatch):
    feet = TABLES["feet"]
    new = Column("sole_depth_mm", "number", "Depth of the sole.", "mm", "measurement", how="With a probe.")
    more = dataclasses.replace(feet, columns=(*feet.columns, new))
    monkeypatch.setitem(TABLES, "feet", more)
    assert undrawn(page.drawn_columns()) == ["sole_depth_mm"]
    mute = dataclasses.replace(feet.by_name["toe_angle_deg"], how="")
    assert undrawn([mute]) == ["toe_angle_deg"]


@pytest.mark.parametrize("view", VIEWS)
def test_a_drawing_says_what_it_shows_and_names_every_line(view):
    root = ElementTree.fromstring(overview(view))
    ids = root.get("aria-labelledby").split()
    assert [root.find(f"{SVG}title").get("id"), root.find(f"{SVG}desc").get("id")] == ids
    written = " ".join("".join(text.itertext()) for text in root.iter(f"{SVG}text")).replace(" ", "")
    for mark in MARKS:
        if mark.view == view:
            assert "".join(mark.lines).replace(" ", "") in written
            assert " ".join(mark.lines) in root.find(f"{SVG}desc").text


def boxes(view):
    """Where each measurement's name lies, taking 0.6 of the height for a letter's width: wider than the letters are."""
    for mark in MARKS:
        if mark.view == view:
            width, (x, y) = 0.6 * 18 * max(map(len, mark.lines)), mark.label
            left = x - {"start": 0, "middle": width / 2, "end": width}[mark.anchor]
            yield mark.column, left, y - 15, left + width, y + 4 + 20.7 * (len(mark.lines) - 1)


@pytest.mark.parametrize("view", VIEWS)
def test_names_do_not_collide_and_stay_inside(view):
    found = list(boxes(view))
    width, height = VIEWS[view].size
    for place, (name, left, top, right, bottom) in enumerate(found):
        assert left >= -70, name
        assert right <= width + 70, name
        assert VIEWS[view].top <= top, name
        assert bottom <= height, name
        for other, x0, y0, x1, y1 in found[:place]:
            assert right < x0 or x1 < left or bottom < y0 or y1 < top, f"{name} lies on {other}"


def measured(column, view):
    mark = next(mark for mark in marks_of(column) if mark.view == view)
    (ax, ay), (bx, by) = mark.points[:2]
    return math.degrees(math.atan2(ay - by, bx - ax)) if mark.kind == "angle" else math.hypot(bx - ax, by - ay)


def test_the_drawn_foot_has_the_proportions_it_claims():
    assert measured("toe_angle_deg", "side") == pytest.approx(50, abs=0.5)
    assert measured("toe_length_mm", "side") / 2.6 == pytest.approx(90, abs=1)
    assert measured("heel_angle_deg", "side") == pytest.approx(47, abs=0.5)
    assert measured("hoof_length_mm", "below") / 3.6 == pytest.approx(131, abs=1)
    assert measured("frog_width_mm", "below") / measured("frog_length_mm", "below") == pytest.approx(0.63, abs=0.01)
    sole, side = (measured("heel_setback_mm", view) for view in ("below", "side"))
    assert abs(sole / 3.6 - side / 2.6) < 15


def test_a_length_is_drawn_as_long_as_the_part_it_measures():
    """A line beside the part is a parallel copy: its guides start where the part does."""
    for name, start, end in (
        ("toe_length_mm", (290, 381), (140, 560)),
        ("lateral_heel_length_mm", (480, 474), (400, 560)),
    ):
        assert measured(name, "side") == pytest.approx(math.dist(start, end), rel=0.01)


class Page(HTMLParser):
    def __init__(self, text):
        super().__init__()
        self.ids, self.links, self.outside = [], [], []
        self.feed(text)

    def handle_starttag(self, tag, attributes):
        given = dict(attributes)
        self.ids += [given["id"]] if "id" in given else []
        self.links += [given["href"]] if "href" in given else []
        self.outside += [tag] if tag in ("script", "link", "img", "iframe", "object") or "src" in given else []


def test_the_page_holds_every_column_and_nothing_from_outside(tmp_path):
    assert main(["dictionary", "--out", str(tmp_path / "d.html")]) == 0
    text = (tmp_path / "d.html").read_text(encoding="utf-8")
    found = Page(text)
    assert len(set(found.ids)) == len(found.ids)
    assert found.outside == []
    assert {link[1:] for link in found.links} <= set(found.ids)
    assert {f"{table.name}-{name}" for table in TABLES.values() for name in table.names} <= set(found.ids)
    assert "url(" not in text.replace("url(#", "")
    for column in page.drawn_columns():
        card = re.search(rf'<section class="measure" id="measure-{column.name}">.*?</section>', text, re.DOTALL).group()
        assert f'data-column="{column.name}"' in card
        assert card.count("data-column") == 1


def test_text_from_the_declarations_is_escaped(monkeypatch):
    feet = TABLES["feet"]
    first = dataclasses.replace(feet.columns[-1], meaning="<b>&</b>.", how='<script>"')
    monkeypatch.setitem(TABLES, "feet", dataclasses.replace(feet, columns=(*feet.columns[:-1], first)))
    text = page.dictionary_page()
    assert "&lt;b&gt;&amp;&lt;/b&gt;." in text
    assert "<script>" not in text
    assert "<script>" not in detail(MARKS[0], "<script>")


def test_markdown_is_still_written(tmp_path):
    assert main(["dictionary", "--out", str(tmp_path / "d.md")]) == 0
    assert (tmp_path / "d.md").read_text(encoding="utf-8").startswith("# Data dictionary")

"""The page as text: well formed, complete, without network, and hostile names on it are only names."""

from __future__ import annotations

import base64
import dataclasses
import hashlib
import json
import re
from decimal import Decimal
from html.parser import HTMLParser

import pytest

from cutlist.place_types import FaceCost
from cutlist.sheets.markup import VOID
from cutlist.sheets.page import plan_html
from tests.sheets.conftest import HOSTILE


class Reader(HTMLParser):
    """Checks nesting; keeps elements, their attributes, the text, and each table as rows of cells."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self.scripts: list[str] = []
        self.tables: dict[str, list[list[str]]] = {}
        self.caption = ""

    def handle_starttag(self, name, attributes):
        self.elements.append((name, dict(attributes)))
        if name not in VOID:
            self.open.append(name)
        if name == "caption":
            self.caption = ""
        elif name == "tr":
            self.tables[self.caption].append([])
        elif name in ("td", "th"):
            self.tables[self.caption][-1].append("")

    def handle_startendtag(self, name, attributes):
        self.elements.append((name, dict(attributes)))

    def handle_endtag(self, name):
        assert self.open.pop() == name
        if name == "caption":
            self.tables[self.caption] = []

    def handle_data(self, data):
        if "script" in self.open:
            self.scripts.append(data)
        elif "style" not in self.open:
            self.words.append(data)
            if "caption" in self.open:
                self.caption += data
            elif self.open[-1:] and ("td" in self.open or "th" in self.open):
                self.tables[self.caption][-1][-1] += data


def read(html: str) -> Reader:
    reader = Reader()
    reader.feed(html)
    reader.close()
    assert reader.open == []
    return reader


def rows(html: str, caption: str) -> list[list[str]]:
    tables = read(html).tables
    return next(lines for name, lines in tables.items() if name.startswith(caption))


@pytest.mark.parametrize("name", ["plan", "inch_plan", "priceless_plan", "failing_plan", "hostile_plan", "large_plan"])
def test_well_formed_and_under_six_megabytes(name, request):
    html = plan_html(request.getfixturevalue(name))
    read(html)
    assert len(html.encode()) < 6_000_000


def test_same_plan_same_text(plan):
    assert plan_html(plan) == plan_html(plan)


def test_nothing_is_fetched(plan):
    html = plan_html(plan)
    reader = read(html)
    assert not [n for n, _ in reader.elements if n in ("link", "img", "iframe", "object", "base", "form")]
    for name, attributes in reader.elements:
        for key in ("src", "href", "action"):
            assert (attributes.get(key) or "#").startswith("#"), (name, key)
    assert re.findall(r"https?://[^\"' )]+", html) == ["http://www.w3.org/2000/svg"] * len(
        re.findall('xmlns="http', html)
    )


def test_the_policy_allows_only_our_script(plan):
    reader = read(plan_html(plan))
    policy = next(a["content"] for n, a in reader.elements if n == "meta" and a.get("http-equiv"))
    ours = base64.b64encode(hashlib.sha256(reader.scripts[-1].encode()).digest()).decode()
    assert policy == (f"default-src 'none'; style-src 'unsafe-inline'; img-src data:; script-src 'sha256-{ours}'")


def test_hostile_names_are_only_names(plan, hostile_plan):
    calm, hostile = read(plan_html(plan)), read(plan_html(hostile_plan))
    assert [n for n, _ in calm.elements] == [n for n, _ in hostile.elements]
    assert HOSTILE in "".join(hostile.words)
    assert len(hostile.scripts) == len(calm.scripts) == 2
    scene = json.loads(hostile.scripts[0])
    assert any(HOSTILE in cable["words"] for cable in scene["cables"])
    for _, attributes in hostile.elements:
        assert not [key for key in attributes if key.startswith("on")]


def test_runs_table(plan):
    """Lengths worked by hand in test_tables and test_cut_sheet."""
    lines = rows(plan_html(plan), "Every run")
    assert lines[0][:7] == ["No.", "Cable", "Conductor", "Shortest run", "Target", "Surplus", "Cut length"]
    assert lines[6][:7] == ["6", "− S1 negative", "50 mm2", "1141 mm", "1526 mm", "385 mm", "1465 mm"]
    assert lines[8][:7] == ["8", "− S2 negative", "50 mm2", "1526 mm", "1526 mm", "0 mm", "1465 mm"]


def test_findings_put_what_fails_first(failing_plan):
    lines = rows(plan_html(failing_plan), "Every rule")
    # value 0.0121 against limit 0.01: (0.01 - 0.0121) / 0.01 = -21 %
    drop = ["voltage drop", "inverter", "1", "NOT MET", "Drop to the inverter is 1.21 % of 24 V.", "0.0121", "0.01"]
    assert lines[1][:8] == [*drop, "-21 %"]
    assert [line[3] for line in lines[1:]] == ["NOT MET", "not known", "note", "met"]


def test_ticks_name_every_cut_and_every_cable(plan):
    ticks = [a["data-piece"] for n, a in read(plan_html(plan)).elements if n == "input" and a.get("class") == "tick"]
    cuts = {cut.name for cable in plan.cables for cut in cable.cuts}
    assert set(ticks) == cuts | {f"laid {cable.name}" for cable in plan.cables}
    assert len(ticks) == len(set(ticks))


def test_every_part_has_a_heading_and_a_way_to_it(plan):
    reader = read(plan_html(plan))
    ids = {a["id"] for _, a in reader.elements if a.get("id")}
    links = [a["href"] for n, a in reader.elements if n == "a"]
    assert {link[1:] for link in links} <= ids
    assert len([n for n, _ in reader.elements if n == "h1"]) == 1
    assert [n for n, _ in reader.elements if n == "h2"] == ["h2"] * 13


def test_missing_prices_are_shown_as_missing(priceless_plan):
    html = plan_html(priceless_plan)
    assert "no prices kept" in html
    assert {line[7] for line in rows(html, "Order list")[1:] if line[1] != "none"} == {"missing"}


def test_ways_compared_with_bars_to_scale(plan):
    """1.05 % beside 0 %: the whole width and none; 12.7 m beside 14.2 m of 90: 80.5."""
    html = plan_html(plan)
    lines = rows(html, "Ways of matching the leads")
    assert lines[1][:3] == ["all leads alike (this plan)", "+0.00 %, S1", "1.000"]
    assert lines[2][:7] == ["as routed", "-1.05 %, S2", "1.021", "1.04 %", "7900 mm", "12700 mm", "49.10"]
    assert rows(html, "Ways of connecting the strings")[1][6] == "missing"
    chart = html[html.index("Ways of matching") : html.index("Ways of connecting")]
    assert [float(w) for w in re.findall(r'<rect width="([\d.]+)"', chart)] == [
        0.0, 90.0, 90.0, 90.0, 90.0, 77.4, 80.5, 71.5,
    ]  # fmt: skip


def test_a_plan_that_compares_nothing_has_no_such_part(plan):
    assert 'id="compared"' not in plan_html(dataclasses.replace(plan, compared=()))


def test_face_maps_show_each_place_and_the_chosen_one(plan):
    """The back wall's corner is (200, 0, 700): the chosen positive place (460, 20, 1100) is 260 along and 400 up, so
    100 from the top of its 500. Who stands before it has along to his left: 900 - 260 = 640 from there."""
    html = plan_html(plan)
    assert html.count('<svg class="map"') == 2
    positive = html[html.index('<svg class="map"') :]
    positive = positive[: positive.index("</svg>")]
    assert '<g class="chosen"><title>chosen</title><circle cx="640.0" cy="100.0"' in positive
    assert "<title>cost 289.00, target 1900 mm</title>" in positive
    assert "<title>S2 positive has no way to stud 1</title>" in positive


def test_face_costs_come_before_places_tried(plan):
    costs = tuple(FaceCost("positive", "back wall", 0.1 * i, 0.2, Decimal(200 + i), 1.5) for i in range(5))
    html = plan_html(dataclasses.replace(plan, face_costs=costs))
    assert html.count('<svg class="map"') == 1
    shades = [float(s) for s in re.findall(r'fill-opacity="([\d.]+)"', html[html.index('<svg class="map"') :])]
    # from palest to darkest in even steps, as the costs are
    assert shades == pytest.approx([0.15, 0.3375, 0.525, 0.7125, 0.9], abs=0.006)

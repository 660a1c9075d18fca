"""The page as text: well formed, complete, without network, and hostile names on it are only names."""

from __future__ import annotations

import base64
import hashlib
import json
import re
from html.parser import HTMLParser

import pytest

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
    assert lines[1][:7] == [
        "voltage drop", "inverter", "NOT MET", "Drop to the inverter is 1.21 % of 24 V.", "0.0121", "0.01", "-21 %",
    ]  # fmt: skip
    assert [line[2] for line in lines[1:]] == ["NOT MET", "not known", "met", "note"]


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
    assert [n for n, _ in reader.elements if n == "h2"] == ["h2"] * 12


def test_missing_prices_are_shown_as_missing(priceless_plan):
    html = plan_html(priceless_plan)
    assert "EUR 0.00 and 5 missing prices" in html
    assert {line[7] for line in rows(html, "Order list")[1:] if line[1] != "none"} == {"missing"}

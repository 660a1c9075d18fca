"""Every figure on paper and page against plan.json, read back as a stranger would, with formatting of its own."""

from __future__ import annotations

import csv
import io
import json
import math
import re
from decimal import Decimal
from fractions import Fraction

import openpyxl
import pytest

from cutlist.sheets.cut_sheet import cut_sheet_pdf
from cutlist.sheets.labels import label_rows
from cutlist.sheets.order_sheet import order_pdf
from cutlist.sheets.page import plan_html
from cutlist.sheets.plan_json import plan_text
from cutlist.sheets.summary import summary_text
from cutlist.sheets.tables_csv import cuts_csv, order_csv
from cutlist.sheets.workbook import order_xlsx
from tests.sheets.test_cut_sheet import flat
from tests.sheets.test_page import read

PLANS = ["plan", "inch_plan", "priceless_plan", "large_plan"]


def um_of(text: str) -> Fraction:
    """Micrometres of "2350 mm" or "7 ft 8 1/2 in"."""
    if text.endswith(" mm"):
        return Fraction(text[:-3]) * 1000
    feet, _, inches = text.rpartition(" ft ")
    return (Fraction(feet or "0") * 12 + sum(Fraction(part) for part in inches[:-3].split())) * 25400


def near(text: str, length_um: float, up: bool = False) -> bool:
    """The text is the length, but for its last mark: 1 mm or 1/8 in; with `up` never below."""
    mark_um = 1000 if text.endswith("mm") else 3175
    off = float(um_of(text)) - length_um
    return -1e-6 <= off < mark_um if up else abs(off) <= mark_um / 2 + 1e-6


@pytest.fixture(scope="module", params=PLANS)
def each(request):
    """A plan, its document, and the tables of its page by their captions."""
    plan = request.getfixturevalue(request.param)
    return plan, json.loads(plan_text(plan)), read(plan_html(plan)).tables


def captioned(tables, caption):
    return next(lines for name, lines in tables.items() if name.startswith(caption))


def pieces(document):
    """(tag, um, cable) of every cut of every spool, in cutting order."""
    by_tag = {cut["name"]: cable for cable in document["cables"] for cut in cable["cuts"]}
    return [(c["piece"], c["length_um"], by_tag[c["piece"]]) for s in document["cut_plan"]["spools"] for c in s["cuts"]]


def test_cut_lengths_everywhere(each):
    plan, document, tables = each
    expected = pieces(document)
    table = list(csv.DictReader(io.StringIO(cuts_csv(plan))))
    page = [line for caption, lines in tables.items() if caption.startswith("Cuts from") for line in lines[1:]]
    paper = flat(cut_sheet_pdf(plan))
    labels = label_rows(plan)
    own_first = document["job"]["units"] == "mm"
    for i, (tag, um, cable) in enumerate(expected):
        row, line = table[i], page[i]
        assert row["tag"] == tag
        assert Fraction(row["cut length mm"]) * 1000 == um
        assert near(row["cut length ft in"], um, up=True)
        own, other = line[2], line[3]
        assert near(own, um, up=True)
        assert near(other, um, up=True)
        assert own.endswith("mm") == own_first
        assert other.endswith("in") == own_first
        figure = own.removesuffix(" mm")
        shown = re.escape(f"{figure} {other.removesuffix(' mm')}")
        assert re.search(shown, paper), (tag, shown)
        assert {labels[2 * i].length, labels[2 * i + 1].length} == {own}
        assert labels[2 * i].text.startswith(tag)
        for end, text in (("start", line[4]), ("finish", line[5])):
            assert text.startswith(f"{cable[end]['lug']['conductor']} x {cable[end]['stud']}")
            assert near(re.search(r"strip ([^,]+),", text).group(1), cable[end]["strip_m"] * 1e6)
            assert cable[end]["at"] in text


def test_spools_add_up(each):
    _, document, _ = each
    for spool in document["cut_plan"]["spools"]:
        assert spool["length_um"] == sum(c["length_um"] for c in spool["cuts"]) + spool["remains_um"]


def test_runs_on_the_page(each):
    _, document, tables = each
    for line, cable in zip(captioned(tables, "Every run")[1:], document["cables"], strict=True):
        assert line[0] == str(cable["number"])
        assert near(line[3], cable["shortest"]["length_m"] * 1e6)
        assert near(line[4], cable["target_m"] * 1e6)
        assert near(line[5], cable["surplus_m"] * 1e6)
        assert near(line[5], cable["target_m"] * 1e6 - cable["shortest"]["length_m"] * 1e6)
        arcs = [p for p in cable["laid"]["curve"]["pieces"] if p["shape"] == "arc"]
        assert line[7] == str(len(arcs))
        assert near(line[8], min(math.dist(p["centre"], p["start"]) for p in arcs) * 1e6)
        assert line[9] == str(len(cable["laid"]["clamps"]))


def test_laying_on_the_page(each):
    _, document, tables = each
    for line, cable in zip(captioned(tables, "Laying")[1:], document["cables"], strict=True):
        assert near(line[4], cable["target_m"] * 1e6)
        length_m = (
            sum(float(um_of(m)) for m in re.findall(r"(\d+ mm|(?:\d+ ft )?[\d /]+ in)(?= along|,|$)", line[3])) / 1e6
        )
        bends = [p for p in cable["laid"]["curve"]["pieces"] if p["shape"] == "arc"]
        saved_m = sum(
            math.dist(p["centre"], p["start"]) * (2 * math.tan(p["angle_rad"] / 2) - p["angle_rad"]) for p in bends
        )
        # corner to corner, less what the bends cut off, is the run; a mark of play for each stretch
        assert length_m - saved_m == pytest.approx(cable["laid"]["length_m"], abs=0.0016 * (len(bends) + 1))


def test_order_everywhere(each):
    plan, document, tables = each
    lines = document["order"]["lines"]
    table = [r for r in csv.DictReader(io.StringIO(order_csv(plan))) if r["unit"] != "remnant"]
    assert table[-1]["price"] == f"{Decimal(document['order']['total']):.2f}"
    sheet = openpyxl.load_workbook(io.BytesIO(order_xlsx(plan)), data_only=True).active
    workbook = {row[0]: row for row in sheet.iter_rows(values_only=True)}
    page = {line[0]: line for line in captioned(tables, "Order list")[1:]}
    paper = flat(order_pdf(plan))
    for row, line in zip(table, lines, strict=False):
        text = f"{Decimal(line['price']):.2f}" if line["price"] is not None else "missing"
        if document["job"]["units"] == "mm":
            assert row["description"] == line["description"]
        assert row["order"] == str(line["quantity"])
        assert row["price"] == text
        assert page[row["description"]][7] == text
        assert text in paper
        in_workbook = workbook[row["description"]]
        assert in_workbook[1] == line["quantity"]
        assert (
            (in_workbook[7] == "missing")
            if line["price"] is None
            else (Decimal(str(in_workbook[7])) == Decimal(line["price"]))
        )
        if line["kind"] in ("cable", "heat-shrink"):
            assert near(row["needed"].split(" (")[0], line["needed"])
        else:
            assert row["needed"] == str(line["needed"])


def test_current_and_drop_on_page_and_terminal(each):
    plan, document, tables = each
    summary = summary_text(plan)
    for line, share in zip(tables["Share of each string"][1:], document["shares"], strict=True):
        assert float(line[1]) == pytest.approx(share["current_a"], abs=0.005)
        assert float(line[2]) == pytest.approx(100 * share["share"], abs=0.005)
        assert float(line[3]) == pytest.approx(100 * share["departure"], abs=0.005)
        assert f"{share['current_a']:.1f} A, {100 * share['share']:.1f} %" in summary
    for load in document["loads"]:
        stages = tables[f"Drop on the way to {load['load']}, all strings in"][1:]
        assert [float(s[1]) / 1000 for s in stages] == pytest.approx([s["drop_v"] for s in load["stages"]], abs=5e-5)
        assert f"{100 * load['drop']:.2f} % at {load['load']}" in summary
    used_um = document["cut_plan"]["cut_um"]
    cable = re.search(r"cable +(.+?) in \d+ spools", summary).group(1)
    assert near(cable, used_um)


def test_findings_on_the_page(each):
    _, document, tables = each
    kinds = captioned(tables, "Every rule")[1:]
    assert sum(int(line[2]) for line in kinds) == len(document["findings"])
    alone = [line[:2] + line[3:] for line in kinds if line[2] == "1"]
    folded = [line for caption, lines in tables.items() if caption.startswith("Findings on") for line in lines[1:]]
    page = {(line[0], line[1]): line for line in [*alone, *folded]}
    assert len(page) == len(document["findings"])
    for finding in document["findings"]:
        line = page[finding["rule"], finding["item"]]
        assert line[3] == finding["message"]
        for text, value in ((line[4], finding["value"]), (line[5], finding["limit"])):
            if value is None:
                assert text == ""
            else:
                assert float(text.split()[0]) == pytest.approx(value, rel=5e-4)

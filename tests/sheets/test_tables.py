"""Cuts and order as CSV and XLSX, whole, in both unit systems.

The workshop bank's lengths, worked by hand. Two bends of radius 60 mm take off 2 (2 - pi/2) 60 = 51.504 mm of a run
with two right angles. A lug on M8 holds 31 mm beyond the conductor, one on M10 32 mm.

* Leads: the longest run is S2 negative, from (1160, 250, 240) up 710 to 950, across sqrt(680^2 + 230^2) = 717.844,
  down 150 to (480, 20, 800): 1577.844 - 51.504 = 1526.340; less 31 + 32: 1463.340, up to 1465 mm, or to
  461 eighths = 57 5/8 in.
* Inverter positive: up 200, across sqrt(1000^2 + 80^2) = 1003.195, down 400: 1603.195 - 51.504 - 63 = 1488.691, up to
  1490 mm, or 469 eighths = 58 5/8 in. Negative 100 shorter: 1388.691, up to 1390 mm, or 438 eighths = 54 3/4 in.
* Remainders, from 9400 without kerf or trim: black 9400 - 1465 = 7935, - 1465 = 6470, - 1390 = 5080; red 9400 - 1490 =
  7910, - 1465 = 6445, - 1465 = 4980, - 310 = 4670, - 310 = 4360.
* Jumpers: 3 x 140 - 51.504 - 62 = 306.496, up to 310 mm, or 97 eighths = 12 1/8 in.
"""

from __future__ import annotations

import csv
import io
from decimal import Decimal

import openpyxl
import pytest

from cutlist.sheets.order_rows import alternate_rows, sizes_text
from cutlist.sheets.order_sheet import order_pdf
from cutlist.sheets.page import plan_html
from cutlist.sheets.rows import cut_rows
from cutlist.sheets.tables_csv import cuts_csv, harmless, order_csv
from cutlist.sheets.termination_rows import termination_rows
from cutlist.sheets.workbook import order_xlsx
from tests.sheets.test_cut_sheet import flat
from tests.sheets.test_page import rows

CUTS_MM = """\
cut,spool,conductor,colour,tag,cable number,cable,string,pole,cut length mm,cut length ft in,A at,A lug,A strip,B at,B lug,B strip,B against A,heat-shrink,fuse,instead of,remains mm,done
1,Remnant 1 of 2: black end,50 mm2,black,S1 negative,6,S1 negative,S1,negative,1465,4 ft 9 3/4 in,S1b negative (M8),50 mm2 x M8,22 mm,"negative bus bar, stud 1 (M10)",50 mm2 x M10,22 mm,90° clockwise,"2 x 50 mm, shrink 19/6",,,7935,
2,Remnant 1 of 2: black end,50 mm2,black,S2 negative,8,S2 negative,S2,negative,1465,4 ft 9 3/4 in,S2b negative (M8),50 mm2 x M8,22 mm,"negative bus bar, stud 3 (M10)",50 mm2 x M10,22 mm,90° clockwise,"2 x 50 mm, shrink 19/6",,,6470,
3,Remnant 1 of 2: black end,50 mm2,black,inverter negative,7,inverter negative,,negative,1390,4 ft 6 3/4 in,"negative bus bar, stud 2 (M10)",50 mm2 x M10,22 mm,inverter negative (M8),50 mm2 x M8,22 mm,0°,"2 x 50 mm, shrink 19/6",,,5080,
4,Remnant 2 of 2: red end,50 mm2,red,inverter positive,4,inverter positive,,positive,1490,4 ft 10 3/4 in,"positive bus bar, stud 2 (M10)",50 mm2 x M10,22 mm,inverter positive (M8),50 mm2 x M8,22 mm,0°,"2 x 50 mm, shrink 19/6",,,7910,
5,Remnant 2 of 2: red end,50 mm2,red,S1 positive,3,S1 positive,S1,positive,1465,4 ft 9 3/4 in,S1a positive (M8),50 mm2 x M8,22 mm,"positive bus bar, stud 1 (M10)",50 mm2 x M10,22 mm,90° clockwise,"2 x 50 mm, shrink 19/6","150 A bolt-down, at battery",,6445,
6,Remnant 2 of 2: red end,50 mm2,red,S2 positive,5,S2 positive,S2,positive,1465,4 ft 9 3/4 in,S2a positive (M8),50 mm2 x M8,22 mm,"positive bus bar, stud 3 (M10)",50 mm2 x M10,22 mm,90° clockwise,"2 x 50 mm, shrink 19/6","150 A bolt-down, at battery",,4980,
7,Remnant 2 of 2: red end,50 mm2,red,S1 jumper,1,S1 jumper,S1,link,310,1 ft 0 1/4 in,S1a negative (M8),50 mm2 x M8,22 mm,S1b positive (M8),50 mm2 x M8,22 mm,0°,"2 x 50 mm, shrink 19/6",,,4670,
8,Remnant 2 of 2: red end,50 mm2,red,S2 jumper,2,S2 jumper,S2,link,310,1 ft 0 1/4 in,S2a negative (M8),50 mm2 x M8,22 mm,S2b positive (M8),50 mm2 x M8,22 mm,0°,"2 x 50 mm, shrink 19/6",,,4360,
"""  # noqa: E501

# Lugs: 6 ends on M10, 10 on M8 of which 4 on hand; packs of 10 at ten times the price of one. Heat-shrink: 16 ends of
# 50 mm out of one piece of 1.2 m. Fuses: two and a spare. Clamps: three on each of six cables, 6 on hand, packs of 25.
# Total 20.50 + 19.00 + 6.40 + 43.50 + 21.25 = 110.65.
ORDER_MM = {
    "50 mm2 black, on hand: black end": ("0", "4320 mm (14 ft 2 1/8 in)", "9400 mm (30 ft 10 in)", ""),
    "50 mm2 red, on hand: red end": ("0", "5040 mm (16 ft 6 3/8 in)", "9400 mm (30 ft 10 in)", ""),
    "lug 50 mm2 x M10": ("1", "6", "", "20.50"),
    "lug 50 mm2 x M8": ("1", "10", "4", "19.00"),
    "heat-shrink shrink 19/6, black": ("1", "800 mm (2 ft 7 1/2 in)", "", "6.40"),
    "fuse bolt-down 150 A": ("3", "3", "", "43.50"),
    "cushion clamp 14": ("1", "18", "6", "21.25"),
    "known prices": ("", "", "", "110.65"),
}


def read(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text)))


def test_cuts_in_mm_whole(plan):
    assert cuts_csv(plan).replace("\r\n", "\n") == CUTS_MM


def test_cuts_in_inches(inch_plan):
    lengths = {row["tag"]: (row["cut length ft in"], row["cut length mm"]) for row in read(cuts_csv(inch_plan))}
    assert lengths == {
        "S1 positive": ("4 ft 9 5/8 in", "1463.675"),
        "S1 negative": ("4 ft 9 5/8 in", "1463.675"),
        "S2 positive": ("4 ft 9 5/8 in", "1463.675"),
        "S2 negative": ("4 ft 9 5/8 in", "1463.675"),
        "inverter positive": ("4 ft 10 5/8 in", "1489.075"),
        "inverter negative": ("4 ft 6 3/4 in", "1390.65"),
        "S1 jumper": ("1 ft 0 1/8 in", "307.975"),
        "S2 jumper": ("1 ft 0 1/8 in", "307.975"),
    }


def test_a_fuse_in_the_lead_makes_two_pieces():
    from tests.sheets.sample import workshop_plan

    lines = {row["tag"]: row for row in read(cuts_csv(workshop_plan(in_line_fuse=True)))}
    # 200 mm to the fuse holder, the rest of the 1465 mm beyond it
    assert (lines["S1 positive 1"]["cut length mm"], lines["S1 positive 2"]["cut length mm"]) == ("200", "1265")
    assert lines["S1 positive 1"]["B at"] == lines["S1 positive 2"]["A at"] == "fuse holder (M8)"
    assert lines["S1 positive 1"]["B against A"] == "free"


def test_order_whole(plan):
    lines = {r["description"]: (r["order"], r["needed"], r["from stock"], r["price"]) for r in read(order_csv(plan))}
    assert lines == ORDER_MM


def test_a_missing_price_is_missing_not_nothing(priceless_plan):
    lines = read(order_csv(priceless_plan))
    assert {r["price"] for r in lines if r["kind"] != "total" and r["order"] != "0"} == {"missing"}
    assert lines[-1]["price"] == "0.00"
    assert lines[-1]["why"].startswith("missing prices: lug 50 mm2 x M10")


@pytest.mark.parametrize("text", ["=cmd()", "+1", "-x", "@a", " =1", "\t=1", "\r=1"])
def test_what_a_spreadsheet_would_run_is_made_text(text):
    assert harmless(text) == ("'" + text if not text.strip("+").isdigit() else text)


def test_hostile_names_stay_text_in_csv(hostile_plan):
    for text in (cuts_csv(hostile_plan), order_csv(hostile_plan)):
        cells = [cell for row in csv.reader(io.StringIO(text)) for cell in row]
        assert not [c for c in cells if c.startswith(("=", "+", "@", "-", "\t"))]
        assert any("<script>alert(1)</script>=cmd()|#import" in c for c in cells)


def sheet(data: bytes, values: bool):
    return openpyxl.load_workbook(io.BytesIO(data), data_only=values).active


def up_to_total(sheet) -> list:
    lines = list(sheet.iter_rows())
    return lines[: next(i for i, row in enumerate(lines) if str(row[0].value).startswith("Total")) + 1]


def test_workbook_sums_are_live_and_right(plan):
    data = order_xlsx(plan)
    values, formulas = (up_to_total(sheet(data, live)) for live in (True, False))
    heads = next(i for i, row in enumerate(values) if row[0].value == "What")
    lines = values[heads + 1 : -1]
    assert len(lines) == len(ORDER_MM) - 1
    total = Decimal(0)
    for row, live in zip(lines, formulas[heads + 1 : -1], strict=True):
        if row[7].value is None:
            continue
        price = Decimal(str(row[1].value)) * Decimal(str(row[6].value))
        assert Decimal(str(row[7].value)) == price
        assert live[7].value == f"=B{row[0].row}*G{row[0].row}"
        total += price
    assert Decimal(str(values[-1][7].value)) == total == plan.order.total == Decimal("110.65")
    assert formulas[-1][7].value == f"=SUM(H{heads + 2}:H{len(values) - 1})"


def test_hostile_names_stay_text_in_the_workbook(hostile_plan):
    cells = [cell for row in sheet(order_xlsx(hostile_plan), False).iter_rows() for cell in row]
    running = [c.value for c in cells if c.data_type == "f"]
    assert running
    assert all(str(f).startswith(("=B", "=SUM(H")) for f in running)
    assert any("=cmd()" in str(c.value) for c in cells if c.data_type != "f")


def test_no_two_cuts_carry_one_tag(large_plan):
    tags = [c.tag for s in cut_rows(large_plan) for c in s.cuts]
    assert len(set(tags)) == len(tags) == 92


def test_same_plan_same_bytes(plan):
    assert order_xlsx(plan) == order_xlsx(plan)


def test_other_ways_of_buying_are_on_page_paper_and_workbook(plan, priceless_plan):
    whole = ("whole spools only", "EUR 52.00 more", "10000 mm (32 ft 9 3/4 in) to buy")
    refused = ("70 mm2 instead of 50 mm2", "cannot be had", "no 70 mm2 red in stock")
    assert alternate_rows(plan) == (whole, refused)
    assert alternate_rows(priceless_plan)[0][1] == "not known: a price is missing"
    page = rows(plan_html(plan), "Other ways of buying the cable")[1:]
    assert [tuple(line) for line in page] == [whole, refused]
    lines = [tuple(v for v in row if v) for row in sheet(order_xlsx(plan), True).iter_rows(values_only=True)]
    assert lines[-2:] == [whole, refused]
    assert " ".join(whole) in flat(order_pdf(plan))


def test_sizes_are_given_in_both_systems(plan, inch_plan):
    """ASTM B258: 1/0 AWG is 8.2515 mm across, 53.5 mm2; 1 AWG 7.348 mm, 42.4 mm2."""
    assert sizes_text(plan) == "Sizes: 50 mm2 lies above 1 AWG (42.4 mm2) and below 1/0 AWG (53.5 mm2)."
    assert sizes_text(inch_plan) == "Sizes: 1/0 AWG is 53.5 mm2."


def test_who_works_in_feet_buys_in_feet():
    """A piece of heat-shrink of 1.2 m is 47.24 in long: 3 ft 11 1/4 in to the nearest mark."""
    from tests.sheets.sample import workshop_plan

    lines = read(order_csv(workshop_plan(strings=12, units="in")))
    bought = [(line["description"], line["unit"]) for line in lines if line["kind"] in ("cable", "heat-shrink")]
    assert ("heat-shrink shrink 19/6, black", "piece of 3 ft 11 1/8 in") in bought
    assert not [words for words in bought if " m" in words[1]]


@pytest.mark.parametrize("name", ["plan", "inch_plan", "large_plan", "hostile_plan"])
def test_every_cable_end_is_on_one_stud(name, request):
    plan = request.getfixturevalue(name)
    lines = termination_rows(plan)
    assert len({line.at for line in lines}) == len(lines)
    assert {line.at for line in lines} >= {end.at for c in plan.cables for end in (c.start, c.finish)}
    lugs = sorted(name for line in lines for name in line.stack if name != "free")
    assert lugs == sorted([c.name for c in plan.cables] * 2)


def test_a_fuse_in_a_lead_has_two_studs_with_a_piece_on_each():
    from tests.sheets.sample import workshop_plan

    lines = {line.at: (line.stud, line.stack) for line in termination_rows(workshop_plan(in_line_fuse=True))}
    # the sample's bolt-down fuse has M8 studs
    assert lines["fuse holder of S1, battery side"] == ("M8", ("S1 positive 1",))
    assert lines["fuse holder of S1, bus bar side"] == ("M8", ("S1 positive 2",))
    assert sum("fuse holder" in at for at in lines) == 4  # of two strings

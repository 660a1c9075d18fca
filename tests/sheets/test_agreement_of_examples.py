"""The parts that only a solved plan has - proofs, maps, comparisons, questions, bundles, rests - against plan.json.

All three examples, each in millimetres and in feet and inches; read back as a stranger would.
"""

from __future__ import annotations

import dataclasses
import io
import json
import math
import re
from collections import Counter
from decimal import Decimal
from types import SimpleNamespace

import openpyxl
import pytest

from cutlist.sheets.order_sheet import order_pdf
from cutlist.sheets.page import plan_html
from cutlist.sheets.plan_json import plan_text
from cutlist.sheets.summary import summary_text
from cutlist.sheets.workbook import order_xlsx
from tests.sheets.test_agreement import near, um_of
from tests.sheets.test_cut_sheet import flat
from tests.sheets.test_page import read

LENGTH = r"(?:\d+ mm|(?:\d+ ft )?\d+(?: \d/\d)? in|\d/\d in)"


@pytest.fixture(scope="module", params=["fen-station", "dredge-tender", "clinic-trailer"])
def solved(request, plan_of):
    return plan_of(request.param)


@pytest.fixture(scope="module", params=["mm", "in"])
def shown(request, solved):
    plan = dataclasses.replace(solved, job=dataclasses.replace(solved.job, units=request.param))
    html = plan_html(plan, "mark")
    page = read(html)
    return SimpleNamespace(
        plan=plan, document=json.loads(plan_text(plan)), html=html, tables=page.tables, words="".join(page.words)
    )


def lines_of(shown, caption: str) -> list[list[str]]:
    return next(lines[1:] for name, lines in shown.tables.items() if name.startswith(caption))


def close(text: str, value: float, digits: int) -> bool:
    """The figure at the front of the text is the value, rounded to so many digits."""
    figure = re.match(r"[+-]?\d+(?:\.\d+)?", text)
    return figure is not None and abs(float(figure[0]) - value) <= 0.5 * 10**-digits + 1e-9


def money(text: str) -> Decimal:
    return Decimal(re.search(r"-?\d+\.\d\d", text)[0])


def test_causes_of_uneven_sharing(shown):
    equality = shown.document["equality"]
    by_cause = {c["cause"]: c for c in equality["causes"]}
    for cause, alone, without, spread in lines_of(shown, "What makes the strings share unevenly"):
        assert close(alone, 100 * by_cause[cause]["alone"], 2)
        assert close(without, 100 * by_cause[cause]["without"], 2)
        assert spread == "" or close(spread, 1000 * by_cause[cause]["spread_ohm"], 3)
        del by_cause[cause]
    alike = re.search(r"Alike in all strings: (.+?)\.", shown.words)
    assert sorted(by_cause) == sorted(alike[1].split(", ")) if alike else not by_cause


def test_how_far_a_lead_may_be_off(shown):
    tolerance, chance = shown.document["equality"]["tolerance"], shown.document["equality"]["chance"]
    off = re.search(rf"Every lead may be ({LENGTH}) longer or shorter", shown.words)[1]
    assert near(off, tolerance["length_m"] * 1e6)
    assert f"leads may be {off} off" in summary_text(shown.plan)
    told = re.search(r"Of (\d+) banks .*? ([\d.]+) % have .*?95 % sure: ([\d.]+) to ([\d.]+) %", shown.words)
    assert int(told[1]) == chance["samples"]
    for text, name in zip(told.groups()[1:], ("chance", "low", "high"), strict=True):
        assert close(text, 100 * chance[name], 2)


def test_a_string_out_and_put_back(shown):
    what_if = shown.document["what_if"]
    for line, i in zip(lines_of(shown, "A string out of service"), what_if["isolated"], strict=True):
        assert line[0] == i["string"]
        assert close(line[1], max(i["currents_a"].values(), key=abs), 1)
        assert close(line[2], 100 * i["rise"], 1)
        assert close(line[3], 100 * i["drop"], 2)
        assert (line[4] == "none") == (not i["failing"])
    if what_if["rejoined"]:
        put_back = lines_of(shown, "A string put back")
        for line, r in zip(put_back, what_if["rejoined"], strict=True):
            assert line[0] == r["string"]
            assert close(line[1], 100 * r["soc"], 0)
            assert close(line[3], r["current_a"], 0)
            assert line[4] == ("none" if r["fuse_a"] is None else f"{r['fuse_a']:g}")
            assert close(line[5], 100 * r["safe_difference"], 0)


def test_a_bad_crimp_and_one_string_more(shown):
    what_if = shown.document["what_if"]
    for line, j in zip(lines_of(shown, "One bad crimp"), what_if["joints"], strict=True):
        assert line[0] == j["cable"]
        assert close(line[1], 1000 * j["extra_ohm"], 3)
        assert close(line[2], j["largest_over_smallest"], 3)
        assert close(line[3], j["before"], 3)
        assert close(line[4], 1000 * j["reading_v"], 1)
        assert close(line[5], j["heat_w"], 2)
        assert close(line[6], 100 * j["drop"], 2)
    for line, f in zip(lines_of(shown, "One string more"), what_if["further"], strict=True):
        assert (line[0] == "holds") == f["target_holds"]
        assert f["target_holds"] or near(line[0].removesuffix(" short"), f["short_by_m"] * 1e6)
        assert line[1] == ", ".join(f"{bar}: {count}" for bar, count in f["free_studs"].items())


def test_ways_compared(shown):
    for kind, caption in (("policy", "Ways of matching"), ("connection", "Ways of connecting")):
        ways = [c for c in shown.document["compared"] if c["kind"] == kind]
        assert ways
        for line, way in zip(lines_of(shown, caption), ways, strict=True):
            assert line[0] == way["name"] + (" (this plan)" if way["chosen"] else "")
            assert close(line[1], 100 * way["worst_departure"], 2)
            assert way["worst_string"] in line[1]
            assert close(line[2], way["largest_over_smallest"], 3)
            assert close(line[3], 100 * way["drop"], 2)
            assert near(line[4], way["lead_m"] * 1e6)
            assert near(line[5], way["cable_m"] * 1e6)
            assert line[6] == ("missing" if way["cost"] is None else f"{Decimal(way['cost']):.2f}")
            if len(line) > 7 and way["drift"] is not None:
                assert close(line[7], 100 * way["drift"]["after_discharge"], 2)
                assert close(line[8], 100 * way["drift"]["after_charge"], 2)


def test_other_ways_of_buying_everywhere(shown):
    alternates = shown.document["alternates"]
    assert alternates
    page, paper = lines_of(shown, "Other ways of buying"), flat(order_pdf(shown.plan, "mark"))
    book = openpyxl.load_workbook(io.BytesIO(order_xlsx(shown.plan)), data_only=True)
    cells = {str(cell) for sheet in book for row in sheet.iter_rows(values_only=True) for cell in row}
    for (name, cost, means), a in zip(page, alternates, strict=True):
        assert name == a["name"]
        assert name in paper
        assert name in cells
        if a["why_not"]:
            assert (cost, means) == ("cannot be had", a["why_not"])
        elif a["difference"] is None:
            assert cost == "not known: a price is missing"
        elif Decimal(a["difference"]) == 0:
            assert cost == "the same"
        else:
            assert money(cost) == abs(Decimal(a["difference"])).quantize(Decimal("0.01"))
            assert cost.endswith("more" if Decimal(a["difference"]) > 0 else "less")
            assert cost in paper
        if not a["why_not"]:
            assert near(means.split(" (")[0], a["bought_um"])


def test_proof_of_the_places(shown):
    proof = shown.document["place_proof"]
    if proof["gap"] is None:
        assert not [name for name in shown.tables if name.startswith("Places of the bus bars")]
        return
    (line,) = lines_of(shown, "Places of the bus bars")
    if proof["cost"] is not None:
        assert money(line[0]) == Decimal(proof["cost"]).quantize(Decimal("0.01"))
        assert money(line[1]) == Decimal(proof["least_cost"]).quantize(Decimal("0.01"))
        above = float(1 - Decimal(proof["least_cost"]) / Decimal(proof["cost"]))
        assert close(line[2], 100 * max(above, 0.0), 2)
    else:
        assert near(line[0], proof["bought_um"])
        assert near(line[1], proof["least_bought_um"])
    assert line[3] == proof["speaks_of"]
    assert [int(line[4]), int(line[5])] == [proof["cells_examined"], proof["cells_left"]]
    assert near(line[6], proof["finest_m"] * 1e6)
    assert (line[7] == "yes") == (proof["checked"] and not proof["faults"])
    assert f"no other can save more than {100 * proof['gap']:.1f} %" in summary_text(shown.plan)


def test_what_deciding_together_saves(shown):
    saving = shown.document["place_saving"]
    if saving is None or saving["cost"] is None:
        pytest.skip("nothing naive can be built there, or no price is known")
    for pole in ("naive_positive", "naive_negative"):
        assert (
            saving[pole]["face"]
            in re.search(r"against bars +at the middles? of (.*) first face of", summary_text(shown.plan))[1]
        )
        assert re.search(rf"Against bus bars at the middles? of [^;]*{saving[pole]['face']}", shown.words)
    less = Decimal(saving["naive_cost"]) - Decimal(saving["cost"])
    laid_um = saving["naive_laid_um"] - saving["laid_um"]
    for text in (shown.words, summary_text(shown.plan)):
        told = re.search(rf"(\d+\.\d\d) (less|more) \((-?[\d.]+) %\), ({LENGTH}) of cable laid (less|more)", text)
        assert Decimal(told[1]) == abs(less).quantize(Decimal("0.01"))
        assert (told[2] == "less") == (less >= 0)
        assert close(told[3], float(100 * less / Decimal(saving["naive_cost"])), 1)
        assert near(told[4], abs(laid_um))
        assert (told[5] == "less") == (laid_um >= 0)


def test_proof_of_the_cuts(shown):
    groups = shown.document["cut_plan"]["groups"]
    for line, group in zip(lines_of(shown, "Cutting, each group"), groups, strict=True):
        assert line[:2] == [group["name"], str(group["pieces"])]
        if group["by"] == "money":
            assert money(line[2]) == Decimal(group["cost"]).quantize(Decimal("0.01"))
            assert money(line[3]) == Decimal(group["least_cost"]).quantize(Decimal("0.01"))
        else:
            assert near(line[2], float(group["cost"]) * 1e6)
            assert near(line[3], float(group["least_cost"]) * 1e6)
        assert line[4].startswith("nothing") == (Decimal(group["cost"]) == Decimal(group["least_cost"]))
        assert line[5] == group["how_proved"]


def test_maps_of_the_faces(shown):
    """Each place of a face once, the cheaper where two turns of the bar share it."""
    cheapest: dict[tuple, dict] = {}
    for c in shown.document["face_costs"]:
        at = (c["face"], c["pole"], round(1000 * c["along_m"], 1), round(1000 * c["up_m"], 1))
        cost = (bool(c["limit"]), c["cost"] is None, Decimal(c["cost"] or 0), c["target_m"] or math.inf)
        if at not in cheapest or cost < cheapest[at]["rank"]:
            cheapest[at] = {**c, "rank": cost}
    section = shown.html[shown.html.index('id="places"') : shown.html.index('id="proof"')]
    figures = re.findall(r"<figure>.*?</figure>", section, re.DOTALL)
    by_cable = [f for f in figures if "cable of leads and the feeders at the bus bars of each place" in f]
    maps = "".join(f for f in figures if f not in by_cable)
    titles = re.findall(r'<g class="(tried|refused)"><title>(.*?)</title>', maps)
    assert sorted(titles) == sorted(re.findall(r'<g class="(tried|refused)"><title>(.*?)</title>', "".join(by_cable)))
    assert len(titles) == len(cheapest)
    assert sum(kind == "refused" for kind, _ in titles) == sum(bool(c["limit"]) for c in cheapest.values())
    told = [
        re.match(rf"cost (\d+\.\d\d|missing), target ({LENGTH})", words) for kind, words in titles if kind == "tried"
    ]
    assert all(told)
    costs = [c for c in cheapest.values() if not c["limit"]]
    amounts = ["missing" if c["cost"] is None else f"{Decimal(c['cost']):.2f}" for c in costs]
    assert Counter(t[1] for t in told) == Counter(amounts)
    marks_um = 1000 if shown.plan.job.units == "mm" else 3175
    lengths = sorted(float(um_of(t[2])) for t in told)
    assert lengths == pytest.approx(sorted(c["target_m"] * 1e6 for c in costs), abs=marks_um / 2 + 1e-3)
    for face, pole in {(c["face"], c["pole"]) for c in costs}:
        known = sorted(Decimal(c["cost"]) for c in costs if (c["face"], c["pole"]) == (face, pole) and c["cost"])
        caption = re.search(rf"<figcaption>{pole.capitalize()} bus bar on {re.escape(face)}: .*?</figcaption>", maps)[0]
        if known:
            low, high = f"{known[0]:.2f}", f"{known[-1]:.2f}"
            assert (f"all {low}" if low == high else f"from {low} (pale) to {high} (dark)") in caption
    shown_cables = [re.search(rf", cable ({LENGTH})", words)[1] for kind, words in titles if kind == "tried"]
    cables = sorted(float(um_of(text)) for text in shown_cables)
    assert cables == pytest.approx(sorted(c["laid_um"] for c in costs), abs=marks_um / 2 + 1e-3)


def test_other_places(shown):
    """The tables of the best different pairs, of moves and of the next step hold the figures of the document."""
    found = shown.document["landscape"]
    units = shown.plan.job.units
    caption = next(c for c in shown.tables if c.startswith("The best different pairs of places"))
    lines = shown.tables[caption][1:]
    assert len(lines) == len(found["options"])
    marks_um = 1000 if units == "mm" else 3175
    for line, option in zip(lines, found["options"], strict=True):
        assert line[1] == f"{Decimal(option['cost']):.2f}"
        assert float(line[2]) == pytest.approx(option["drop_v"], abs=5.1e-4)
        for cell, um in (
            (line[3], 1e6 * option["longest_run_m"]),
            (line[4], option["laid_um"]),
            (line[5], option["bought_um"]),
            (line[6], 1e6 * option["surplus_m"]),
            (line[7], 1e6 * option["height_m"]),
            (line[8], 1e6 * option["free_m"]),
        ):
            assert float(um_of(cell)) == pytest.approx(um, abs=marks_um / 2 + 1e-3)
        assert line[9] == option["binds"]
    moved = next(rows for c, rows in shown.tables.items() if c.startswith("One bus bar moved"))[1:]
    for line, move in zip(moved, found["moves"], strict=True):
        assert line[2] == (move["why_not"] or f"{Decimal(move['more']):.2f} more")


def test_what_is_kept_and_what_is_scrap(shown):
    cuts = shown.document["cut_plan"]
    kept = [s for s in cuts["spools"] if s["kept"] and s["remains_um"]]
    if kept:
        table = lines_of(shown, "What is kept")
        for line, spool in zip(table, kept, strict=True):  # no more than there is, by less than a mark
            mark_um = 1000 if line[2].endswith("mm") else 3175
            assert 0 <= spool["remains_um"] - float(um_of(line[2])) < mark_um
    scrap_um = sum(
        s["length_um"] - sum(c["length_um"] for c in s["cuts"]) - (s["remains_um"] if s["kept"] else 0)
        for s in cuts["spools"]
    )
    assert scrap_um == cuts["waste_um"]
    told = re.search(rf"Scrap({LENGTH})", shown.words)[1]
    assert near(told, scrap_um)
    assert re.search(rf"waste +{told}\b", summary_text(shown.plan))
    cut, bought = re.search(rf"Cable cut, bought({LENGTH}), ({LENGTH})", shown.words).groups()
    assert near(cut, sum(c["length_um"] for s in cuts["spools"] for c in s["cuts"]))
    assert near(bought, sum(s["length_um"] for s in cuts["spools"] if s["kind"] != "remnant"))


def test_bundles_and_what_a_run_lies_along(shown):
    for line, cable in zip(lines_of(shown, "Laying"), shown.document["cables"], strict=True):
        path, _, bundle = line[3].partition(". In a bundle ")
        if not cable["company"]:
            assert bundle == ""
        else:
            parts = re.findall(rf"between ({LENGTH}) and ({LENGTH}) with ", bundle)
            assert near(parts[0][0], min(c["from_m"] for c in cable["company"]) * 1e6)
            assert near(parts[-1][1], max(c["to_m"] for c in cable["company"]) * 1e6)
            names = {name for part in bundle.split("; ") for name in part.split(" with ")[1].split(", ")}
            assert names == {c["other"] for c in cable["company"]}
        structures = {b["structure"] for b in cable["beside"]} | {c["structure"] for c in cable["laid"]["clamps"]}
        for name in re.findall(rf"along (.+?)(?=, (?:{'|'.join(DIRECTIONS)})|$)", path):
            assert name in structures
        for name in re.findall(rf"through (.+?)(?=, (?:{'|'.join(DIRECTIONS)})| along|, all along|$)", path):
            assert name in cable["laid"]["penetrations"]


DIRECTIONS = ("up", "down", "left", "right", "in", "out")


def test_bus_bars_and_terminal(shown):
    text = summary_text(shown.plan)
    for bar in shown.document["bars"]:
        place = re.search(rf"{bar['bar']['pole']} bar +(.+)", text)[1]
        assert place in shown.words
        centre, _, first_stud = place.partition("; stud 1 at ")
        if shown.plan.job.units == "mm":
            figures = re.findall(r"\b[xyz] (-?\d[^,]*)", centre)
            assert [int(f) for f in figures] == [round(1000 * v) for v in bar["place"]["centre"]]
            back_m = (bar["bar"]["studs"] - 1) / 2 * bar["bar"]["pitch_m"]
            ends = zip("xyz", bar["place"]["centre"], bar["place"]["along"], strict=True)
            told = [f"{axis} {round(1000 * (at - back_m * way))}" for axis, at, way in ends if abs(back_m * way) > 5e-4]
            assert first_stud == ", ".join(told)
    shortest, longest = re.search(rf"surplus +({LENGTH}) to ({LENGTH})", text).groups()
    surplus = [c["surplus_m"] * 1e6 for c in shown.document["cables"] if c["kind"] == "lead"]
    assert near(shortest, min(surplus))
    assert near(longest, max(surplus))

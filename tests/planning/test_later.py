"""Strings still to come: long enough now against made anew then, by hand; studs kept; faults in what is written."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest

import cutlist
from cutlist.layout.cable_ends import cable_tasks
from cutlist.layout.place_check import faults_in_places
from cutlist.plan_types import Plan
from cutlist.planning.searched_places import searched_places
from cutlist.progress import silent
from cutlist.sheets.order_rows import assumptions
from cutlist.sheets.page import plan_html
from cutlist.sheets.plan_json import plan_dict
from cutlist.sheets.summary import summary_text
from tests.job.broken import read_broken, sentences
from tests.test_hand_worked_job import JOB, STOCK

POLICY = """policy:
  string fuse: none
  one string out: yes
  round up: 5 mm
"""
NAMED = """  later strings:
    - name: S3
      positive: {at: [-2000, 40, 0], lug: +x, stud: M8, stud points: up}
      negative: {at: [-1400, 40, -500], lug: +x, stud: M8, stud points: up}
"""


def planned(folder: Path, policy: str, stock: str = STOCK) -> Plan:
    """The hand-worked job with a fourth stud on each bar, and this at the end of its policy."""
    text = JOB[: JOB.index("policy:")].replace("studs: 3", "studs: 4") + POLICY + policy
    (folder / "job.yaml").write_text(text, encoding="utf-8")
    (folder / "stock.yaml").write_text(stock, encoding="utf-8")
    made = cutlist.make_plan(*cutlist.read_job(folder / "job.yaml"))
    assert isinstance(made, Plan)
    return made


def test_now_against_then_worked_by_hand(tmp_path: Path) -> None:
    """Today's leads 1160 mm, feeders 560 mm (tests/test_hand_worked_job.py). S3 positive: stud 4 lies 60 mm beside the
    middle, 20 mm beside its terminal: sqrt(2000^2 + 20^2) = 2000.1 mm, less 44 mm in the lugs, up to 1960 mm.

    Now: red 2 x 1960 + 560 = 4480 mm, still one reel of 5 m; black 4480 mm, 5 m instead of 2880 mm, 3 m: 2 x 7.25 more.
    Then: of the reel's rest (2111 mm, scrap here) nothing is left; red 2 x 1960 = 3920 mm, a reel, 31.00; black 4 m,
    29.00; 8 lugs: today's order took 10 for 8 beyond the 4 on hand, 2 are left, 6 more are 2 packs of 5, 11.00.
    """
    plan = planned(tmp_path, NAMED)
    later = plan.later_leads
    assert later is not None
    assert (later.target_um, later.long_target_um, later.longest) == (1_160_000, 1_960_000, "S3 positive")
    assert later.remade == ("S1 positive", "S1 negative", "S2 positive", "S2 negative")
    assert (later.more_um, later.more_now) == (4 * 800_000, Decimal("14.50"))
    assert (later.remade_um, later.remade_then) == (4 * 1_960_000, Decimal("71.00"))
    assert not later.lengthened
    assert plan.target_um == 1_160_000
    assert [len(use) for use in plan.bars[0].stud_use].count(0) == 1  # the stud kept for S3
    for text in (summary_text(plan), plan_html(plan), "\n".join(assumptions(plan))):
        assert "Long enough now: crowns 14.50 more" in text
        assert "4 leads for crowns 71.00" in text
    assert plan_dict(plan)["later_leads"]["remade_then"] == "71.00"


def test_what_is_left_over_serves_then(tmp_path: Path) -> None:
    """Rests of 1 m and more are kept: of the red reel 5000 - 2880 - 3 x 3 = 2111 mm, which yields one of the two leads.

    A reel of 2 m for 16.00 then yields the other; today two of them are dearer than the long one.
    """
    stock = STOCK.replace("cutting: {kerf: 3 mm}", "cutting: {kerf: 3 mm, keep above: 1 m}")
    stock = stock.replace("price: 31.00}]", "price: 31.00}, {label: short reel, length: 2 m, price: 16.00}]")
    later = planned(tmp_path, NAMED, stock).later_leads
    assert later is not None
    assert later.remade_then == Decimal("71.00") - 31 + 16


def test_lengthened_now(tmp_path: Path) -> None:
    """The plan's own leads have the long length, and its order is dearer by just what the other plan says."""
    (tmp_path / "short").mkdir()
    short, long = planned(tmp_path / "short", NAMED), planned(tmp_path, NAMED + "  lengthen now: yes\n")
    assert long.target_um == 1_960_000
    assert {sum(cut.length_um for cut in lead.cuts) for lead in long.leads} == {1_960_000}
    assert [lead.name for lead in long.leads] == [lead.name for lead in short.leads]  # none is bought for S3
    assert long.order.total - short.order.total == Decimal("14.50")
    assert long.later_leads is not None
    assert short.later_leads is not None
    assert (long.later_leads.more_now, long.later_leads.remade_then) == (Decimal("14.50"), Decimal("71.00"))
    # the drop told beforehand is that of the plan so made; it lies a little higher where cables warm each other more
    assert short.later_leads.drop == pytest.approx(max(load.drop for load in long.loads), rel=0.01)


def test_near_enough(tmp_path: Path) -> None:
    """1100 mm: S3's leads are shorter than today's 1160 mm."""
    plan = planned(tmp_path, NAMED.replace("-2000, 40", "-1100, 40").replace("-1400", "-1100"))
    assert plan.later_leads is not None
    assert plan.later_leads.remade == ()
    assert (plan.later_leads.more_now, plan.later_leads.remade_then) == (0, 0)
    assert "none would have to be made anew" in summary_text(plan)


def test_only_their_number(tmp_path: Path) -> None:
    plan = planned(tmp_path, "  later strings: 1\n")
    assert plan.later_leads is None
    assert plan.job.positive_bar.reserved_studs == 1
    assert "Where they will end is not said" in summary_text(plan)


END_WALL = (
    "  one string out: yes",
    "  lengthen now: yes\n  later strings:\n    - name: C\n"
    "      positive: {at: [300, 100, 255], lug: level, stud: M8}\n"
    "      negative: {at: [400, 100, 255], lug: level, stud: M8}\n  one string out: yes",
)


def test_the_search_for_places_counts_them(tmp_path: Path) -> None:
    """Its answer keeps every rule by layout/place_check.py; later strings have studs, and the target reaches them."""
    read = read_broken(tmp_path, (END_WALL,))
    assert sentences(read.faults) == []
    assert read.job is not None
    assert read.stock is not None
    searched = searched_places(read.job, read.stock, cable_tasks(read.job), silent)
    assert not isinstance(searched, str)
    problem, best = searched.question.problem, searched.found.best
    assert [string.name for string in problem.strings if string.later] == ["C"]
    assert best is not None
    assert faults_in_places(problem, searched.found) == []
    assert dict(best.positive.string_studs).keys() == {"A", "B", "C"}
    # straight from C's positive end to the bar's row of studs, the least its lead can be
    assert best.target_m > 1.75 - 0.3
    assert searched.costs.leads_bought == 2


@pytest.mark.parametrize(
    ("edit", "words"),
    [
        (("  one string out: yes", "  lengthen now: yes\n  one string out: yes"), "where these will end is not said"),
        (("  one string out: yes", "  later strings: 40\n  one string out: yes"), "free studs hold"),
        ((END_WALL[0], END_WALL[1].replace("name: C", "name: A")), 'later string "A" has a name that line'),
        ((END_WALL[0], END_WALL[1].replace("[300, 100, 255]", "[600, 100, 555]")), 'lies inside "inverter"'),
        ((END_WALL[0], END_WALL[1].replace("positive:", "plus:")), '"plus" is no key of a later string'),
    ],
)
def test_faults(tmp_path: Path, edit: tuple[str, str], words: str) -> None:
    read = read_broken(tmp_path, (edit,))
    assert read.job is None
    assert any(words in sentence for sentence in sentences(read.faults))


def test_too_few_studs_kept(tmp_path: Path) -> None:
    """One stud of at most two lugs is kept, for three strings."""
    edits = (
        (
            "    rating: 250 A\n    on: [end wall]",
            "    rating: 250 A\n    reserved: 1\n    lugs per stud: 2\n    on: [end wall]",
        ),
        ("  one string out: yes", "  later strings: 3\n  one string out: yes"),
    )
    faults = sentences(read_broken(tmp_path, edits).faults)
    assert any("3 later strings, but on 1 stud kept for that there is room for 2 lugs" in words for words in faults)


def test_the_schema_knows_both_forms() -> None:
    from cutlist.job.job_keys import JOB as KEYS

    later = KEYS.schema()["properties"]["policy"]["properties"]["later strings"]
    assert [form["type"] for form in later["anyOf"]] == ["integer", "array"]

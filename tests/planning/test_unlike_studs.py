"""Whole plans with unlike studs: every lug on a stud it is listed for, from the search to the order list."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import pytest

import cutlist
from cutlist.plan_types import Plan
from cutlist.sheets.plan_json import plan_schema, plan_text
from cutlist.sheets.summary import summary_text
from cutlist.sheets.termination_rows import termination_rows
from tests.job.broken import Edit, write_job
from tests.job.unlike_studs import JOB, STOCK

POSITIVE_AT = ("    on: [end wall]\n", "    at: {centre: [1750, 460, 380], along: -y, out: -x}\n")
NEGATIVE_AT = ("on: [end wall]}", "at: {centre: [1750, 300, 480], along: -y, out: -x}}")


def plan_of_job(folder: Path, *more: Edit, stock: tuple[Edit, ...] = STOCK) -> Plan:
    found = cutlist.make_plan(*cutlist.read_job(write_job(folder, (*JOB, *more), stock)))
    assert isinstance(found, Plan), found
    return found


@pytest.fixture(scope="module")
def plan(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    turned = ("    on: [end wall]\n", "    on: [end wall]\n    turns: [0 deg, 90 deg, 180 deg, 270 deg]\n")
    return plan_of_job(tmp_path_factory.mktemp("unlike"), turned)


def assert_every_lug_fits(plan: Plan) -> None:
    threads = {(b.bar.name, i): t for b in plan.bars for i, t in enumerate(b.bar.threads, start=1)}
    on_bars = 0
    for cable in plan.cables:
        for end in (cable.start, cable.finish):
            assert end.lug is not None
            assert (end.lug.conductor, end.lug.stud) == (cable.conductor.name, end.stud)
            bar, _, number = end.at.partition(", stud ")
            if number:
                assert end.stud == threads[bar, int(number)]
                on_bars += 1
    assert on_bars == 6  # four leads, two feeders
    assert not [f for f in plan.findings if f.rule == "lug fits conductor and stud"]


def test_the_thick_feeder_lands_on_the_thick_stud(plan: Plan) -> None:
    assert_every_lug_fits(plan)
    use = {b.bar.pole: b.stud_use for b in plan.bars}
    assert use["positive"][0] == ("fuse feeder",)
    assert use["negative"][3] == ("inverter negative",)


def test_places_studs_and_conductors_are_searched_together_with_a_proof_that_was_replayed(plan: Plan) -> None:
    proof = plan.place_proof
    assert proof is not None
    assert proof.searched
    assert proof.faults == ()
    assert proof.cost is not None
    assert proof.least_cost is not None
    assert proof.least_cost <= proof.cost


def test_sheets_tell_the_thread_of_each_stud(plan: Plan) -> None:
    rows = {row.at: row for row in termination_rows(plan)}
    assert [rows[f"positive bus bar, stud {i}"].stud for i in (1, 2, 3, 4)] == ["M10", "M8", "M8", "M8"]
    assert rows["negative bus bar, stud 4"].stack == ("inverter negative",)
    assert "; studs M10, M8, M8, M8" in summary_text(plan)
    lugs = {line.description for line in plan.order.lines if line.kind == "lug"}
    assert {lug for lug in lugs if "M10" in lug} == {"lug 70 mm2 x M10"}
    told = json.loads(plan_text(plan))
    jsonschema.validate(told, plan_schema())


def test_fixed_bars_are_wired_alike(tmp_path: Path) -> None:
    plan = plan_of_job(tmp_path, POSITIVE_AT, NEGATIVE_AT)
    assert_every_lug_fits(plan)
    assert plan.bars[0].stud_use[0] == ("fuse feeder",)


def test_a_thinner_feeder_that_fits_nowhere_is_not_chosen(tmp_path: Path) -> None:
    """Feeders of 35 mm² would carry 60 A, but the devices' studs are M10 and no 35 mm² lug is listed for them: with the
    feeders' conductor left open 70 mm² is chosen, as with like studs, and goes to M10 on the bars."""
    open_ = ("  feeder conductors: [70 mm2]\n", "")
    plan = plan_of_job(tmp_path, POSITIVE_AT, NEGATIVE_AT, open_)
    assert {c.conductor.name for c in plan.cables if c.kind == "feeder"} == {"70 mm2"}
    assert_every_lug_fits(plan)


def test_a_lead_kept_for_later_goes_on_a_stud_that_takes_it(tmp_path: Path) -> None:
    later = (
        "  one string out: yes",
        "  later strings:\n    - {name: C, positive: {at: [1170, 250, 255], lug: level, stud: M8}, "
        "negative: {at: [1380, 250, 255], lug: level, stud: M8}}\n  lengthen now: yes\n  one string out: yes",
    )
    plan = plan_of_job(tmp_path, later)
    assert_every_lug_fits(plan)
    for placed in plan.bars:
        free = [i for i, use in enumerate(placed.stud_use) if not use]
        assert [placed.bar.threads[i] for i in free] == ["M8"]
    assert not [f for f in plan.findings if f.rule == "studs kept for later strings"]


def test_places_of_a_grid_keep_to_the_studs_too(tmp_path: Path) -> None:
    """Matched by resistance places are looked for on a grid, without a bound."""
    match = ("match: all leads alike", "match: equal resistance")
    turned = ("    on: [end wall]\n", "    on: [end wall]\n    turns: [0 deg, 180 deg]\n")
    plan = plan_of_job(tmp_path, match, turned)
    assert plan.place_proof is not None
    assert not plan.place_proof.searched
    assert_every_lug_fits(plan)


def test_leads_that_go_on_any_stud_leave_the_thick_one_to_the_feeder(tmp_path: Path) -> None:
    """With a dearer 35 mm² lug for M10 beside that for M8 every stud takes a lead; the bound counts the cheaper lug,
    what is built its own."""
    dear = ("pack: 10, on hand: 6}\n", "pack: 10, on hand: 6}\n  - {conductor: 35 mm2, stud: M10, strip: 17 mm, "
            "hole to stop: 21 mm, hole to skin: 39 mm, price: 9.95}\n")  # fmt: skip
    both = ("  feeder conductors: [70 mm2]\n", "  lead conductors: [35 mm2]\n")
    plan = plan_of_job(tmp_path, both, stock=(dear, *STOCK))
    assert_every_lug_fits(plan)
    proof = plan.place_proof
    assert proof is not None
    assert proof.faults == ()
    assert proof.cost is not None
    assert proof.least_cost is not None
    assert proof.least_cost <= proof.cost

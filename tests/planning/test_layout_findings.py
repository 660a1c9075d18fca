"""Limits of the job file that speak of runs are held against the runs, and said."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

import cutlist
from cutlist.bank.job import Job
from cutlist.bank.stock import Stock
from cutlist.layout.run_lengths import straight_m
from cutlist.plan_types import Plan
from tests.planning.test_routed_places import POST, small_job

FEN = Path(__file__).parent.parent.parent / "examples" / "fen-station" / "job.yaml"


@pytest.fixture(scope="module")
def fen() -> tuple[Job, Stock]:
    return cutlist.read_job(FEN)


def test_missing_clamps_fail_and_too_full_a_hole_fails(fen: tuple[Job, Stock], plan_of: Callable[[str], Plan]) -> None:
    """Ten cables of 14.5 mm fill 10 pi/4 14.5^2 = 1651 mm2 of the hole's pi/4 110^2 = 9503 mm2: 17.4 %.

    So a limit of 40 % holds and one of 15 % does not. Where nothing takes a clamp, cables of 2 m have none.
    """
    job, stock = fen
    space = job.site.space
    (hole,) = space.penetrations
    bare = {
        "obstacles": tuple(replace(o, clampable=False) for o in space.obstacles),
        "compartments": tuple(replace(c, clampable=False) for c in space.compartments),
    }
    tight = replace(job.site, space=replace(space, penetrations=(replace(hole, fill_limit=0.15),), **bare))
    places = {b.bar.name: b.place for b in plan_of("fen-station").bars}  # good enough here, and not looked for again
    bars = tuple(replace(b, places=(places[b.name],), faces=()) for b in job.bus_bars)
    asked = replace(job, site=tight, bus_bars=bars, limits=replace(job.limits, support_m=0.45, clamp_reach_m=0.04))
    plan = cutlist.make_plan(asked, stock)
    assert isinstance(plan, Plan)
    support = [f for f in plan.findings if f.rule == "support"]
    assert support
    assert all(f.status == "fail" and "have no clamp" in f.message for f in support)
    fill = [f for f in plan.findings if f.rule == "cables fit the hole"]
    assert [f.status for f in fill] == ["fail"]
    assert "wall hole" in fill[0].message
    assert "17" in fill[0].message


def test_what_is_not_asked_is_not_claimed(plan_of: Callable[[str], Plan]) -> None:
    findings = plan_of("fen-station").findings
    assert [f for f in findings if f.rule == "support"] == []
    assert [f.status for f in findings if f.rule == "cables fit the hole"] == ["pass"]


def test_a_lug_that_stock_does_not_list_still_leaves_its_stud_straight(tmp_path: Path) -> None:
    """30 mm (common practice, no published source); without any a cable would bend at the stud itself."""
    job, stock = small_job(tmp_path, POST, (60, 40))
    bare = replace(stock, lugs=())
    conductor = stock.conductors[0]
    assert straight_m(job, stock, ["M8", "M8"], conductor) == pytest.approx(0.03 + job.policy.relief_m)
    assert straight_m(job, bare, ["M8", "M8"], conductor) == pytest.approx(0.03 + job.policy.relief_m)
    plan = cutlist.make_plan(job, bare)
    assert isinstance(plan, Plan)
    (finding,) = [f for f in plan.findings if f.rule == "lug fits conductor and stud"]
    assert "goes straight on for 30 mm" in finding.message

"""A fuse in the lead: two pieces, two more lugs for each string, and a word when it cannot be built so."""

from __future__ import annotations

from dataclasses import replace

import pytest

import cutlist
from cutlist.bank.job import Job
from cutlist.bank.stock import Stock
from cutlist.job.starter import write_starter
from cutlist.plan_types import Plan
from cutlist.sheets.order_rows import order_rows


@pytest.fixture(scope="module")
def starter(tmp_path_factory: pytest.TempPathFactory) -> tuple[Job, Stock]:
    folder = tmp_path_factory.mktemp("starter") / "locker"
    write_starter(folder)
    return cutlist.read_job(folder / "job.yaml")


def planned(starter: tuple[Job, Stock], at_m: float) -> Plan:
    job, stock = starter
    plan = cutlist.make_plan(
        replace(job, policy=replace(job.policy, string_fuse="in line", string_fuse_distance_m=at_m)), stock
    )
    assert isinstance(plan, Plan)
    return plan


@pytest.fixture(scope="module")
def plan(starter: tuple[Job, Stock]) -> Plan:
    return planned(starter, 0.150)


def test_every_end_on_the_cut_sheet_is_on_the_order(plan: Plan) -> None:
    """9 cables of 2 ends, and 2 of them cut in two with an end more on either side of the fuse: 18 + 4 = 22 lugs."""
    pieces = [cut for cable in plan.cables for cut in cable.cuts]
    assert len(pieces) == 11
    assert sum(line.needed for line in plan.order.lines if line.kind == "lug") == 2 * len(pieces) == 22
    shrink_um = sum(line.needed for line in plan.order.lines if line.kind == "heat-shrink")
    assert shrink_um == 22 * 45_000  # 45 mm an end, as the stock file has it


@pytest.mark.parametrize(("at_m", "words"), [(0.001, "two lugs need"), (5.0, "lies beyond the lead")])
def test_a_place_that_cannot_be_built_fails(starter: tuple[Job, Stock], at_m: float, words: str) -> None:
    failing = [f.message for f in planned(starter, at_m).failing if f.rule == "in-line fuse"]
    assert len(failing) == 2
    assert all(words in message for message in failing)


def test_a_missing_holder_is_said(plan: Plan) -> None:
    assert [f.status for f in plan.findings if f.rule == "fuse holder"] == ["unknown"]


def test_feet_on_the_order_leave_the_size_alone(starter: tuple[Job, Stock]) -> None:
    """5 m of 35 mm2 is 16 ft 4 3/4 in, rounded down (196.85 in); the "5 m" inside "35 mm2" is no length."""
    job, stock = starter
    plan = cutlist.make_plan(replace(job, units="in"), stock)
    assert isinstance(plan, Plan)
    cable = [row.description for row in order_rows(plan) if row.kind == "cable"]
    assert cable
    assert all("35 mm2" in description for description in cable)
    assert any("16 ft 4 3/4 in" in description for description in cable)

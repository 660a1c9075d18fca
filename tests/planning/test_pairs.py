"""Cables laid in pairs: two pieces, four lugs, one pair of studs; and conductors that settle."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

import cutlist
from cutlist.electrics.sizing import Combination
from cutlist.layout.cable_ends import cable_tasks
from cutlist.layout.run_lengths import joined
from cutlist.plan import make_plan
from cutlist.plan_types import Infeasible, Plan
from cutlist.planning.pairs import in_pairs, studs_hold

FEN = Path(__file__).parents[2] / "examples" / "fen-station" / "job.yaml"


@pytest.fixture(scope="module")
def paired() -> Plan:
    """Of one size only and with little drop allowed, nothing but pairs will do for some kind of cable."""
    job, stock = cutlist.read_job(FEN)
    policy = replace(job.policy, paralleled=True, conductors_feeder=("50 mm2",), match="equal resistance")
    fixed = tuple(replace(b, places=(p,), faces=()) for b, p in zip(job.bus_bars, _places(job), strict=True))
    job = replace(job, policy=policy, limits=replace(job.limits, drop=0.013), bus_bars=fixed)
    plan = make_plan(job, stock)
    assert not isinstance(plan, Infeasible)
    return plan


def _places(job):
    """Two places on the outer wall, studs 20 mm out, rows upright, 150 mm apart."""
    from cutlist.bank.bus_bars import BarPlace

    assert [f.name for f in job.site.faces] == ["outer wall"]
    return tuple(BarPlace((2.5, y, 1.25), (0.0, 0.0, 1.0), (1.0, 0.0, 0.0), "outer wall") for y in (-0.15, -0.3))


def test_a_pair_is_two_pieces_of_one_length(paired: Plan) -> None:
    pairs = [c for c in paired.cables if c.name.endswith((" a", " b"))]
    assert pairs
    kinds = {c.kind for c in pairs}
    assert all(c in pairs for c in paired.cables if c.kind in kinds)
    cuts = {c.name: [x.length_um for x in c.cuts] for c in pairs}
    assert all(cuts[name] == cuts[f"{name[:-1]}b"] for name in cuts if name.endswith(" a"))
    pieces = sum(len(spool.cuts) for spool in paired.cut_plan.spools)
    assert pieces == sum(len(c.cuts) for c in paired.cables)


def test_both_of_a_pair_are_on_the_same_studs(paired: Plan) -> None:
    ends = {c.name: (c.start.at, c.finish.at) for c in paired.cables}
    assert all(ends[n] == ends[f"{n[:-1]}b"] for n in ends if n.endswith(" a"))
    on_studs = [name for bar in paired.bars for names in bar.stud_use for name in names]
    assert all(on_studs.count(name) == 1 for bar in paired.bars for names in bar.stud_use for name in names)
    assert all(len(names) <= bar.bar.stack_limit for bar in paired.bars for names in bar.stud_use)


def test_every_end_of_a_pair_has_a_lug_on_the_order(paired: Plan) -> None:
    """Two lugs a piece: what the order counts over all sizes is twice the pieces."""
    lugs = sum(line.needed for line in paired.order.lines if line.kind == "lug")
    assert lugs == 2 * sum(len(c.cuts) for c in paired.cables)


def test_what_was_sized_is_what_is_built(paired: Plan) -> None:
    """The finding about sizes names the pairs, and drop as solved keeps the limit that made them necessary."""
    (size,) = [f for f in paired.findings if f.rule == "conductor size"]
    assert size.status == "pass"
    assert "2 x 50 mm2" in size.message
    assert max(load.drop for load in paired.loads) <= 0.013
    assert not paired.failing


def test_strings_of_equal_resistance_share_alike(paired: Plan) -> None:
    """Jumpers, fuses, bars and warmth counted: what is left is the marks' 5 mm and warmth along the surplus."""
    assert max(abs(s.departure) for s in paired.shares) < 0.003


def test_studs_hold_what_they_may() -> None:
    job, stock = cutlist.read_job(FEN)
    places = dict(zip((b.name for b in job.bus_bars), _places(job), strict=True))
    cables = joined(job, cable_tasks(job), places)
    wire = stock.conductors[0]
    one, two = Combination(wire, wire, wire), Combination(wire, wire, wire, lead_count=2)
    assert in_pairs(cables, one) == cables
    assert len(in_pairs(cables, two)) == len(cables) + 10  # five strings, two leads each
    single = replace(job, bus_bars=tuple(replace(b, stack_limit=1) for b in job.bus_bars))
    assert studs_hold(single, cables, one)
    assert not studs_hold(single, cables, two)
    assert studs_hold(job, cables, two)

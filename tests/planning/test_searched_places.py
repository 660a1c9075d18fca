"""The bus bars of a job on faces: searched together, never dearer than least cable on a grid, bounded from below."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

import cutlist
from cutlist.bank.bus_bars import BusBar
from cutlist.layout.cable_ends import bar_studs, cable_tasks
from cutlist.layout.place_check import answer_faults
from cutlist.plan_types import Plan
from cutlist.planning.build import Built
from cutlist.planning.built_places import proof_of
from cutlist.planning.grid_places import best_of_grid
from cutlist.planning.searched_places import Missed, Pair, Searched, next_pair, searched_places, unreachable
from cutlist.progress import silent
from geometry.solids import Box
from geometry.space import Obstacle

TENDER = Path(__file__).parent.parent.parent / "examples" / "dredge-tender" / "job.yaml"


@pytest.fixture(scope="module")
def searched() -> Searched:
    job, stock = cutlist.read_job(TENDER)
    found = searched_places(job, stock, cable_tasks(job), silent)
    assert isinstance(found, Searched)
    return found


def test_the_answer_keeps_every_rule(searched: Searched) -> None:
    """By layout/place_check.py, which works everything out again."""
    assert searched.found.best is not None
    assert list(answer_faults(searched.question.problem, searched.found.best)) == []


def test_never_dearer_than_least_cable_on_a_grid_and_never_below_the_bound(
    searched: Searched, plan_of: Callable[[str], Plan]
) -> None:
    """Two methods for one question, priced alike: the bound holds for both, and the search is no dearer."""
    job, stock = cutlist.read_job(TENDER)
    best = plan_of("dredge-tender").place_proof
    grid = best_of_grid(job, stock, cable_tasks(job), silent).built
    assert isinstance(grid, Built)
    of_grid = proof_of(searched, grid, ())
    assert best is not None
    assert best.cost is not None
    assert best.least_cost is not None
    assert of_grid.cost is not None
    assert best.least_cost <= best.cost <= of_grid.cost
    assert best.gap is not None
    assert best.gap < 0.01


def test_a_place_tried_costs_what_is_held_against_the_bound(plan_of: Callable[[str], Plan]) -> None:
    """Law: one pair of places has one cost, whichever table of the page it stands in; and no more than all that is
    ordered."""
    plan = plan_of("dredge-tender")
    assert plan.place_proof is not None
    built = [tried for tried in plan.tried if not tried.why_not]
    assert [tried.cost for tried in built] == [plan.place_proof.cost]
    assert built[0].cost is not None
    assert 0 < built[0].cost <= plan.order.total


def test_lugs_on_hand_are_used_once() -> None:
    """By hand: what places cost beyond their cable are the lugs of leads and feeders, those on hand taken off once,
    whoever uses them up; of the fen station all conductors are 50 mm2: 10 leads with a lug for M8 and one for M10, 4
    feeders with two for M10 each, less 12 for M10 on hand."""
    job, stock = cutlist.read_job(TENDER.parent.parent / "fen-station" / "job.yaml")
    found = searched_places(job, stock, cable_tasks(job), silent)
    assert isinstance(found, Searched)
    problem = found.question.problem
    lead = next(c for c in problem.lead_conductors if c.name == "50 mm2")
    feeder = next(c for c in problem.feeder_conductors if c.name == "50 mm2")
    lugs = {stud: stock.lug("50 mm2", stud) for stud in ("M8", "M10")}
    assert lugs["M8"] is not None
    assert lugs["M10"] is not None
    due = 10 * lugs["M8"].price + (10 + 8 - lugs["M10"].on_hand) * lugs["M10"].price
    assert problem.other_price(lead, feeder) == due


def test_bars_do_not_stand_where_something_else_does(searched: Searched) -> None:
    """A junction box where the positive bar would best go: every stud is a cable's standoff off it, by the box's own
    distance, the first pair is reached, and it costs no less than without the box."""
    job, stock = cutlist.read_job(TENDER)
    assert searched.found.best is not None
    assert searched.found.best.build.money is not None
    x, y, z = searched.found.best.positive.place.centre
    box = Box((x, y, z), (0.15, 0.04, 0.15))
    space = replace(job.site.space, obstacles=(*job.site.space.obstacles, Obstacle("junction box", box)))
    job = replace(job, site=replace(job.site, space=space))
    tasks = cable_tasks(job)
    again = searched_places(job, stock, tasks, silent)
    assert isinstance(again, Searched)
    pair = next_pair(job, stock, again, ())
    assert pair is not None
    thinnest_m = min(c.outside_diameter_m for c in stock.conductors)
    for bar in job.bus_bars:
        points = [stud.point for stud in bar_studs(bar, pair.places[bar.name])]
        assert box.signed_distance(points).min() >= thinnest_m / 2 + job.policy.clearance_m
    assert unreachable(job, stock, tasks, pair, again) is None
    assert again.found.best is not None
    assert again.found.best.build.money is not None
    assert again.found.best.build.money >= searched.found.best.build.money


def test_another_pair_where_the_best_cannot_be_built(searched: Searched) -> None:
    """No room at a bar: its row of studs keeps 40 mm from where its middle was, along the face or across. No way for a
    cable: the bars stand 50 mm further apart than they must, or, where they did so before, both rows stand elsewhere.
    After three there are no more."""
    job, stock = cutlist.read_job(TENDER)
    first = next_pair(job, stock, searched, ())
    assert first is not None

    def off_m(pair: Pair, bar: BusBar) -> float:
        was = first.places[bar.name].centre
        points = [stud.point for stud in bar_studs(bar, pair.places[bar.name])]
        return min(max(abs(a - b) for a, b in zip(point, was, strict=True)) for point in points)

    elsewhere = next_pair(job, stock, searched, [Missed(first, (job.negative_bar.name,))])
    assert elsewhere is not None
    assert off_m(elsewhere, job.negative_bar) >= 0.04 - 1e-9
    both = next_pair(job, stock, searched, [Missed(first)])
    assert both is not None
    rows = [[stud.point for stud in bar_studs(bar, both.places[bar.name])] for bar in job.bus_bars]
    apart_m = min(math.dist(p, q) for p in rows[0] for q in rows[1])
    further = apart_m >= searched.question.problem.separation_m + 0.05 - 1e-9
    assert further or min(off_m(both, bar) for bar in job.bus_bars) >= 0.04 - 1e-9
    assert both != first
    assert next_pair(job, stock, searched, [Missed(first), Missed(both), Missed(elsewhere)]) is None

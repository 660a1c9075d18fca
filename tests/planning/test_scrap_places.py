"""Whole plans that ask for least waste beside plans of the same job that ask for least cost."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import numpy as np
import pytest

from cutlist.bank.job import Job
from cutlist.bank.stock import CableStock, Remnant, Spool, Stock
from cutlist.layout.bus_bar_places import find_places
from cutlist.layout.least_scrap import least_scrap
from cutlist.layout.place_costs import PlaceCosts
from cutlist.layout.place_problem import StraightRuns
from cutlist.plan import make_plan
from cutlist.plan_types import Plan
from cutlist.planning.place_question import PlaceQuestion
from cutlist.planning.place_views import faults_of
from cutlist.planning.scrap_places import LaidLonger
from cutlist.planning.searched_places import Searched
from tests.layout.test_least_scrap import least_waste_problem, one_stud_case
from tests.planning.test_routed_places import POST, SILL, small_job

MM = 1000
REELS = (Spool("short reel", 2500 * MM, Decimal(9)), Spool("long reel", 4000 * MM, Decimal(11)))
STOCKS = {
    "reels": {"red": ((), REELS), "black": ((), REELS)},
    "remnants": {"red": ((Remnant("end", 1900 * MM),), REELS), "black": ((), REELS)},
}


def job_with(folder: Path, solids: list[str], kind: str, *, least_waste: bool) -> tuple[Job, Stock]:
    job, stock = small_job(folder, solids, (160, 120))
    cables = tuple(CableStock("16 mm2", colour, *lines) for colour, lines in STOCKS[kind].items())
    return job, replace(stock, cables=cables, rules=replace(stock.rules, least_waste=least_waste))


@pytest.mark.parametrize(("solids", "kind"), [(POST, "reels"), (SILL, "remnants")], ids=["reels", "remnants"])
def test_least_waste_leaves_no_more_than_least_cost(tmp_path: Path, solids: list[str], kind: str) -> None:
    """Each asks for the other's aim second at best: the one leaves no more over, the other costs no more. Scrap that
    differs by what rounding to a mark does (5 mm for each of 6 pieces) is the same."""
    plans = []
    for least_waste in (True, False):
        plan = make_plan(*job_with(tmp_path, solids, kind, least_waste=least_waste))
        assert isinstance(plan, Plan)
        plans.append(plan.cut_plan)
    wasteless, cheap = plans
    assert wasteless.waste_um <= cheap.waste_um + 6 * 5 * MM
    assert cheap.cost is not None
    assert wasteless.cost is not None
    assert wasteless.cost >= cheap.cost


def test_a_plan_of_least_waste_says_what_was_looked_at(tmp_path: Path) -> None:
    """It claims no proof of the scrap, only what must be bought at least; and sets the places that buy least beside."""
    plan = make_plan(*job_with(tmp_path, POST, "reels", least_waste=True))
    assert isinstance(plan, Plan)
    proof = plan.place_proof
    assert proof is not None
    assert proof.gap is None
    assert proof.least_bought_um is not None
    assert proof.least_bought_um <= plan.cut_plan.bought_um
    (told,) = [f for f in plan.findings if f.rule == "places are best"]
    assert "least waste" in told.message
    assert "5 mm apart" in told.message
    assert f"none buy less than {proof.least_bought_um / 1e6:.2f} m" in told.message


@pytest.mark.parametrize("seed", [6, 10, 21])
def test_the_proof_holds_where_least_waste_buys_more(seed: int) -> None:
    """Places that leave less over may buy more than those the bound speaks of. The checker looks at both: it finds
    nothing wrong, and what is wrong with either is told."""
    problem = least_waste_problem(one_stud_case(seed), None)
    costs = PlaceCosts(problem)
    found = find_places(problem, finest_m=0.005, within=0.0035)
    least = least_scrap(problem, costs, 0.005)
    assert found.best is not None
    assert least is not None
    assert least[1].build.bought_mm > found.best.build.bought_mm
    question = PlaceQuestion(problem, "", 0)
    searched = Searched(question, costs, replace(found, best=least[1]), found.best)
    assert faults_of(searched) == ()
    longer = replace(least[1], target_m=least[1].target_m + 0.1)
    assert "the target is" in faults_of(replace(searched, found=replace(found, best=longer)))[0]
    assert found.certificate is not None
    higher = replace(found.certificate, bound=found.certificate.cost + 1)
    assert faults_of(replace(searched, found=replace(found, best=least[1], certificate=higher)))


@pytest.mark.parametrize("short_mm", [0, 5])
def test_a_limit_on_leads_is_held_where_least_waste_is_asked(tmp_path: Path, short_mm: int) -> None:
    """No longer than the least-cost plan lays them, and a little less: less scrap is no reason to lay them longer."""
    job, stock = job_with(tmp_path, SILL, "reels", least_waste=False)
    cheap = make_plan(job, stock)
    assert isinstance(cheap, Plan)
    limit_m = max(c.target_m for c in cheap.cables if c.kind == "lead") - short_mm / 1000
    limited = replace(job, limits=replace(job.limits, longest_lead_m=limit_m))
    plan = make_plan(limited, replace(stock, rules=replace(stock.rules, least_waste=True)))
    assert isinstance(plan, Plan)
    held = max(c.target_m for c in plan.cables if c.kind == "lead") <= limit_m + 1e-6
    assert held or "places hold the reach" in {f.rule for f in plan.findings}


def test_runs_are_longer_by_what_was_laid() -> None:
    """From a terminal whose cable was laid 0.03 m longer every run is; from others it is as it was."""
    terminals = np.array([[0.0, 0.0, 0.0], [0.0, 1.0, 0.0]])
    studs = np.array([[1.0, 0.0, 0.0], [2.0, 0.0, 0.0]])
    lies = np.zeros((2, 2, 3))
    longer = LaidLonger(StraightRuns(), {(0.0, 0.0, 0.0): 0.03})
    plain = StraightRuns().lengths(terminals, studs, lies)
    for found in (longer.lengths(terminals, studs, lies), longer.bounds(terminals, studs, lies)):
        assert found[0] == pytest.approx(plain[0] + 0.03)
        assert found[1] == pytest.approx(plain[1])

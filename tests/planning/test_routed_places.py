"""Places of small jobs against every place of a 5 mm grid, each routed and cut; places chosen by routed runs."""

from __future__ import annotations

import itertools
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import numpy as np
import pytest

from cutlist.bank.job import Job
from cutlist.bank.stock import Stock
from cutlist.job.reader import read_job
from cutlist.layout.cable_ends import cable_tasks
from cutlist.layout.matching import rounded_up_um
from cutlist.layout.place_problem import StraightRuns
from cutlist.layout.posts import with_posts
from cutlist.layout.run_lengths import joined, lugs_m, run_requests, shortest_runs
from cutlist.layout.scene import space_with_bank
from cutlist.plan import make_plan
from cutlist.plan_types import Plan
from cutlist.planning import places as planning_places
from cutlist.planning.build import Built
from cutlist.planning.grid_places import bar_places
from cutlist.planning.places import best_build
from cutlist.planning.routed_places import Corrected, RoutedRun
from cutlist.progress import silent
from cutlist.stock.cut_plan import Piece
from cutlist.stock.spool_cuts import cut
from geometry.runs import NoRun

JOB = """
name: Two small strings
stock: stock.yaml
rules: copper by ambient
ambient: 20 °C
coordinates: mm
limits: {drop: 5 %}
site:
  solids:
SOLIDS
    - {name: panel, box: {from: [780, -100, 0], to: [800, 700, 600]}}
  mounting faces:
    - {name: upper, corner: [750, 320, 420], along: [0, -1, 0], up: [0, 0, 1], width: WIDE, height: HIGH, edge: 10}
    - {name: lower, corner: [750, 320, 120], along: [0, -1, 0], up: [0, 0, 1], width: WIDE, height: HIGH, edge: 10}
battery types:
  - {name: b, chemistry: agm, voltage: 12 V, capacity: 50 Ah, resistance: 5 mohm}
batteries:
  - name: B1
    type: b
    positive: {at: [0, 0, 200], lug: any, stud: M8}
    negative: {at: [0, 150, 200], lug: any, stud: M8}
  - name: B2
    type: b
    positive: {at: [0, 300, 200], lug: any, stud: M8}
    negative: {at: [0, 450, 200], lug: any, stud: M8}
strings: [{name: S1, batteries: [B1]}, {name: S2, batteries: [B2]}]
bus bars:
  - {name: plus, pole: positive, studs: STUDS, pitch: 30 mm, stud: M8, on: [upper], turns: [TURNS]}
  - {name: minus, pole: negative, studs: STUDS, pitch: 30 mm, stud: M8, on: [lower], turns: [TURNS]}
loads:
  - name: lamp
    continuous: 30 A
    positive: {at: [600, 620, 300], lug: any, stud: M8}
    negative: {at: [600, 660, 300], lug: any, stud: M8}
feeders:
  - {name: lamp plus, pole: positive, from: plus, to: lamp positive}
  - {name: lamp minus, pole: negative, from: minus, to: lamp negative}
policy: {clearance: 5 mm, string fuse: none}
colours: {positive: red, negative: black, link: red}
"""
STOCK = """
currency: shells
cutting: {kerf: 3 mm}
conductors: [{size: 16 mm2, outside diameter: 9 mm, insulation: 105 °C}]
cable:
  - {conductor: 16 mm2, colour: red, by length: [{label: r, increment: STEP mm, price: 0.20}]}
  - {conductor: 16 mm2, colour: black, by length: [{label: b, increment: STEP mm, price: 0.20}]}
lugs: [{conductor: 16 mm2, stud: M8, strip: 12 mm, hole to stop: 14 mm, hole to skin: 30 mm}]
"""
POST = ["    - {name: post, box: {from: [380, 120, 0], to: [440, 330, 500]}}"]
SILL = [
    "    - {name: sill, box: {from: [300, -60, 150], to: [340, 640, 260]}}",
    "    - {name: beam, box: {from: [560, 100, 330], to: [600, 500, 480]}}",
]


def small_job(
    folder: Path, solids: list[str], size: tuple[int, int], studs: int = 1, turns: str = "0 deg", step: int = 20
) -> tuple[Job, Stock]:
    text = JOB.replace("SOLIDS", "\n".join(solids)).replace("WIDE", str(size[0])).replace("HIGH", str(size[1]))
    (folder / "job.yaml").write_text(text.replace("STUDS", str(studs)).replace("TURNS", turns), encoding="utf-8")
    (folder / "stock.yaml").write_text(STOCK.replace("STEP", str(step)), encoding="utf-8")
    read = read_job(folder / "job.yaml")
    assert not read.faults, [fault.text() for fault in read.faults]
    assert read.job is not None
    assert read.stock is not None
    return read.job, read.stock


@pytest.mark.parametrize("solids", [POST, SILL], ids=["post", "sill and beam"])
def test_never_dearer_than_every_pair_of_a_grid_routed_and_cut(tmp_path: Path, solids: list[str]) -> None:
    """All pairs of places 5 mm apart: each bar's cables routed in full with that bar in place (without the other bar
    there is more room: no pair is made dearer by it), every lead as long as the longest, all pieces cut exactly.

    The plan's own cables, which also go past the other bar and each other, cost no more; no pair is below the bound.
    """
    job, stock = small_job(tmp_path, solids, (40, 40))
    best = best_build(job, stock, cable_tasks(job), silent)
    assert isinstance(best.built, Built)
    assert best.proof.cost is not None
    assert best.proof.least_cost is not None
    cuts = [_cuts_of(job, stock, pole) for pole in ("positive", "negative")]
    known: dict[tuple[int, ...], Decimal] = {}
    for (lead, feeder), (other_lead, other_feeder) in itertools.product(*cuts):
        key = (max(lead, other_lead), feeder, other_feeder)
        if key not in known:
            known[key] = _cost(stock, *key)
    assert len(cuts[0]) == len(cuts[1]) == 25
    assert best.proof.cost <= min(known.values())
    assert best.proof.least_cost <= min(known.values())


def _cuts_of(job: Job, stock: Stock, pole: str) -> list[tuple[int, int]]:
    """The longest lead's and the feeder's cut (um) for every place of a pole's bar."""
    bar = job.positive_bar if pole == "positive" else job.negative_bar
    other = job.negative_bar if pole == "positive" else job.positive_bar
    conductors = dict.fromkeys(("lead", "feeder", "jumper"), stock.conductors[0])
    anywhere = next(bar_places(job, other, 0.005))
    found = []
    for place in bar_places(job, bar, 0.005):
        cables = [c for c in joined(job, cable_tasks(job), {bar.name: place, other.name: anywhere}) if c.pole == pole]
        space = with_posts(job, space_with_bank(job, [(bar, place)]), {bar.name: place})
        runs = shortest_runs(job, space, run_requests(job, stock, cables, conductors), explain=False)
        longest = {"lead": 0, "feeder": 0}
        for cable, run in zip(cables, runs, strict=True):
            assert not isinstance(run, NoRun)
            reach_m = run.length_m - lugs_m(stock, cable, conductors[cable.kind])
            longest[cable.kind] = max(longest[cable.kind], rounded_up_um(reach_m, job.policy.round_up_um))
        found.append((longest["lead"], longest["feeder"]))
    return found


def _cost(stock: Stock, lead_um: int, plus_um: int, minus_um: int) -> Decimal:
    pieces = [
        Piece(f"{number} {colour}", "16 mm2", colour, length)
        for colour, feeder in (("red", plus_um), ("black", minus_um))
        for number, length in enumerate((lead_um, lead_um, feeder))
    ]
    cost = cut(pieces, stock).cost
    assert cost is not None
    return cost


def test_where_much_is_open_routed_runs_decide(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Boxes beside the bars make runs longer than the search knows, so that much is left open: routing the places it
    likes then finds cheaper ones. Every place tried is told, and the plan is the cheapest of them."""
    boxes = [
        "    - {name: box 0, box: {from: [580, 340, 310], to: [640, 420, 390]}}",
        "    - {name: box 1, box: {from: [650, 150, 290], to: [730, 280, 360]}}",
        "    - {name: box 2, box: {from: [540, 320, 470], to: [580, 490, 590]}}",
    ]
    job, stock = small_job(tmp_path, boxes, (160, 120), 3, "0 deg, 90 deg", 5)
    tasks = cable_tasks(job)
    with monkeypatch.context() as patched:
        patched.setattr(planning_places, "better_routed", lambda *_: ())
        plain = best_build(job, stock, tasks, silent)
    found = best_build(job, stock, tasks, silent)
    assert plain.proof.gap is not None
    assert plain.proof.gap > planning_places.MUCH_OPEN
    assert plain.proof.cost is not None
    assert found.proof.cost is not None
    assert found.proof.cost < plain.proof.cost
    assert found.proof.cost == min(t.cost for t in found.tried if t.cost is not None)


def test_a_run_that_was_routed_is_long_near_there_too() -> None:
    """Straight lines are 1 m and sqrt(1.0025) m; a run routed to the first stud took 1.2 m. To the second, 50 mm on, it
    is then no shorter than 1.15 m; with the lug across, to another terminal, or 0.5 m away nothing is known."""
    terminal, stud = (0.0, 0.0, 0.0), (1.0, 0.0, 0.0)
    corrected = Corrected(StraightRuns(), (RoutedRun(terminal, stud, (0.0, 0.0, 1.0), (1.0, 0.0, 0.0), 1.2),))
    studs = np.array([stud, (1.0, 0.05, 0.0), (1.0, 0.5, 0.0)])
    up = np.broadcast_to([[0.0, 0.0, -1.0], [1.0, 0.0, 0.0]], (3, 2, 3))
    across = np.broadcast_to([[0.0, 1.0, 0.0], [1.0, 0.0, 0.0]], (3, 2, 3))
    terminals = np.array([terminal, (0.0, 0.1, 0.0)])
    plain = StraightRuns().lengths(terminals, studs, up)
    for found in (corrected.lengths(terminals, studs, up), corrected.bounds(terminals, studs, up)):
        assert found[0] == pytest.approx([1.2, 1.15, plain[0, 2]])
        assert found[1] == pytest.approx(plain[1])
    assert corrected.lengths(terminals, studs, across) == pytest.approx(plain)


@pytest.fixture(scope="module")
def roomy(tmp_path_factory: pytest.TempPathFactory) -> tuple[Job, Stock, Plan, float]:
    """A job without a limit on its runs, its plan, and how long its leads are laid (m)."""
    job, stock = small_job(tmp_path_factory.mktemp("roomy"), SILL, (120, 90), 3, "0 deg, 90 deg")
    plan = make_plan(job, stock)
    assert isinstance(plan, Plan)
    return job, stock, plan, max(c.target_m for c in plan.cables if c.kind == "lead")


@pytest.mark.parametrize("short_mm", [0, 1, 5])
def test_a_limit_on_runs_is_held_as_laid(roomy: tuple[Job, Stock, Plan, float], short_mm: int) -> None:
    """The limit is what the leads have where nothing is asked for, and a little less: cuts are rounded up and cables
    moved beside each other, so that a run within the limit may be laid beyond it. Where bars are nearer it is held."""
    job, stock, free, laid_m = roomy
    plan = make_plan(replace(job, limits=replace(job.limits, longest_lead_m=laid_m - short_mm / 1000)), stock)
    assert isinstance(plan, Plan)
    assert [f.status for f in plan.findings if f.rule == "reach"] == ["pass"] * 4
    assert plan.place_proof is not None
    assert free.place_proof is not None
    assert plan.place_proof.cost is not None
    assert free.place_proof.cost is not None
    assert plan.place_proof.cost >= free.place_proof.cost


@pytest.mark.parametrize("short_mm", [20, 300])
def test_a_limit_that_holds_nowhere_says_by_how_much(roomy: tuple[Job, Stock, Plan, float], short_mm: int) -> None:
    """Both limits lie below what any place allows, so the plan is the same for both: where the longest lead is least.
    It misses each by its own distance, told to the 5 mm that can be marked and what cuts are rounded up to."""
    job, stock, _, free_m = roomy
    limit_m = free_m - short_mm / 1000
    plan = make_plan(replace(job, limits=replace(job.limits, longest_lead_m=limit_m)), stock)
    assert isinstance(plan, Plan)
    laid_m = max(c.target_m for c in plan.cables if c.kind == "lead")
    (told,) = [f for f in plan.findings if f.rule == "places hold the reach"]
    assert told.status == "fail"
    assert told.value == pytest.approx(laid_m - limit_m, abs=0.010)
    assert [f.status for f in plan.findings if f.rule == "reach"] == ["fail"] * 4
    assert laid_m <= free_m


def test_where_cables_are_laid_longer_beside_each_other_other_places_are_tried(tmp_path: Path) -> None:
    """The places that route best need another step of cable as they are laid, for their cables pass each other; others
    are laid for less, though they route longer. Both are told, and the plan is the cheaper."""
    corners = [
        ((633, 322, 354), (682, 433, 398)),
        ((493, 139, 100), (531, 272, 169)),
        ((462, 179, 279), (505, 287, 359)),
        ((631, 153, 141), (706, 265, 257)),
        ((509, 226, 78), (591, 267, 166)),
    ]
    boxes = [
        f"    - {{name: box {i}, box: {{from: {list(low)}, to: {list(high)}}}}}"
        for i, (low, high) in enumerate(corners)
    ]
    job, stock = small_job(tmp_path, boxes, (90, 90), 3, "0 deg, 90 deg", 20)
    best = best_build(job, stock, cable_tasks(job), silent)
    costs = [tried.cost for tried in best.tried if tried.cost is not None and not tried.why_not]
    assert len(costs) > 1
    assert best.proof.cost == min(costs) < costs[0]

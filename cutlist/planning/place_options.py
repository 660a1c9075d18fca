"""Pairs of places side by side: what each costs, drops and asks for, what a small move costs."""

from __future__ import annotations

import numpy as np

from cutlist.bank.bus_bars import BarPlace, BusBar
from cutlist.bank.job import Job
from cutlist.layout.cells import HAIR_M
from cutlist.layout.landscape import MOVE_M, Landscape, landscape
from cutlist.layout.placings import Placing
from cutlist.layout.scene import space_with_bank
from cutlist.place_types import PlaceLandscape, PlaceMove, PlaceOption
from cutlist.planning.searched_places import Searched
from geometry.free_ahead import free_ahead_m

STEP_M = 0.1  # between the places of the map
WAYS = {"+u": "left", "-u": "right", "+v": "up", "-v": "down"}  # as one stands before the face


def landscape_of(job: Job, searched: Searched) -> PlaceLandscape | None:
    """What a plan tells of other places: without their scrap and shares, which take longer."""
    if searched.found.best is None:
        return None
    around = landscape(searched.question.problem, searched.found, step_m=STEP_M, costs=searched.costs, front=False)
    return told(job, searched, around)


def told(job: Job, searched: Searched, around: Landscape) -> PlaceLandscape:
    moves = tuple(PlaceMove(m.pole, WAYS[m.along], MOVE_M, m.more, m.more_um, m.why_not) for m in around.moves)
    return PlaceLandscape(tuple(option_of(job, searched, p) for p in around.best), moves, around.to_next_step_m)


def option_of(job: Job, searched: Searched, placed: Placing) -> PlaceOption:
    problem = searched.question.problem
    runs_m = [run for layout in (placed.positive, placed.negative) for run in layout.lead_runs_m]
    longest_m = [max(layout.lead_runs_m) for layout in (placed.positive, placed.negative)]
    targets_m = np.repeat([max(longest_m)] * 2 if problem.poles_alike else longest_m, len(problem.strings))
    bars = [(job.positive_bar, placed.positive.place), (job.negative_bar, placed.negative.place)]
    return PlaceOption(
        positive=placed.positive.place,
        negative=placed.negative.place,
        positive_turn=placed.positive.turn,
        negative_turn=placed.negative.turn,
        cost=placed.build.money,
        drop_v=placed.worst_drop_v,
        binds=_binds(job, searched, placed),
        longest_run_m=max(runs_m),
        surplus_m=float(targets_m.sum() - sum(runs_m)),
        laid_um=placed.total_um,
        bought_um=placed.build.bought_mm * 1000,
        height_m=min(point[2] for bar, place in bars for point in bar.stud_points(place)),
        free_m=min(_free_m(job, bar, place) for bar, place in bars),
    )


def _free_m(job: Job, bar: BusBar, place: BarPlace) -> float:
    return free_ahead_m(space_with_bank(job), np.array(bar.stud_points(place)), np.array(place.out, dtype=float))


def _binds(job: Job, searched: Searched, placed: Placing) -> str:
    """Of the limits that the search knows the one that is used most."""
    problem = searched.question.problem
    used = [
        (drop / circuit.drop_limit_v, f"drop {circuit.name}")
        for drop, circuit in zip(placed.build.drops_v, problem.circuits, strict=True)
        if circuit.drop_limit_v > 0
    ]
    if problem.longest_lead_m is not None:
        longest_m = max(max(layout.lead_runs_m) for layout in (placed.positive, placed.negative))
        used.append((longest_m / problem.longest_lead_m, "longest lead"))
    apart_m = min(
        float(np.linalg.norm(np.subtract(a, b)))
        for a in job.positive_bar.stud_points(placed.positive.place)
        for b in job.negative_bar.stud_points(placed.negative.place)
    )
    if problem.separation_m > 0:
        used.append((problem.separation_m / max(apart_m, HAIR_M), "distance of the bus bars"))
    if not used:
        return ""
    share, name = max(used)
    return f"{name}, {100 * min(share, 1.0):.0f} % used"

"""Like batteries regrouped into strings where the job allows it: the job that is then planned, and what it saves."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np

from cutlist.bank.batteries import Battery, String, Terminal
from cutlist.bank.bus_bars import BarPlace, BusBar
from cutlist.bank.job import Job
from cutlist.bank.stock import Stock
from cutlist.layout.cable_ends import BarEnd, cable_tasks, has_fixed_end
from cutlist.layout.like_batteries import GroupingProblem, Strings, shortest_grouping
from cutlist.layout.place_problem import Array
from cutlist.layout.posts import with_posts
from cutlist.layout.run_lengths import joined, run_requests, shortest_runs, straight_m
from cutlist.layout.scene import space_with_bank
from cutlist.plan_types import MakeUp, Regrouped
from cutlist.planning.build import thinnest
from cutlist.planning.grid_places import bar_places
from geometry.fields import Field
from geometry.runs import CableShape, NoRun
from geometry.space import Space

PLACES_STEP_M = 0.15  # of a bus bar on a face, only to see how far leads have to go
MOST_PLACES = 12


def regrouped(job: Job, stock: Stock) -> tuple[Job, Regrouped | None]:
    """The job with its batteries in the strings that take least cable; None where the job does not allow it.

    Never worse than the strings the job states: by quick lengths, and by the jumpers as they would be laid.
    """
    if not job.policy.like_batteries_swap:
        return job, None
    batteries = [battery for string in job.strings for battery in string.batteries]
    problem = _problem(job, stock, batteries)
    found = shortest_grouping(problem)
    strings, words = found.strings, "proved" if found.proved else "best found"
    saved_m = found.own_m - found.total_m
    if strings != problem.own:
        longer_m = _jumpers_longer_m(job, stock, problem, strings, batteries)
        lead_m = saved_m - _links_m(problem, problem.own) + _links_m(problem, strings)
        saved_m = lead_m - longer_m
        if not saved_m > 0:
            strings, saved_m = problem.own, 0.0
            words = "what quick lengths showed better is not, once its jumpers are laid out"
    made_up = tuple(
        MakeUp(s.name, tuple(b.name for b in s.batteries), tuple(batteries[i].name for i in numbers))
        for s, numbers in zip(job.strings, strings, strict=True)
    )
    told = Regrouped(made_up, saved_m, found.own_m, found.least_m, f"{words}: {found.how}")
    return replace(job, strings=_strings(job, strings, batteries)), told


def _problem(job: Job, stock: Stock, batteries: Sequence[Battery]) -> GroupingProblem:
    conductor = thinnest(stock)["lead"]
    shape = CableShape(conductor.outside_diameter_m / 2, job.policy.clearance_m, conductor.bend_radius_m, 0.0)
    space = space_with_bank(job)
    positives = [battery.positive for battery in batteries]
    negatives = [battery.negative for battery in batteries]
    links_m = Field(space, shape, _points(negatives)).lengths_m(_points(positives))
    links_m += np.array([[_lugs_further_m(job, stock, a, b) for b in positives] for a in negatives])
    unlike = np.array([[a.type.name != b.type.name for b in batteries] for a in batteries])
    links_m[unlike | np.eye(len(batteries), dtype=bool)] = np.inf
    positive_m, positive_rest_m = _to_places(job, job.positive_bar, space, shape, positives)
    negative_m, negative_rest_m = _to_places(job, job.negative_bar, space, shape, negatives)
    ends = np.cumsum([0, *(len(string.batteries) for string in job.strings)]).tolist()
    return GroupingProblem(
        own=tuple(tuple(range(first, after)) for first, after in pairwise(ends)),
        kinds=tuple(battery.type.name for battery in batteries),
        links_m=links_m,
        positive_m=positive_m,
        negative_m=negative_m,
        positive_rest_m=positive_rest_m,
        negative_rest_m=negative_rest_m,
        match=job.policy.match,
    )


def _to_places(
    job: Job, bar: BusBar, space: Space, shape: CableShape, terminals: Sequence[Terminal]
) -> tuple[Array, Array]:
    """Metres from each terminal to each of a few places of the bar, and of the feeders from there."""
    feeders = [
        task.fixed_stud().point
        for task in cable_tasks(job)
        if task.kind == "feeder" and has_fixed_end(task) and BarEnd(bar.name) in (task.start, task.finish)
    ]
    far = np.array(feeders, dtype=float).reshape(-1, 3)
    places = _few(list(bar_places(job, bar, PLACES_STEP_M)))
    # a lug's breadth off the face, where the cable leaves the stud
    spots = np.array([np.add(place.centre, np.multiply(place.out, shape.standoff_m)) for place in places])
    table = Field(space, shape, np.vstack([_points(terminals), far])).lengths_m(spots)
    return table[: len(terminals)], table[len(terminals) :].sum(axis=0)


def _few(places: Sequence[BarPlace]) -> Sequence[BarPlace]:
    return places[:: -(-len(places) // MOST_PLACES)]


def _points(terminals: Sequence[Terminal]) -> Array:
    return np.array([terminal.point for terminal in terminals], dtype=float)


def _lugs_further_m(job: Job, stock: Stock, one: Terminal, other: Terminal) -> float:
    """How much longer than the straight way a jumper is because it leaves each stud straight, the way its lug may."""
    reach_m = [_straight_m(job, stock, terminal) for terminal in (one, other)]
    a = np.array(one.point) + reach_m[0] * np.array(one.directions)
    b = np.array(other.point) + reach_m[1] * np.array(other.directions)
    way_m = float(np.linalg.norm(a[:, None] - b[None], axis=2).min()) + sum(reach_m)
    return max(way_m - float(np.linalg.norm(np.subtract(one.point, other.point))), 0.0)


def _straight_m(job: Job, stock: Stock, terminal: Terminal) -> float:
    return straight_m(job, stock, [terminal.stud], thinnest(stock)["jumper"])


def _links_m(problem: GroupingProblem, strings: Strings) -> float:
    return float(sum(problem.links_m[a, b] for string in strings for a, b in pairwise(string)))


def _jumpers_longer_m(
    job: Job, stock: Stock, problem: GroupingProblem, strings: Strings, batteries: Sequence[Battery]
) -> float:
    """How much longer the jumpers of these strings are than the stated ones, as routed; inf where one finds no way.

    A jumper that is not stated keeps clear of all studs that it does not end on.
    """
    sums = []
    for some in (strings, problem.own):
        other = {pair for s in (problem.own if some is strings else strings) for pair in pairwise(s)}
        changed = {f"{batteries[a].name} negative" for s in some for a, b in pairwise(s) if (a, b) not in other}
        grouped = replace(job, strings=_strings(job, some, batteries))
        bare = space_with_bank(grouped)
        space = with_posts(grouped, bare, {}) if some is strings else bare
        sums.append(_routed_m(grouped, stock, space, changed))
    return sums[0] - sums[1] if np.isfinite(sums[0]) else np.inf


def _routed_m(job: Job, stock: Stock, space: Space, starts: set[str]) -> float:
    """Metres of the jumpers that begin at these terminals."""
    tasks = [task for task in cable_tasks(job) if task.kind == "jumper"]
    cables = joined(replace(job, bus_bars=()), tasks, {}, {})
    asked = run_requests(job, stock, [c for c in cables if c.start.at in starts], thinnest(stock))
    runs = shortest_runs(job, space, asked, explain=False)
    return sum(np.inf if isinstance(run, NoRun) else run.length_m for run in runs)


def _strings(job: Job, strings: Strings, batteries: Sequence[Battery]) -> tuple[String, ...]:
    return tuple(
        String(string.name, tuple(batteries[i] for i in numbers))
        for string, numbers in zip(job.strings, strings, strict=True)
    )

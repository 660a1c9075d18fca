"""Places that leave least over as their cables are laid: for jobs that ask for least waste.

A lead laid a hand longer than the search knew may need another spool. Where what was built leaves more over than the
search said, the search is asked again with runs as much longer as they were there.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from cutlist.bank.job import Job
from cutlist.bank.stock import Stock
from cutlist.layout.cable_ends import CableTask
from cutlist.layout.least_scrap import alike_um, least_scrap
from cutlist.layout.place_costs import PlaceCosts
from cutlist.layout.place_problem import Array, PlaceProblem, RunLengths
from cutlist.layout.placings import Placing
from cutlist.place_types import PlaceTried
from cutlist.plan_types import Infeasible
from cutlist.planning.build import Built, build
from cutlist.planning.built_places import scrap_built
from cutlist.planning.grid_places import tried_at
from cutlist.planning.searched_places import (
    Pair,
    Searched,
    is_small,
    places_of,
    scrap_step_m,
    scrap_told,
    searched_for,
    without,
)
from cutlist.progress import Progress
from geometry.runs import Point

MOST_BUILT, MOST_BUILT_OF_SMALL = 2, 6  # beyond the first


@dataclass(frozen=True)
class LaidLonger:
    """Runs as much longer, from each terminal, as a cable from there was laid longer than its run length."""

    plain: RunLengths
    more_m: Mapping[Point, float]

    @property
    def speaks_of(self) -> str:
        return f"{self.plain.speaks_of}, longer as they were laid"

    def lengths(self, terminals: Array, studs: Array, lies: Array) -> Array:
        return self.plain.lengths(terminals, studs, lies) + self._more_m(terminals)

    def bounds(self, terminals: Array, studs: Array, lies: Array) -> Array:
        return self.plain.bounds(terminals, studs, lies) + self._more_m(terminals)

    def _more_m(self, terminals: Array) -> Array:
        known = {tuple(np.round(point, 6)): more_m for point, more_m in self.more_m.items()}
        return np.array([[known.get(tuple(np.round(point, 6)), 0.0)] for point in terminals])


def less_scrap_built(
    job: Job, stock: Stock, tasks: Sequence[CableTask], searched: Searched, built: Built, progress: Progress
) -> tuple[Built, tuple[PlaceTried, ...]]:
    """What was built, or what leaves less over as it is laid; and what was tried.

    Each try is told what the one before showed: how much longer cables were laid, and which places were no good.
    """
    problem, costs = searched.question.problem, searched.costs
    alike = alike_um(problem)
    least = scrap_built(searched.question, built)
    placed = searched.placing
    if least is None or not scrap_told(costs, placed).less_than(least, alike):
        return built, ()
    best, tried, done = built, [], [placed]
    more_m: dict[Point, float] = {}
    if _stand_at(job, placed, built):
        more_m = _more_m(problem, placed, built)
    for number in range(MOST_BUILT_OF_SMALL if is_small(problem) else MOST_BUILT):
        likely = _likely(job, problem, done, more_m)
        found = least_scrap(likely, costs, scrap_step_m(problem))
        if found is None or not found[0].less_than(least, alike):
            break
        done.append(found[1])
        progress(f"building places that leave less over, try {number + 1}")
        other, attempt = _tried(job, stock, tasks, found[1], progress)
        tried.append(attempt)
        if isinstance(other, Built):
            more_m = _more_m(problem, found[1], other)
        scrap = scrap_built(searched.question, other) if isinstance(other, Built) and not attempt.why_not else None
        if isinstance(other, Built) and scrap is not None and scrap.less_than(least, alike):
            best, least = other, scrap
    cheapest = _cheapest(problem)
    if cheapest is not None and scrap_told(costs, cheapest).less_than(least, alike):
        # what is asked for by money leaves no less
        other, attempt = _tried(job, stock, tasks, cheapest, progress)
        tried.append(attempt)
        scrap = scrap_built(searched.question, other) if isinstance(other, Built) and not attempt.why_not else None
        if isinstance(other, Built) and scrap is not None and scrap.less_than(least, alike):
            best = other
    return best, tuple(tried)


def _likely(job: Job, problem: PlaceProblem, done: Sequence[Placing], more_m: Mapping[Point, float]) -> PlaceProblem:
    """The problem off the places that were tried, with runs as much longer as they were laid."""
    places = [place for placed in done for place in places_of(job, placed)[0].values()]
    faces = tuple(without(face, places) for face in problem.faces)
    return replace(problem, faces=faces, runs=LaidLonger(problem.runs, more_m))


def _tried(
    job: Job, stock: Stock, tasks: Sequence[CableTask], placed: Placing, progress: Progress
) -> tuple[Built | Infeasible, PlaceTried]:
    pair = Pair(*places_of(job, placed))
    built = build(job, stock, tasks, pair.places, progress, pair.studs, explain=False)
    attempt = replace(tried_at(job, pair.places, built), cost=None)
    if isinstance(built, Built) and built.laid.not_laid:
        attempt = replace(attempt, why_not="a lead's surplus finds no room here")
    return built, attempt


def _stand_at(job: Job, placed: Placing, built: Built) -> bool:
    """Whether what was built stands at these places: the best ones cannot always be built."""
    return places_of(job, placed)[0] == dict(built.places)


def _cheapest(problem: PlaceProblem) -> Placing | None:
    """The places of least money; None where a price is missing."""
    stock = problem.stock
    in_money = replace(problem, stock=replace(stock, rules=replace(stock.rules, least_waste=False)))
    costs = PlaceCosts(in_money)
    return searched_for(in_money, costs).best if costs.measure.first == "money" else None


def _more_m(problem: PlaceProblem, placed: Placing, built: Built) -> dict[Point, float]:
    """By the terminal it comes from: how much longer a cable is laid than the search knew; leads all alike."""
    laid_m = {name: length.developed_m for name, length in built.laid.lengths.items()}
    leads = [f"{string.name} {pole}" for string in problem.strings for pole in ("positive", "negative")]
    lead_m = max((laid_m[name] for name in leads if name in laid_m), default=placed.target_m) - placed.target_m
    more_m = {point: lead_m for string in problem.strings for point in (string.positive, string.negative)}
    for layout in (placed.positive, placed.negative):
        for feeder, run_m in zip(problem.feeders_of(layout.pole), layout.feeder_runs_m, strict=True):
            more_m[feeder.far] = laid_m[feeder.name] - run_m
    return more_m

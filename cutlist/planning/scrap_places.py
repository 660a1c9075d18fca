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
from cutlist.layout.least_scrap import Scrap, alike_um, least_scrap, scrap_told
from cutlist.layout.place_costs import PlaceCosts
from cutlist.layout.place_problem import Array, PlaceProblem, RunLengths
from cutlist.layout.placings import Placing
from cutlist.place_types import PlaceTried
from cutlist.planning.as_laid import built_at
from cutlist.planning.build import Built
from cutlist.planning.built_places import scrap_built
from cutlist.planning.searched_places import (
    Pair,
    Searched,
    is_small,
    places_of,
    scrap_step_m,
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
    most = MOST_BUILT_OF_SMALL if is_small(problem) else MOST_BUILT
    promising = True
    for number in range(1, most + 2):
        if not promising and number <= most:
            continue
        following = _likely(job, problem, costs, done, more_m) if number <= most else _cheapest(problem, costs, done)
        promising = following is not None and following[0].less_than(least, alike)
        if following is None or not promising:
            continue
        placed = following[1]
        done.append(placed)
        progress(f"building places that leave less over, try {number}")
        other, attempt = built_at(job, stock, tasks, searched, Pair(*places_of(job, placed)), progress)
        tried.append(attempt)
        if other is None:
            continue
        more_m = _more_m(problem, placed, other)
        scrap = scrap_built(searched.question, other)
        if scrap is not None and scrap.less_than(least, alike):
            best, least = other, scrap
    return best, tuple(tried)


def _likely(
    job: Job, problem: PlaceProblem, costs: PlaceCosts, done: Sequence[Placing], more_m: Mapping[Point, float]
) -> tuple[Scrap, Placing] | None:
    """The best pair off the places that were tried, with runs as much longer as they were laid."""
    places = [place for placed in done for place in places_of(job, placed)[0].values()]
    faces = tuple(without(face, places) for face in problem.faces)
    likely = replace(problem, faces=faces, runs=LaidLonger(problem.runs, more_m))
    return least_scrap(likely, costs, scrap_step_m(problem))


def _cheapest(problem: PlaceProblem, costs: PlaceCosts, done: Sequence[Placing]) -> tuple[Scrap, Placing] | None:
    """The places of least money: whoever asks for least cost may leave no less. None where a price is missing, or they
    were tried."""
    stock = problem.stock
    in_money = replace(problem, stock=replace(stock, rules=replace(stock.rules, least_waste=False)))
    priced = PlaceCosts(in_money)
    best = searched_for(in_money, priced).best if priced.measure.first == "money" else None
    return None if best is None or best in done else (scrap_told(costs, best), best)


def _stand_at(job: Job, placed: Placing, built: Built) -> bool:
    """Whether what was built stands at these places: the best ones cannot always be built."""
    return places_of(job, placed)[0] == dict(built.places)


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

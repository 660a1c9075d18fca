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
from cutlist.planning.build import Built, build
from cutlist.planning.built_places import scrap_built
from cutlist.planning.grid_places import tried_at
from cutlist.planning.searched_places import Pair, Searched, places_of, scrap_step_m, scrap_told, searched_for
from cutlist.progress import Progress
from geometry.runs import Point

MOST_BUILT = 2  # beyond the first, each with what the one before showed


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
    """What was built, or what leaves less over as it is laid; and what was tried."""
    problem, costs = searched.question.problem, searched.costs
    alike = alike_um(problem)
    least = scrap_built(searched.question, built)
    placed = searched.placing
    if least is None or not scrap_told(costs, placed).less_than(least, alike):
        return built, ()
    tried: list[PlaceTried] = []
    done = [placed]
    best, last = built, built

    def try_at(placing: Placing) -> Built | None:
        nonlocal best, least
        done.append(placing)
        progress("building a place that leaves less over")
        pair = Pair(*places_of(job, placing))
        other = build(job, stock, tasks, pair.places, progress, pair.studs, explain=False)
        attempt = replace(tried_at(job, pair.places, other), cost=None)
        if isinstance(other, Built) and other.laid.not_laid:
            attempt = replace(attempt, why_not="a lead's surplus finds no room here")
        tried.append(attempt)
        scrap = scrap_built(searched.question, other) if isinstance(other, Built) and not attempt.why_not else None
        if isinstance(other, Built) and scrap is not None and least is not None and scrap.less_than(least, alike):
            best, least = other, scrap
        return other if isinstance(other, Built) else None

    for _ in range(MOST_BUILT):
        likely = replace(problem, runs=LaidLonger(problem.runs, _more_m(problem, done[-1], last)))
        found = least_scrap(likely, costs, scrap_step_m(problem))
        if found is None or not found[0].less_than(least, alike) or _stood(job, found[1], done):
            break
        following = try_at(found[1])
        if following is None:
            break
        last = following
    cheapest = _cheapest(problem)
    if cheapest is not None and scrap_told(costs, cheapest).less_than(least, alike) and not _stood(job, cheapest, done):
        try_at(cheapest)  # what is asked for by money leaves no less
    return best, tuple(tried)


def _cheapest(problem: PlaceProblem) -> Placing | None:
    """The places of least money; None where a price is missing."""
    stock = problem.stock
    in_money = replace(problem, stock=replace(stock, rules=replace(stock.rules, least_waste=False)))
    costs = PlaceCosts(in_money)
    return searched_for(in_money, costs).best if costs.measure.first == "money" else None


def _stood(job: Job, placed: Placing, done: Sequence[Placing]) -> bool:
    pair = places_of(job, placed)
    return any(places_of(job, other) == pair for other in done)


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

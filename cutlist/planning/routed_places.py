"""Places chosen by routed runs where run lengths alone leave something open.

The search knows runs by lengths that are never too long. Where what was built costs more than its bound, the places it
likes are routed one after the other. By how much a run turned out longer is likely much the same near there: with that
counted the search is asked again, until it likes nothing better than the best that was routed. What it is asked then
is a guess where to look; the bound of the plan is never taken from it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from cutlist.bank.job import Job
from cutlist.bank.stock import Stock
from cutlist.layout.cable_ends import CableTask
from cutlist.layout.every_pair import best_of_every_pair
from cutlist.layout.place_costs import PlaceCosts
from cutlist.layout.place_problem import Array, RunLengths
from cutlist.layout.placings import Placing, class_row
from cutlist.layout.posts import with_posts
from cutlist.layout.run_lengths import joined, run_requests, shortest_runs
from cutlist.layout.scene import space_with_bank
from cutlist.layout.stud_fits import case_with
from cutlist.layout.yardsticks import LeastCost
from cutlist.planning.build import Built
from cutlist.planning.searched_places import FINEST_M, Pair, Searched, is_small, places_of, searched_for
from cutlist.progress import Progress
from geometry.runs import NoRun, Point

ROUNDS, ROUNDS_OF_SMALL = 6, 24  # places routed at the most; more for small jobs, which are quick
LONG_M = 0.1  # leads so much shorter than the longest are not routed: they decide nothing
ALIKE_M = 0.15  # so far from where a run was routed nothing is told from it any more
SAME_PLACE_M = 1e-4


@dataclass(frozen=True)
class RoutedRun:
    terminal: Point
    stud: Point
    lies: Point  # the lug lies along this, one way or the other
    out: Point  # the stud points along this
    length_m: float


@dataclass(frozen=True)
class Corrected:
    """Run lengths as the runs that were routed suggest them: longer near there by about as much as those were, and by
    no less than the way between the studs leaves of it."""

    plain: RunLengths
    routed: tuple[RoutedRun, ...]
    alike_m: float = ALIKE_M

    @property
    def speaks_of(self) -> str:
        return f"{self.plain.speaks_of}, corrected by routed runs"

    def lengths(self, terminals: Array, studs: Array, lies: Array) -> Array:
        """The least they may be: what is not short enough even so need not be routed."""
        return self.bounds(terminals, studs, lies)

    def bounds(self, terminals: Array, studs: Array, lies: Array) -> Array:
        return self._longer(self.plain.bounds(terminals, studs, lies), terminals, studs, lies)

    def _longer(self, found: Array, terminals: Array, studs: Array, lies: Array) -> Array:
        for row, terminal in enumerate(terminals):
            runs = [(run, excess_m) for run, excess_m in self._excess if math.dist(run.terminal, terminal) < 1e-9]
            if not runs:
                continue
            away_m = np.linalg.norm(studs[None] - np.array([run.stud for run, _ in runs])[:, None], axis=2)
            alike = np.abs(np.array([run.lies for run, _ in runs]) @ lies[:, 0].T) > 1 - 1e-6
            away_m = np.where(alike, away_m, np.inf)
            least_m = (np.array([run.length_m for run, _ in runs])[:, None] - away_m).max(axis=0)
            found[row] = np.maximum(found[row] + self._likely_more(away_m, [more_m for _, more_m in runs]), least_m)
        return found

    def _likely_more(self, away_m: Array, more_m: Sequence[float]) -> Array:
        """What runs so far away (k, n) that are so much longer (k,) suggest of others (n,)."""
        weight = 1 / np.maximum(away_m, SAME_PLACE_M) ** 2
        told_m = np.array(more_m) @ weight / np.maximum(weight.sum(axis=0), 1e-12)
        fading = np.clip(1 - away_m.min(axis=0) / max(self.alike_m, SAME_PLACE_M), 0, 1)
        return np.asarray(fading * told_m)

    @cached_property
    def _excess(self) -> tuple[tuple[RoutedRun, float], ...]:
        """Each run and by how much it is longer than its plain length."""
        return tuple((run, max(run.length_m - self._plain_m(run), 0.0)) for run in self.routed)

    def _plain_m(self, run: RoutedRun) -> float:
        lies = np.array([[run.lies, run.out]])
        return float(self.plain.bounds(np.array([run.terminal]), np.array([run.stud]), lies)[0, 0])


def better_routed(
    job: Job,
    stock: Stock,
    tasks: Sequence[CableTask],
    searched: Searched,
    built: Built,
    units: int,
    progress: Progress,
) -> tuple[tuple[int, Pair], ...]:
    """Pairs of places whose runs, routed one by one, cost less than what was built, which cost so many units of the
    search; each with that cost, the best first."""
    better: list[tuple[int, Pair]] = []
    routed: list[RoutedRun] = []
    placed = searched.found.best
    small = is_small(searched.question.problem)
    rounds = ROUNDS_OF_SMALL if small else ROUNDS
    for number in range(1, rounds + 1):
        if placed is None:
            break
        progress("routing runs to likely places", number, rounds)
        pair = Pair(*places_of(job, placed))
        runs = _routed(job, stock, tasks, pair, placed, math.inf if small else LONG_M)
        if runs is None:
            break  # what finds no way is for `next_pair` to leave out
        if number == 1:  # what was built: dressed beside each other its cables came out longer
            runs = _as_laid(runs, built)
        cost = _cost(_costs_of(searched, placed), placed, runs)
        if cost < units:
            units = cost
            if number > 1:
                better.insert(0, (cost, pair))
        routed += runs.values()
        placed = (_likely_of_every if small else _likely)(searched, tuple(routed), units)
    return tuple(better)


def _costs_of(searched: Searched, placed: Placing) -> PlaceCosts:
    """Of the conductors whose lugs go on the same studs as those of these places."""
    build = placed.build
    case = case_with(searched.question.problem, build.lead_conductor, build.feeder_conductor)
    return searched.costs if case is searched.question.problem else searched.costs.of_case(case)


def _likely(searched: Searched, routed: tuple[RoutedRun, ...], units: int) -> Placing | None:
    """The places that should cost least by what was routed, if that is less than so many units."""
    problem = searched.question.problem
    found = searched_for(replace(problem, runs=Corrected(problem.runs, routed)), searched.costs)
    return found.best if found.certificate is not None and found.certificate.cost < units else None


def _likely_of_every(searched: Searched, routed: tuple[RoutedRun, ...], units: int) -> Placing | None:
    """The same of every pair of places that a person can mark: first with runs near those that were routed much like
    them, then with only what is sure of them."""
    problem = searched.question.problem
    for alike_m in (ALIKE_M, 0.0):
        corrected = replace(problem, runs=Corrected(problem.runs, routed, alike_m))
        found = best_of_every_pair(corrected, searched.costs, FINEST_M, units)
        if found is not None:
            return found
    return None


def _routed(
    job: Job, stock: Stock, tasks: Sequence[CableTask], pair: Pair, placed: Placing, shorter_m: float
) -> dict[str, RoutedRun] | None:
    """By cable: the feeders between bar and device, and the leads not so much shorter than the longest. None: one finds
    no way."""
    names = {"lead": placed.build.lead_conductor, "feeder": placed.build.feeder_conductor}
    conductors = {k: next(c for c in stock.conductors if c.name == name) for k, name in names.items() if name}
    runs_m: dict[str, float] = {}
    for layout in (placed.positive, placed.negative):
        runs_m |= {
            f"{string} {layout.pole}": m for (string, _), m in zip(layout.string_studs, layout.lead_runs_m, strict=True)
        }
    long_m = max(runs_m.values()) - shorter_m
    wanted = {name for name, m in runs_m.items() if m >= long_m}
    wanted |= {feeder for layout in (placed.positive, placed.negative) for feeder, _ in layout.feeder_studs}
    cables = [c for c in joined(job, tasks, pair.places, pair.studs) if c.name in wanted]
    space = with_posts(job, space_with_bank(job, [(bar, pair.places[bar.name]) for bar in job.bus_bars]), pair.places)
    found = {}
    for cable, run in zip(
        cables,
        shortest_runs(job, space, run_requests(job, stock, cables, conductors), explain=False),
        strict=True,
    ):
        if isinstance(run, NoRun):
            return None
        fixed, stud = (cable.start, cable.finish) if cable.finish.bar else (cable.finish, cable.start)
        out = pair.places[stud.bar].out
        found[cable.name] = RoutedRun(fixed.point, stud.point, stud.directions[0], out, run.length_m)
    return found


def _as_laid(runs: dict[str, RoutedRun], built: Built) -> dict[str, RoutedRun]:
    """With the feeders, and of all leads the longest, as long as they are laid: that is what must be paid for."""
    kinds = {cable.name: cable.kind for cable in built.cables}
    longest = max((name for name in runs if kinds[name] == "lead"), key=lambda n: runs[n].length_m, default="")
    laid_m = {name: built.laid.lengths[name].developed_m for name in runs if name == longest or kinds[name] != "lead"}
    return {name: replace(run, length_m=max(run.length_m, laid_m.get(name, 0.0))) for name, run in runs.items()}


def _cost(costs: PlaceCosts, placed: Placing, routed: dict[str, RoutedRun]) -> int:
    """In whole units of the search, the runs that were routed in place of those it knew."""
    rows = []
    for layout in (placed.positive, placed.negative):
        leads = [
            routed[name].length_m if (name := f"{string} {layout.pole}") in routed else m
            for (string, _), m in zip(layout.string_studs, layout.lead_runs_m, strict=True)
        ]
        feeders = [routed[feeder].length_m for feeder, _ in layout.feeder_studs]
        rows.append(class_row(costs, replace(layout, lead_runs_m=tuple(leads), feeder_runs_m=tuple(feeders))))
    return int(LeastCost(costs).scores(rows[0], rows[1])[0, 0])

"""Places chosen by routed runs where run lengths alone leave too much open.

The search knows runs by lengths that are never too long. Where what was built costs much more than its bound, the
places it likes are routed one after the other: a run that turned out longer is longer near there too, by no less than
the way between the studs leaves of it. With that known the search is asked again, until it likes nothing better than
the best that was routed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from cutlist.bank.job import Job
from cutlist.bank.stock import Stock
from cutlist.layout.bus_bar_places import Placing, class_row, find_places
from cutlist.layout.cable_ends import CableTask
from cutlist.layout.place_costs import PlaceCosts
from cutlist.layout.place_problem import Array, RunLengths
from cutlist.layout.run_lengths import joined, run_requests, shortest_runs
from cutlist.layout.scene import space_with_bank
from cutlist.layout.yardsticks import LeastCost
from cutlist.planning.searched_places import FINEST_M, WITHIN, Pair, Searched, places_of
from cutlist.progress import Progress
from cutlist.stock.price_table import IMPOSSIBLE
from geometry.runs import NoRun, Point

ROUNDS = 6  # places routed at the most
LONG_M = 0.1  # leads so much shorter than the longest are not routed: they decide nothing


@dataclass(frozen=True)
class RoutedRun:
    terminal: Point
    stud: Point
    lies: Point  # the lug lies along this, one way or the other
    length_m: float


@dataclass(frozen=True)
class Corrected:
    """Run lengths, none shorter than what runs routed near there allow."""

    plain: RunLengths
    routed: tuple[RoutedRun, ...]

    @property
    def speaks_of(self) -> str:
        return self.plain.speaks_of

    def lengths(self, terminals: Array, studs: Array, lies: Array) -> Array:
        return self._at_least(self.plain.lengths(terminals, studs, lies), terminals, studs, lies)

    def bounds(self, terminals: Array, studs: Array, lies: Array) -> Array:
        return self._at_least(self.plain.bounds(terminals, studs, lies), terminals, studs, lies)

    def _at_least(self, found: Array, terminals: Array, studs: Array, lies: Array) -> Array:
        for run in self.routed:
            same = np.flatnonzero((np.abs(terminals - np.array(run.terminal)) < 1e-9).all(axis=1))
            if not len(same):
                continue
            alike = np.abs(lies[:, 0] @ np.array(run.lies)) > 1 - 1e-6
            least = run.length_m - np.linalg.norm(studs - np.array(run.stud), axis=1)
            found[same] = np.maximum(found[same], np.where(alike, least, -np.inf))
        return found


def better_routed(
    job: Job, stock: Stock, tasks: Sequence[CableTask], searched: Searched, units: int, progress: Progress
) -> Pair | None:
    """A pair of places whose runs, routed one by one, cost less than so many units of the search; the best found."""
    best: Pair | None = None
    routed: list[RoutedRun] = []
    placed = searched.found.best
    problem = searched.question.problem
    for number in range(1, ROUNDS + 1):
        if placed is None:
            break
        progress("routing runs to likely places", number, ROUNDS)
        pair = Pair(*places_of(job, placed))
        runs = _routed(job, stock, tasks, pair, placed)
        cost = IMPOSSIBLE if runs is None else _cost(searched.costs, placed, runs)
        if cost < units:
            # the first is what was built: dressed beside each other its cables came out longer
            best, units = (pair if number > 1 else None), cost
        if runs is None:
            break  # what finds no way is for `next_pair` to leave out
        routed += runs.values()
        corrected = replace(problem, runs=Corrected(problem.runs, tuple(routed)))
        found = find_places(corrected, finest_m=FINEST_M, within=WITHIN, costs=searched.costs)
        placed = found.best
        if found.certificate is not None and found.certificate.cost >= units:
            break
    return best


def _routed(
    job: Job, stock: Stock, tasks: Sequence[CableTask], pair: Pair, placed: Placing
) -> dict[str, RoutedRun] | None:
    """By cable: the feeders between bar and device, and the leads that may be the longest. None: one finds no way."""
    names = {"lead": placed.build.lead_conductor, "feeder": placed.build.feeder_conductor}
    conductors = {k: next(c for c in stock.conductors if c.name == name) for k, name in names.items() if name}
    runs_m: dict[str, float] = {}
    for layout in (placed.positive, placed.negative):
        runs_m |= {
            f"{string} {layout.pole}": m for (string, _), m in zip(layout.string_studs, layout.lead_runs_m, strict=True)
        }
    long_m = max(runs_m.values()) - LONG_M
    wanted = {name for name, m in runs_m.items() if m >= long_m}
    wanted |= {feeder for layout in (placed.positive, placed.negative) for feeder, _ in layout.feeder_studs}
    cables = [c for c in joined(job, tasks, pair.places, pair.studs) if c.name in wanted]
    space = space_with_bank(job, [(bar, pair.places[bar.name]) for bar in job.bus_bars])
    found = {}
    for cable, run in zip(
        cables,
        shortest_runs(job, space, run_requests(job, stock, cables, conductors), explain=False),
        strict=True,
    ):
        if isinstance(run, NoRun):
            return None
        fixed, stud = (cable.start, cable.finish) if cable.finish.bar else (cable.finish, cable.start)
        found[cable.name] = RoutedRun(fixed.point, stud.point, stud.directions[0], run.length_m)
    return found


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

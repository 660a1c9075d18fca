"""How long would the run be, from a few terminals to very many places? Quick, for choosing where studs go.

One distance field a terminal over the way points that matter, evaluated at a place only when it is asked for. These
are taut ways past everything at the cable's standoff, without the bends that a lug's direction asks for: good for
comparing places, not for cutting.
"""

from __future__ import annotations

import math

import numpy as np

from geometry.clearances import Clearances, Flags, Indices, Numbers
from geometry.runs import CableShape
from geometry.space import Space
from geometry.way_graph import WayGraph

APART_M = 0.6  # way points along a long edge
ROUNDS = 40  # of looking at what else stands in the way
SIGHTS_AT_ONCE = 6  # way points tried for each place in one go


def run_lengths(space: Space, cable: CableShape, terminals: Numbers, places: Numbers) -> Numbers:
    """Metres (k, n) of the taut way from each terminal (k, 3) to each place (n, 3); infinite where there is none.

    Terminals and places may lie nearer to a solid than the cable's standoff: the way first leads straight off it.
    """
    return Field(space, cable, terminals).lengths_m(places)


class Field:
    """Taut lengths from a few terminals. What is found out for some places is used for the next."""

    def __init__(self, space: Space, cable: CableShape, terminals: Numbers) -> None:
        self.around = Clearances(space)
        self.standoff_m = cable.standoff_m
        self.terminals = np.asarray(terminals, dtype=float).reshape(-1, 3)
        self.sources, self.source_m = self._lifted(self.terminals)
        self.graph: WayGraph | None = None

    def lengths_m(self, places: Numbers) -> Numbers:
        """Metres (k, n) from each terminal to each of the places (n, 3); infinite where no way was found."""
        wanted = np.asarray(places, dtype=float).reshape(-1, 3)
        targets, target_m = self._lifted(wanted)
        if self.graph is None:
            middle = targets.mean(axis=0) if len(targets) else self.sources.mean(axis=0)
            self.graph = WayGraph(self.around, self.sources.mean(axis=0), middle, self.standoff_m, math.inf, APART_M)
        result = np.empty((len(self.sources), len(targets)))
        for k, source in enumerate(self.sources):
            for _ in range(ROUNDS):
                found_m, links = self._from(source, targets)
                fresh = self.graph.blocking(links[0], links[1], np.vstack([*links, places_between(*links)]))
                if not len(fresh):
                    break
                self.graph.add_solids(fresh)
            result[k] = found_m + self.source_m[k] + target_m
        return result

    def _from(self, source: Numbers, targets: Numbers) -> tuple[Numbers, tuple[Numbers, Numbers]]:
        """Lengths (n,) from one source, and every straight stretch that those ways use."""
        graph = self.graph
        assert graph is not None
        seen = ~self._hidden(np.broadcast_to(source, targets.shape), targets)
        direct_m = np.linalg.norm(targets - source, axis=1)
        length_m = np.where(seen, direct_m, math.inf)
        starts = [np.broadcast_to(source, (int(seen.sum()), 3))]
        ends = [targets[seen]]
        rest = np.flatnonzero(~seen)
        if len(rest) and graph.alive.any():
            reached, before = self._spread(source)
            via_m, via = self._last_step(reached, targets[rest])
            length_m[rest] = via_m
            used = np.zeros(len(graph.points), dtype=bool)
            got = np.isfinite(via_m)
            used[via[got]] = True
            starts.append(graph.points[via[got]])
            ends.append(targets[rest[got]])
            chain = np.flatnonzero(used)
            while len(chain):  # back along the ways to the source
                parents = before[chain]
                first = parents < 0
                starts += [np.broadcast_to(source, (int(first.sum()), 3)), graph.points[parents[~first]]]
                ends += [graph.points[chain[first]], graph.points[chain[~first]]]
                fresh = parents[~first][~used[parents[~first]]]
                used[fresh] = True
                chain = np.unique(fresh)
        return length_m, (np.vstack(starts), np.vstack(ends))

    def _spread(self, source: Numbers) -> tuple[Numbers, Indices]:
        """Length from the source to every way point, and the way point before it (-1: the source)."""
        graph = self.graph
        assert graph is not None
        points = graph.points
        reached = np.full(len(points), math.inf)
        living = np.flatnonzero(graph.alive)
        seen = living[~self._hidden(np.broadcast_to(source, (len(living), 3)), points[living])]
        reached[seen] = np.linalg.norm(points[seen] - source, axis=1)
        nowhere, free = np.full(len(points), math.inf), np.zeros(len(points))
        reached, before, _, _ = graph.spread(reached, nowhere, free, free)
        return reached, before

    def _last_step(self, reached: Numbers, targets: Numbers) -> tuple[Numbers, Indices]:
        """For each target (n, 3) the least length over a way point that sees it, and that way point."""
        graph = self.graph
        assert graph is not None
        total = reached + np.linalg.norm(targets[:, None] - graph.points[None], axis=2)
        total[:, ~graph.alive] = math.inf
        order = np.argsort(total, axis=1, kind="stable")
        found_m = np.full(len(targets), math.inf)
        via = np.full(len(targets), -1, dtype=np.intp)
        open_ = np.arange(len(targets))
        for first in range(0, order.shape[1], SIGHTS_AT_ONCE):
            tried = order[open_, first : first + SIGHTS_AT_ONCE]
            costs = np.take_along_axis(total[open_], tried, axis=1)
            hopeful = np.isfinite(costs[:, 0])
            open_, tried, costs = open_[hopeful], tried[hopeful], costs[hopeful]
            if not len(open_):
                break
            width = tried.shape[1]
            hidden = self._hidden(np.repeat(targets[open_], width, axis=0), graph.points[tried.ravel()])
            costs = np.where(hidden.reshape(tried.shape), math.inf, costs)
            best = costs.argmin(axis=1)
            rows = np.arange(len(open_))
            got = np.isfinite(costs[rows, best])
            found_m[open_[got]] = costs[rows, best][got]
            via[open_[got]] = tried[rows, best][got]
            open_ = open_[~got]
        return found_m, via

    def _hidden(self, starts: Numbers, ends: Numbers) -> Flags:
        assert self.graph is not None
        return self.around.blocked(starts, ends, self.graph.active, self.standoff_m)

    def _lifted(self, points: Numbers) -> tuple[Numbers, Numbers]:
        """Points moved straight off whatever they are too near to, and by how much."""
        moved = moved_off(self.around, points, self.standoff_m)
        return moved, np.linalg.norm(moved - points, axis=1)


def moved_off(around: Clearances, points: Numbers, standoff_m: float) -> Numbers:
    """Points (n, 3) moved straight off whatever they stand nearer to than the standoff."""
    moved = points.copy()
    wanted_m = standoff_m + 5e-4
    for _ in range(6):
        near = around.near(moved, wanted_m)
        if not len(near) or not len(moved):
            break
        gaps = around.distances(moved, near)
        worst = gaps.argmin(axis=1)
        short_m = wanted_m - gaps[np.arange(len(moved)), worst]
        low = np.flatnonzero(short_m > 1e-6)
        if not len(low):
            break
        moved[low] += short_m[low, None] * around.slopes(moved[low], near[worst[low]])
    return moved


def places_between(starts: Numbers, ends: Numbers) -> Numbers:
    """Places along segments, close enough together to find what is near them."""
    shares = np.linspace(0.0, 1.0, 9)[1:-1, None, None]
    return (starts + shares * (ends - starts)).reshape(-1, 3)

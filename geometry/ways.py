"""Which way round? Polylines from lug to lug that pass everything at the cable's standoff.

Best-first search over way points. Only solids that stand in the way are looked at: the search starts with none and
adds those that block its best way so far, so a scene of a thousand solids costs little more than one of fifty.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from geometry.bends import turn_corners, turn_in
from geometry.clearances import Clearances, Indices, Numbers
from geometry.footing import Footing
from geometry.way_graph import BLOCKED, FREE, UNKNOWN, WayGraph
from geometry.waypoints import APART_M, Waypoints, lug_waypoints

WAYS_OF_PAIR = 3


@dataclass(frozen=True, eq=False)
class Way:
    """One way round, from one footing to another."""

    start: Footing
    finish: Footing
    corners: Numbers  # (k, 3) between the studs
    open_path: Numbers  # (m, 3) the part that keeps the standoff from everything
    edges: tuple[int, ...]  # the edges it bends round, in order
    length_m: float  # its corners rounded, but not yet pulled taut


class WaySearch:
    """Ways from any of the start's footings to any of the finish's."""

    def __init__(
        self,
        around: Clearances,
        starts: list[Footing],
        finishes: list[Footing],
        standoff_m: float,
        radius_m: float,
        apart_m: float = APART_M,
        within_m: float = math.inf,
    ) -> None:
        self.around = around
        self.starts, self.finishes = starts, finishes
        self.standoff_m, self.radius_m = standoff_m, radius_m
        from_ = np.mean([foot.clear for foot in starts], axis=0)
        to = np.mean([foot.clear for foot in finishes], axis=0)
        direct_m = float(np.linalg.norm(to - from_))
        reach_m = min(
            max(1.6 * direct_m, direct_m + 0.8), within_m + _spread_m(starts, from_) + _spread_m(finishes, to)
        )
        self.graph = WayGraph(around, from_, to, standoff_m, reach_m, apart_m)
        self.feet = [np.zeros(0, dtype=np.intp), np.zeros(0, dtype=np.intp)]
        self.end_state = [np.zeros((0, len(starts)), np.int8), np.zeros((0, len(finishes)), np.int8)]
        self.reach: list[Numbers] = [np.zeros((0, len(starts))), np.zeros((0, len(finishes)))]
        self.turns = [[(np.zeros(0), np.zeros((0, 3))) for _ in feet] for feet in (starts, finishes)]
        self.dear: dict[int, float] = {}
        self.shunned: set[Way] = set()  # straight ones that are not wanted again
        self.pair: tuple[int, int] | None = None

    def finer(self, apart_m: float, within_m: float) -> WaySearch:
        """Another search, with way points closer together, of what can be on a way no longer than this."""
        fine = WaySearch(self.around, self.starts, self.finishes, self.standoff_m, self.radius_m, apart_m, within_m)
        fine._straight_ways = self._straight_ways  # from the same footings
        fine.add_turns()
        fine._look_at(self.graph.active)
        return fine

    def from_to(self, pair: tuple[int, int]) -> Iterator[Way]:
        """Ways from this footing to that one, short ones first, each by edges that those before passed less."""
        dear: dict[int, float] = {}
        shunned: set[Way] = set()
        for _ in range(WAYS_OF_PAIR):
            self.pair, self.dear, self.shunned = pair, dear, shunned
            way = self.best()
            if way is not None:
                self.shun(way, 0.05)
            self.pair, self.dear, self.shunned = None, {}, set()
            if way is None:
                return
            yield way

    def add_turns(self) -> None:
        """Way points round the lugs: where an end is cramped the taut way does not show how to get out."""
        edge = -1
        for foot in [*self.starts, *self.finishes]:
            found = lug_waypoints(foot, 0, self.radius_m)
            self.graph.add_points(Waypoints(found.points, edge - np.arange(len(found.points))))
            edge -= len(found.points)

    def widen(self) -> None:
        """Look further afield than at first."""
        self.graph.widen()

    def shun(self, way: Way, share: float) -> None:
        """Make the edges of a way dearer by a share of its length, so that another is found next; a way without any is
        not given again."""
        if not way.edges:
            self.shunned.add(way)
        for edge in way.edges:
            self.dear[edge] = self.dear.get(edge, 0.0) + share * way.length_m

    def best(self) -> Way | None:
        """The shortest way over the way points; None if there is none."""
        for _ in range(60):
            way = self._direct() or self._search()
            if way is None:
                return None
            blockers = self.graph.blockers(way.open_path)
            if not len(blockers):
                return way
            self._look_at(blockers)
        return None

    def through(self, start: Footing, finish: Footing, middle: Numbers) -> Way:
        """The way from one footing to another by these corners (k, 3)."""
        return self._joined(start, finish, middle, ())

    def _look_at(self, solids: Indices) -> None:
        self.graph.add_solids(solids)
        for state in self.end_state:
            state[state == FREE] = UNKNOWN

    def _direct(self) -> Way | None:
        """Straight from lug to lug, bent only as the lugs ask, if nothing known is in the way."""
        if self.dear:
            return None
        for start, finish, way in self._straight_ways:
            if way in self.shunned or (self.pair is not None and (start, finish) != self.pair):
                continue
            path = way.open_path
            if not self.around.blocked(path[:-1], path[1:], self.graph.active, self.standoff_m).any():
                return way
        return None

    @cached_property
    def _straight_ways(self) -> list[tuple[int, int, Way]]:
        """Without way points, from each footing to each, shortest first."""
        ways = [
            (i, j, self._joined(start, finish, np.zeros((0, 3)), ()))
            for i, start in enumerate(self.starts)
            for j, finish in enumerate(self.finishes)
        ]
        return sorted(ways, key=lambda found: found[2].length_m)

    def _search(self) -> Way | None:
        points, edges = self.graph.points, self.graph.way.edges
        count = len(points)
        if not self.graph.alive.any():
            return None
        self._ends()
        self._test_ends(0)
        self._test_ends(1)
        dear = np.array([self.dear.get(int(edge), 0.0) for edge in edges]) if self.dear else np.zeros(count)
        least = np.linalg.norm(points - self.graph.to, axis=1)  # never more than what is left to go
        _, before, _, last = self.graph.spread(self._least_end(0) + dear, self._least_end(1), least, dear)
        if last < 0:
            return None
        chain = [last]
        while before[chain[-1]] >= 0:
            chain.append(int(before[chain[-1]]))
        chain.reverse()
        start = self.starts[int(self.feet[0][chain[0]])]
        finish = self.finishes[int(self.feet[1][chain[-1]])]
        return self._joined(start, finish, points[chain], tuple(int(edges[i]) for i in chain))

    def _joined(self, start: Footing, finish: Footing, middle: Numbers, edges: tuple[int, ...]) -> Way:
        first = middle[0] if len(middle) else finish.clear
        last = middle[-1] if len(middle) else start.clear
        leaving, arriving = self._turned(start, first), self._turned(finish, last)
        open_path = np.vstack([start.clear, *leaving, *middle, *arriving[::-1], finish.clear])
        leaving = [*start.lifted[:-1], *leaving] or [start.launch + 0.02 * self.radius_m * start.way]
        arriving = [*finish.lifted[:-1], *arriving] or [finish.launch + 0.02 * self.radius_m * finish.way]
        corners = np.vstack([*leaving, *middle, *arriving[::-1]])
        path = np.vstack([start.point, corners, finish.point])
        return Way(start, finish, corners, open_path, edges, _rounded_m(path, self.radius_m))

    def _turned(self, foot: Footing, towards: Numbers) -> list[Numbers]:
        """Corners of the bend that leads from where a footing is clear round towards a point."""
        _, angle, side = turn_in(towards[None], foot.clear, foot.way, self.radius_m)
        if angle[0] < 0.02:
            return []
        return turn_corners(foot.clear, foot.way, side[0], float(angle[0]), self.radius_m)

    def _ends(self) -> None:
        """Length of a bend and a straight from each footing to each way point; those known already stay."""
        points = self.graph.points
        for which, feet in enumerate((self.starts, self.finishes)):
            state = np.zeros((len(points), len(feet)), dtype=np.int8)
            state[: len(self.end_state[which])] = self.end_state[which]
            state[~self.graph.alive] = BLOCKED
            self.end_state[which] = state
            fresh = points[len(self.reach[which]) :]
            if not len(fresh):
                continue
            lengths = []
            for chosen, foot in enumerate(feet):
                length, angle, side = turn_in(fresh, foot.clear, foot.way, self.radius_m)
                lengths.append(length + foot.straight_m + foot.lift_m)
                angles, sides = self.turns[which][chosen]
                self.turns[which][chosen] = np.concatenate([angles, angle]), np.concatenate([sides, side])
            self.reach[which] = np.concatenate([self.reach[which], np.array(lengths).T])

    def _least_end(self, which: int) -> Numbers:
        """Least length from that end to each way point by a footing from which it is clear; infinity: none."""
        open_ = np.where(self.end_state[which] == FREE, self.reach[which], np.inf)
        if self.pair is not None:
            open_[:, np.arange(open_.shape[1]) != self.pair[which]] = np.inf
        self.feet[which] = open_.argmin(axis=1)
        return open_.min(axis=1)

    def _test_ends(self, which: int) -> None:
        """Find out, for every way point not asked yet, whether the bend and straight from each footing are clear."""
        for chosen, foot in enumerate((self.starts, self.finishes)[which]):
            state = self.end_state[which][:, chosen]
            asked = np.flatnonzero((state == UNKNOWN) & np.isfinite(self.reach[which][:, chosen]))
            if not len(asked):
                continue
            angles, sides = self.turns[which][chosen]
            turn = angles[asked, None] * np.array([0.0, 0.5, 1.0])
            bend = foot.clear + self.radius_m * (
                np.sin(turn)[..., None] * foot.way + (1 - np.cos(turn))[..., None] * sides[asked, None]
            )
            points = self.graph.points[asked]
            hit = self.around.blocked(bend[:, 2], points, self.graph.active, self.standoff_m)
            rest = np.flatnonzero(~hit)
            for i in (0, 1):
                chord = self.around.blocked(bend[rest, i], bend[rest, i + 1], self.graph.active, 0.75 * self.standoff_m)
                hit[rest[chord]] = True
            state[asked] = np.where(hit, BLOCKED, FREE)


def _rounded_m(path: Numbers, radius_m: float) -> float:
    """Length of a polyline (k, 3) whose corners are rounded, as far as its legs are long enough for that."""
    steps = np.diff(path, axis=0)
    legs = np.sqrt(np.einsum("ij,ij->i", steps, steps))
    steps, legs = steps[legs > 1e-9], legs[legs > 1e-9]
    ways = steps / legs[:, None]
    turns = np.arccos(np.clip(np.einsum("ij,ij->i", ways[:-1], ways[1:]), -1.0, 1.0))
    cut = np.minimum(radius_m * np.tan(np.minimum(turns, 3.0) / 2), np.minimum(legs[:-1], legs[1:]) / 2)
    saved = cut * (2 - turns / np.maximum(np.tan(turns / 2), 1e-9))
    return float(legs.sum() - saved.sum())


def _spread_m(feet: list[Footing], middle: Numbers) -> float:
    """How far the footings' clear places are from the middle that stands for them."""
    return max(float(np.linalg.norm(foot.clear - middle)) for foot in feet)

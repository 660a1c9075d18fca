"""Which way round? Polylines from lug to lug that pass everything at the cable's standoff.

Best-first search over way points. Only solids that stand in the way are looked at: the search starts with none and
adds those that block its best way so far, so a scene of a thousand solids costs little more than one of fifty.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from geometry.bends import turn_corners, turn_in
from geometry.clearances import Clearances, Flags, Indices, Numbers
from geometry.footing import Footing
from geometry.waypoints import (
    Waypoints,
    edge_waypoints,
    hole_waypoints,
    lug_waypoints,
    no_waypoints,
    offset_edges,
    room_waypoints,
)

EDGES_OF_ONE = 100_000  # numbers kept for the edges of one solid
UNKNOWN, FREE, BLOCKED = 0, 1, 2


@dataclass(frozen=True, eq=False)
class Way:
    """One way round, from one footing to another."""

    start: Footing
    finish: Footing
    corners: Numbers  # (k, 3) between the studs
    open_path: Numbers  # (m, 3) the part that keeps the standoff from everything
    edges: tuple[int, ...]  # the edges it bends round, in order
    length_m: float  # roughly


class WaySearch:
    """Ways from any of the start's footings to any of the finish's."""

    def __init__(
        self, around: Clearances, starts: list[Footing], finishes: list[Footing], standoff_m: float, radius_m: float
    ) -> None:
        self.around = around
        self.starts, self.finishes = starts, finishes
        self.standoff_m, self.radius_m = standoff_m, radius_m
        self.from_ = np.mean([foot.clear for foot in starts], axis=0)
        self.to = np.mean([foot.clear for foot in finishes], axis=0)
        direct_m = float(np.linalg.norm(self.to - self.from_))
        self.ellipse_m = max(1.6 * direct_m, direct_m + 0.8)
        self.active = np.zeros(0, dtype=np.intp)
        self.way = no_waypoints()
        self.known = np.zeros((0, 0), dtype=np.int8)
        self.costs = [np.zeros(0), np.zeros(0)]
        self.feet = [np.zeros(0, dtype=np.intp), np.zeros(0, dtype=np.intp)]
        self.end_state = [np.zeros((0, len(starts)), np.int8), np.zeros((0, len(finishes)), np.int8)]
        self.dear: dict[int, float] = {}
        if around.walls >= 0:
            self._add_solids(np.array([around.walls], dtype=np.intp))

    def add_turns(self) -> None:
        """Way points round the lugs: where an end is cramped the taut way does not show how to get out."""
        edge = -1
        for foot in [*self.starts, *self.finishes]:
            found = lug_waypoints(foot, 0, self.radius_m)
            self._add_points(Waypoints(found.points, edge - np.arange(len(found.points))))
            edge -= len(found.points)

    def widen(self) -> None:
        """Look further afield than at first."""
        self.ellipse_m = math.inf
        active, self.active = self.active, np.zeros(0, dtype=np.intp)
        self.way, self.known = no_waypoints(), np.zeros((0, 0), dtype=np.int8)
        self.end_state = [np.zeros((0, len(self.starts)), np.int8), np.zeros((0, len(self.finishes)), np.int8)]
        self._add_solids(active)

    def shun(self, way: Way, share: float) -> None:
        """Make the edges of a way dearer by a share of its length, so that another is found next."""
        for edge in way.edges:
            self.dear[edge] = self.dear.get(edge, 0.0) + share * way.length_m

    def best(self) -> Way | None:
        """The shortest way over the way points; None if there is none."""
        for _ in range(60):
            way = self._direct() or self._search()
            if way is None:
                return None
            blockers = self._blockers(way)
            if not len(blockers):
                return way
            self._add_solids(blockers)
        return None

    def _direct(self) -> Way | None:
        """Straight from lug to lug, bent only as the lugs ask, if nothing known is in the way."""
        if self.dear:
            return None
        found: Way | None = None
        for start in self.starts:
            for finish in self.finishes:
                way = self._joined(start, finish, np.zeros((0, 3)), ())
                if (found is None or way.length_m < found.length_m) and not len(self._blockers(way, self.active)):
                    found = way
        return found

    def _blockers(self, way: Way, which: Indices | None = None) -> Indices:
        """Solids that the way runs into, of these or of all that are not looked at yet."""
        path = way.open_path
        if which is None:
            spots = np.linspace(0, 1, 9)[:, None, None]
            points = (path[None, :-1] + spots * (path[1:] - path[:-1])[None]).reshape(-1, 3)
            which = np.setdiff1d(self.around.near(points, self.standoff_m + 0.3), self.active)
        if not len(which):
            return which
        _, solids = self.around.blocked_pairs(path[:-1], path[1:], which, self.standoff_m)
        return which[np.unique(solids)]

    def _search(self) -> Way | None:
        points = self.way.points
        count = len(points)
        if not count:
            return None
        self._ends()
        self._test_ends(0)
        self._test_ends(1)
        dear = np.array([self.dear.get(int(edge), 0.0) for edge in self.way.edges]) if self.dear else np.zeros(count)
        onward = self._least_end(1)
        reached = self._least_end(0) + dear
        least = np.linalg.norm(points - self.to, axis=1)  # never more than what is left to go
        before = np.full(count, -1, dtype=np.intp)
        settled = np.zeros(count, dtype=bool)
        best_m, last = math.inf, -1
        rank = reached + least
        for _ in range(count):
            here = int(np.where(settled, np.inf, rank).argmin())
            if settled[here] or not rank[here] < best_m:
                break
            settled[here] = True
            if reached[here] + onward[here] < best_m:
                best_m, last = reached[here] + onward[here], here
            steps = np.linalg.norm(points - points[here], axis=1)
            through = reached[here] + steps + dear
            better = np.flatnonzero(~settled & (through < reached - 1e-9) & (through + least < best_m))
            if not len(better):
                continue
            better = better[self._visible(here, better)]
            reached[better] = through[better]
            before[better] = here
            rank[better] = reached[better] + least[better]
        if last < 0:
            return None
        chain = [last]
        while before[chain[-1]] >= 0:
            chain.append(int(before[chain[-1]]))
        chain.reverse()
        start = self.starts[int(self.feet[0][chain[0]])]
        finish = self.finishes[int(self.feet[1][chain[-1]])]
        edges = tuple(int(self.way.edges[i]) for i in chain)
        return self._joined(start, finish, points[chain], edges)

    def _joined(self, start: Footing, finish: Footing, middle: Numbers, edges: tuple[int, ...]) -> Way:
        first = middle[0] if len(middle) else finish.clear
        last = middle[-1] if len(middle) else start.clear
        leaving, arriving = self._turned(start, first), self._turned(finish, last)
        open_path = np.vstack([start.clear, *leaving, *middle, *arriving[::-1], finish.clear])
        leaving = [*start.lifted[:-1], *leaving] or [start.launch + 0.02 * self.radius_m * start.way]
        arriving = [*finish.lifted[:-1], *arriving] or [finish.launch + 0.02 * self.radius_m * finish.way]
        corners = np.vstack([*leaving, *middle, *arriving[::-1]])
        path = np.vstack([start.point, corners, finish.point])
        length_m = float(np.linalg.norm(np.diff(path, axis=0), axis=1).sum())
        return Way(start, finish, corners, open_path, edges, length_m)

    def _turned(self, foot: Footing, towards: Numbers) -> list[Numbers]:
        """Corners of the bend that leads from where a footing is clear round towards a point."""
        _, angle, side = turn_in(towards[None], foot.clear, foot.way, self.radius_m)
        if angle[0] < 0.02:
            return []
        return turn_corners(foot.clear, foot.way, side[0], float(angle[0]), self.radius_m)

    # what is known of the way points

    def _add_solids(self, solids: Indices) -> None:
        fresh = np.setdiff1d(solids, self.active)
        tried, on_ends = np.nonzero(self.known == FREE)
        if len(tried):
            hit = self.around.blocked(self.way.points[tried], self.way.points[on_ends], fresh, self.standoff_m)
            self.known[tried[hit], on_ends[hit]] = BLOCKED
        for state in self.end_state:
            state[state == FREE] = UNKNOWN
        self.active = np.concatenate([self.active, fresh])
        if len(self.way.points):
            self._keep(np.all(self.around.distances(self.way.points, fresh) >= self.standoff_m, axis=1))
        for solid in fresh.tolist():
            first = solid * EDGES_OF_ONE
            if solid == self.around.walls:
                self._add_points(room_waypoints(self.around, first, self.standoff_m))
                continue
            lines = offset_edges(self.around, solid, self.standoff_m)
            self._add_points(edge_waypoints(lines, first, self.from_, self.to))
            self._add_points(hole_waypoints(self.around, solid, first + EDGES_OF_ONE // 2, self.standoff_m))

    def _keep(self, kept: Flags) -> None:
        self.way = Waypoints(self.way.points[kept], self.way.edges[kept])
        self.known = self.known[np.ix_(kept, kept)]
        self.end_state = [state[kept] for state in self.end_state]

    def _add_points(self, found: Waypoints) -> None:
        if not len(found.points):
            return
        reach = np.linalg.norm(found.points - self.from_, axis=1) + np.linalg.norm(found.points - self.to, axis=1)
        kept = reach <= self.ellipse_m
        if kept.any() and len(self.active):
            kept[kept] = (self.around.distances(found.points[kept], self.active) >= self.standoff_m).all(axis=1)
        if not kept.any():
            return
        self.way = self.way.joined(Waypoints(found.points[kept], found.edges[kept]))
        grown = np.zeros((len(self.way.points),) * 2, dtype=np.int8)
        grown[: len(self.known), : len(self.known)] = self.known
        self.known = grown
        for which, feet in enumerate((self.starts, self.finishes)):
            state = np.zeros((len(self.way.points), len(feet)), dtype=np.int8)
            state[: len(self.end_state[which])] = self.end_state[which]
            self.end_state[which] = state

    def _visible(self, here: int, others: Indices) -> Flags:
        state = self.known[here, others]
        fresh = others[state == UNKNOWN]
        if len(fresh):
            here_points = np.broadcast_to(self.way.points[here], (len(fresh), 3))
            hit = self.around.blocked(here_points, self.way.points[fresh], self.active, self.standoff_m)
            self.known[here, fresh] = self.known[fresh, here] = np.where(hit, BLOCKED, FREE)
        return self.known[here, others] == FREE

    def _ends(self) -> None:
        """Length of a bend and a straight from each footing to each way point."""
        self.reach: list[Numbers] = []
        self.turns: list[list[tuple[Numbers, Numbers]]] = []
        for feet in (self.starts, self.finishes):
            lengths, turns = [], []
            for foot in feet:
                length, angle, side = turn_in(self.way.points, foot.clear, foot.way, self.radius_m)
                lengths.append(length + foot.straight_m + foot.lift_m)
                turns.append((angle, side))
            self.reach.append(np.array(lengths).T)
            self.turns.append(turns)

    def _least_end(self, which: int) -> Numbers:
        """Least length from that end to each way point by a footing from which it is clear; infinity: none."""
        open_ = np.where(self.end_state[which] == FREE, self.reach[which], np.inf)
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
            points = self.way.points[asked]
            hit = self.around.blocked(bend[:, 2], points, self.active, self.standoff_m)
            rest = np.flatnonzero(~hit)
            for i in (0, 1):
                chord = self.around.blocked(bend[rest, i], bend[rest, i + 1], self.active, 0.75 * self.standoff_m)
                hit[rest[chord]] = True
            state[asked] = np.where(hit, BLOCKED, FREE)

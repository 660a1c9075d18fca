"""Way points and which of them see each other, found out only when asked.

Only solids that were named as standing in the way are looked at; what stands in nobody's way costs nothing.
"""

from __future__ import annotations

import math

import numpy as np

from geometry.clearances import Clearances, Flags, Indices, Numbers
from geometry.rungs import Rungs, rungs_on
from geometry.waypoints import (
    APART_M,
    Waypoints,
    edge_waypoints,
    hole_waypoints,
    no_waypoints,
    offset_edges,
    room_waypoints,
)

EDGES_OF_ONE = 100_000  # numbers kept for the edges of one solid
UNKNOWN, FREE, BLOCKED = 0, 1, 2


class WayGraph:
    """Way points of the solids looked at so far, for runs between two places.

    Points stay once they are there; one that a later solid buries is no longer `alive`.
    """

    def __init__(
        self,
        around: Clearances,
        from_: Numbers,
        to: Numbers,
        standoff_m: float,
        reach_m: float,
        apart_m: float = APART_M,
    ) -> None:
        self.around = around
        self.from_, self.to = from_, to
        self.standoff_m, self.reach_m, self.apart_m = standoff_m, reach_m, apart_m
        self.active: Indices = np.zeros(0, dtype=np.intp)
        self.way = no_waypoints()
        self.alive: Flags = np.zeros(0, dtype=bool)
        self.known = np.zeros((0, 0), dtype=np.int8)
        if around.walls >= 0:
            self.add_solids(np.array([around.walls], dtype=np.intp))

    @property
    def points(self) -> Numbers:
        return self.way.points

    def widen(self) -> None:
        """Look further afield than at first."""
        self.reach_m = math.inf
        active, self.active = self.active, np.zeros(0, dtype=np.intp)
        self.alive[:] = False
        self.add_solids(active)

    def add_solids(self, solids: Indices) -> None:
        """Look at these solids from now on: they block, and one may bend round them."""
        fresh = self._not_yet(solids)
        if not len(fresh):
            return
        one, two = np.nonzero(self.known == FREE)
        if len(one):
            hit = self.around.blocked(self.points[one], self.points[two], fresh, self.standoff_m)
            self.known[one[hit], two[hit]] = BLOCKED
        self.active = np.concatenate([self.active, fresh])
        living = np.flatnonzero(self.alive)
        if len(living):
            clear = self.around.distances(self.points[living], fresh) >= self.standoff_m
            self.alive[living] = np.all(clear, axis=1)
        for solid in fresh.tolist():
            first = solid * EDGES_OF_ONE
            if solid == self.around.walls:
                self.add_points(room_waypoints(self.around, first, self.standoff_m))
                continue
            self.add_points(edge_waypoints(self._rungs(solid), first, self.from_, self.to))
            self.add_points(hole_waypoints(self.around, solid, first + EDGES_OF_ONE // 2, self.standoff_m))

    def _rungs(self, solid: int) -> Rungs:
        """Along the solid's edges; the runs of one scene share them."""
        key = (solid, self.standoff_m, self.apart_m)
        if key not in self.around.rungs:
            self.around.rungs[key] = rungs_on(offset_edges(self.around, solid, self.standoff_m), self.apart_m)
        return self.around.rungs[key]

    def _not_yet(self, solids: Indices) -> Indices:
        """Those of the solids that are not looked at, in order."""
        wanted = np.zeros(self.around.count, dtype=bool)
        wanted[solids] = True
        wanted[self.active] = False
        return np.flatnonzero(wanted)

    def add_points(self, found: Waypoints) -> None:
        """Way points within reach that are clear of everything looked at."""
        if not len(found.points):
            return
        reach = np.linalg.norm(found.points - self.from_, axis=1) + np.linalg.norm(found.points - self.to, axis=1)
        kept = reach <= self.reach_m
        if kept.any() and len(self.active):
            clear = self.around.distances(found.points[kept], self.active) >= self.standoff_m
            kept[kept] = np.all(clear, axis=1)
        if not kept.any():
            return
        self.way = self.way.joined(Waypoints(found.points[kept], found.edges[kept]))
        grown = np.zeros((len(self.points),) * 2, dtype=np.int8)
        grown[: len(self.known), : len(self.known)] = self.known
        self.known = grown
        self.alive = np.concatenate([self.alive, np.ones(int(kept.sum()), dtype=bool)])

    def visible(self, here: int, others: Indices) -> Flags:
        """Which of the other way points (m,) are seen from this one."""
        fresh = others[self.known[here, others] == UNKNOWN]
        if len(fresh):
            stand = np.broadcast_to(self.points[here], (len(fresh), 3))
            hit = self.around.blocked(stand, self.points[fresh], self.active, self.standoff_m)
            self.known[here, fresh] = self.known[fresh, here] = np.where(hit, BLOCKED, FREE)
        return np.asarray(self.known[here, others] == FREE, dtype=np.bool_)

    def spread(
        self, reached: Numbers, onward: Numbers, least: Numbers, dear: Numbers
    ) -> tuple[Numbers, Indices, float, int]:
        """Best-first search from way points already `reached` (n,) at a length, to where `onward` (n,) says how far
        it is from each to the goal; `least` (n,) is never more than that. Passing a point costs `dear` (n,) more.

        Returns the lengths reached (n,), the way point before each (-1: none), the length of the best way to the goal
        and its last way point (-1: there is none).
        """
        reached, settled = reached.copy(), ~self.alive
        if self.around.packed is not None:
            best_m, last, before = self.around.packed.spread(
                self.points, reached, onward, least, dear, settled, self.known, self.active, self.standoff_m
            )
            return reached, before, best_m, last
        before = np.full(len(reached), -1, dtype=np.intp)
        best_m, last = math.inf, -1
        for _ in range(len(reached)):
            rank = np.where(settled, math.inf, reached + least)
            here = int(rank.argmin())
            if not rank[here] < best_m:
                break
            settled[here] = True
            if reached[here] + onward[here] < best_m:
                best_m, last = float(reached[here] + onward[here]), here
            through = reached[here] + np.linalg.norm(self.points - self.points[here], axis=1) + dear
            better = np.flatnonzero(~settled & (through < reached - 1e-9) & (through + least < best_m))
            if len(better):
                better = better[self.visible(here, better)]
                reached[better] = through[better]
                before[better] = here
        return reached, before, best_m, last

    def blockers(self, path: Numbers) -> Indices:
        """Solids not looked at yet that a polyline (m, 3) runs into."""
        spots = np.linspace(0, 1, 9)[:, None, None]
        points = (path[None, :-1] + spots * (path[1:] - path[:-1])[None]).reshape(-1, 3)
        return self.blocking(path[:-1], path[1:], points)

    def blocking(self, starts: Numbers, ends: Numbers, places: Numbers) -> Indices:
        """Solids not looked at yet, near any of the places, that any of these segments runs into."""
        which = self._not_yet(self.around.near(places, self.standoff_m + 0.3))
        if not len(which):
            return which
        _, solids = self.around.blocked_pairs(starts, ends, which, self.standoff_m)
        return which[np.unique(solids)]

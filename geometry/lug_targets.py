"""Where lugs' straights end, the studs asked for, and what is told of the ways to them; for `lug_fields.py`."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np

from geometry.clearances import Indices, Numbers
from geometry.launches import each_onward
from geometry.way_graph import FREE, UNKNOWN, WayGraph


@dataclass(frozen=True, eq=False)
class Launches:
    """Where lugs' straights end: points (n, 3), their ways (n, 3), and places (n, s, 3) from which the curve looks
    out after that: the point itself moved off what it is too near to, and some a bend further."""

    points: Numbers
    ways: Numbers
    lookouts: Numbers

    def __len__(self) -> int:
        return len(self.points)

    def __getitem__(self, some: slice) -> Launches:
        return Launches(self.points[some], self.ways[some], self.lookouts[some])


@dataclass(frozen=True, eq=False)
class Lengths:
    """Metres (k, n), infinite where no way was found; by how much each grows a metre that the stud moves (k, n, 3); and
    which way it is (k, n): ways of a kind differ in nothing but where they begin and end.

    A way of one kind is convex in where the stud is: it is nowhere shorter than its slope at another place says.
    """

    metres: Numbers
    slope: Numbers
    kind: Indices


class Targets:
    """Studs asked for, how far each way point is from them at least, and which of them it sees; as far as looked at."""

    def __init__(self, launches: Launches) -> None:
        self.launches = launches
        self.solids = 0
        self.onward_m: Numbers = np.zeros((len(launches), 0))  # the straight line where not `known`
        self.known = np.zeros((len(launches), 0), dtype=bool)
        self.sight = np.zeros((len(launches), 0), dtype=np.int8)

    def look_at(self, graph: WayGraph) -> None:
        fresh = graph.points[self.onward_m.shape[1] :]
        if len(fresh):
            apart = [fresh[None, :, axis] - self.launches.points[:, axis, None] for axis in range(3)]
            straight_m = np.sqrt(apart[0] ** 2 + apart[1] ** 2 + apart[2] ** 2)
            self.onward_m = np.concatenate([self.onward_m, straight_m], axis=1)
            more = np.zeros(straight_m.shape, dtype=np.int8)
            self.known = np.concatenate([self.known, more.astype(bool)], axis=1)
            self.sight = np.concatenate([self.sight, more], axis=1)
        if len(graph.active) != self.solids:  # what was seen may be hidden by those
            self.solids = len(graph.active)
            self.sight[self.sight == FREE] = UNKNOWN

    def know(self, which: Indices, points: Indices, graph: WayGraph, radius_m: float, over_m: float) -> None:
        """The bends counted between each of these targets and the way point of its own."""
        fresh = ~self.known[which, points]
        which, points = which[fresh], points[fresh]
        launches = self.launches
        onward_m, _ = each_onward(launches.points[which], launches.ways[which], graph.points[points], radius_m, over_m)
        self.onward_m[which, points] = onward_m
        self.known[which, points] = True


def put_together(parts: Sequence[Lengths]) -> Lengths:
    return Lengths(*(np.concatenate([getattr(p, f.name) for p in parts]) for f in fields(Lengths)))

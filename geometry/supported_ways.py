"""Which way round, so that a clamp can be fixed often enough? Polylines from lug to lug along structure.

A best-first search over way points at edges and on faces that carries, besides the length, how far it is since the
last place where a clamp can be fixed. A longer way that was held more lately is kept beside a shorter one.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from geometry.clearances import Clearances, Flags, Indices, Numbers
from geometry.face_points import all_waypoints, face_waypoints, thinned
from geometry.footing import Footing
from geometry.structure import Structure, bare_stretches, in_a_row
from geometry.way_graph import FREE
from geometry.waypoints import Waypoints, lug_waypoints
from geometry.ways import Way, WaySearch

LEG_M = 0.9  # no leg between two way points is longer; structure longer than that has points on the way
THIN_M = 0.05
NEVER_M = 1e-9
MOST_LABELS = 6000  # looked at before the search gives up
SHARPEST_RAD = 2.2  # of a turn at one way point


@dataclass(frozen=True)
class _Label:
    length_m: float
    point: int
    bare_m: float  # since the last place where a clamp can be fixed
    room_m: float  # of the leg that led here, left for the bend at this point
    foot: int  # of the start
    before: int  # number of the label it came from; -1: the start


class SupportedWays(WaySearch):
    """Ways on which two places for clamps, or a stud and the first of them, lie no further apart than the span.

    Ways longer than `most_m` are not looked for.
    """

    def __init__(
        self,
        structure: Structure,
        starts: list[Footing],
        finishes: list[Footing],
        standoff_m: float,
        radius_m: float,
        *,
        span_m: float,
        most_m: float,
    ) -> None:
        around = structure.around
        super().__init__(around, starts, finishes, standoff_m, radius_m)
        self.structure, self.span_m, self.most_m = structure, span_m, most_m
        graph = self.graph
        graph.reach_m = most_m
        low, high = _ellipsoid(graph.from_, graph.to, most_m)
        solids = _within(around, low - 3 * radius_m, high + 3 * radius_m)
        graph.active = solids
        found = thinned(all_waypoints(around, solids, graph.from_, graph.to, standoff_m, 0.3), THIN_M)
        edge = -1
        for foot in [*starts, *finishes]:
            turns = lug_waypoints(foot, 0, radius_m)
            found = found.joined(Waypoints(turns.points, edge - np.arange(len(turns.points))))
            edge -= len(turns.points)
        graph.add_points(found.joined(face_waypoints(structure, low, high, standoff_m)))
        count = len(graph.points)
        self.holds = np.intersect1d(solids, structure.solids)
        self.head = np.full((count, count), np.nan, dtype=np.float32)  # bare from one towards another
        self.inside = np.full((count, count), np.nan, dtype=np.float32)
        if count:
            self._ends()
            self._test_ends(0)
            self._test_ends(1)
        self._leaving_ways: list[Numbers] = []  # of each footing: the heading in which it arrives at each way point
        self._arriving_ways: list[Numbers] = []
        self._bare_ends = [[self._bare_end(which, chosen) for chosen in range(len(feet))]
                           for which, feet in enumerate((starts, finishes))] if count else []  # fmt: skip

    def best(self) -> Way | None:
        """The shortest such way over the way points; None if there is none."""
        points, edges = self.graph.points, self.graph.way.edges
        if not len(points):
            return None
        labels: list[_Label] = []
        queue: list[tuple[float, int]] = []
        dear = np.array([self.dear.get(int(edge), 0.0) for edge in edges]) if self.dear else np.zeros(len(points))
        least = np.linalg.norm(points - self.graph.to, axis=1)
        # the least length at which a point was or will be reached just after a hold, with room for any bend
        held_at_m = np.full(len(points), math.inf)
        settled: list[list[tuple[float, float]]] = [[] for _ in range(len(points))]

        def push(label: _Label, left_m: float) -> None:
            labels.append(label)
            heapq.heappush(queue, (label.length_m + left_m, len(labels) - 1))

        self._set_out(push, least, dear)
        goal: tuple[float, int, int] = (math.inf, -1, -1)
        looked = 0
        while queue and looked < MOST_LABELS:
            rank, number = heapq.heappop(queue)
            if rank >= min(goal[0], self.most_m + sum(self.dear.values())):
                break
            label = labels[number]
            here = label.point
            if any(bare <= label.bare_m + NEVER_M and room >= label.room_m for bare, room in settled[here]):
                continue
            settled[here].append((label.bare_m, label.room_m))
            looked += 1
            heading = self._heading(labels, number)
            for chosen in range(len(self.finishes)):
                arrived_m = self._arrive(label, heading, chosen)
                if arrived_m < goal[0]:
                    goal = (arrived_m, number, chosen)
            self._go_on(push, label, number, heading, goal[0], held_at_m, least, dear)
        if goal[1] < 0:
            return None
        chain, number = [], goal[1]
        foot = labels[number].foot
        while number >= 0:
            chain.append(labels[number].point)
            number = labels[number].before
        chain.reverse()
        kept = self._without_idle(chain)
        return self._joined(self.starts[foot], self.finishes[goal[2]], points[kept], tuple(int(edges[i]) for i in kept))

    def _set_out(self, push: Callable[[_Label, float], None], least: Numbers, dear: Numbers) -> None:
        for chosen in range(len(self.starts)):
            bare, room_m = self._bare_ends[0][chosen]
            lengths = self.reach[0][:, chosen]
            open_ = self.end_state[0][:, chosen] == FREE
            for point in np.flatnonzero(open_ & (np.maximum(bare[:, 0], bare[:, 1]) <= self.span_m)).tolist():
                length_m = float(lengths[point])
                push(_Label(length_m + dear[point], point, float(bare[point, 2]), float(room_m[point]), chosen, -1),
                     float(least[point]))  # fmt: skip
            nowhere = open_ & ~np.isfinite(bare[:, 0]) & (lengths <= self.span_m)
            for point in np.flatnonzero(nowhere).tolist():
                length_m = float(lengths[point])
                push(_Label(length_m + dear[point], point, length_m, float(room_m[point]), chosen, -1),
                     float(least[point]))  # fmt: skip

    def _arrive(self, label: _Label, heading: Numbers, chosen: int) -> float:
        """The whole length if from here the last bend and straight to the finish keep the rules; else infinity."""
        here = label.point
        if self.end_state[1][here, chosen] != FREE:
            return math.inf
        left_m = float(self.reach[1][here, chosen])
        bare, room_m = self._bare_ends[1][chosen]
        head_m, inside_m = float(bare[here, 2]), float(bare[here, 1])  # the finish looks back
        last_m = float(bare[here, 0])
        first_m = label.bare_m + (head_m if math.isfinite(head_m) else left_m)
        if first_m > self.span_m or (math.isfinite(last_m) and max(inside_m, last_m) > self.span_m):
            return math.inf
        onward = -self._arriving_ways[chosen][here]
        tangent_m = self._tangent_m(heading[None], onward[None])[0]
        if tangent_m > min(label.room_m, float(room_m[here])):
            return math.inf
        return label.length_m + left_m

    def _go_on(
        self,
        push: Callable[[_Label, float], None],
        label: _Label,
        number: int,
        heading: Numbers,
        best_m: float,
        held_at_m: Numbers,
        least: Numbers,
        dear: Numbers,
    ) -> None:
        graph, here = self.graph, label.point
        step = graph.points - graph.points[here]
        legs = np.sqrt(np.einsum("ij,ij->i", step, step))
        reached = label.length_m + legs + dear
        most_m = min(best_m, self.most_m + sum(self.dear.values()))
        likely = graph.alive & (legs > 1e-4) & (legs <= LEG_M) & (reached + least < most_m)
        likely &= reached < held_at_m - NEVER_M
        others = np.flatnonzero(likely)
        ways = step[others] / legs[others, None]
        tangents = self._tangent_m(np.broadcast_to(heading, ways.shape), ways)
        fitting = tangents <= np.minimum(label.room_m, legs[others])
        others, tangents = others[fitting], tangents[fitting]
        if not len(others):
            return
        seen = graph.visible(here, others)
        others, tangents = others[seen], tangents[seen]
        head, inside, tail = self._bare(here, others)
        held = np.isfinite(head)
        first = label.bare_m + np.where(held, head, legs[others])
        good = (first <= self.span_m) & (~held | (inside <= self.span_m))
        others, tangents, held, first, tail = others[good], tangents[good], held[good], first[good], tail[good]
        bare_m = np.where(held, tail, first)
        rooms = legs[others] - tangents
        at_hold = (bare_m <= 1e-6) & (rooms >= self.radius_m)
        held_at_m[others[at_hold]] = np.minimum(held_at_m[others[at_hold]], reached[others[at_hold]])
        for other, bare, room in zip(others.tolist(), bare_m.tolist(), rooms.tolist(), strict=True):
            push(_Label(float(reached[other]), other, bare, room, label.foot, number), float(least[other]))

    def _heading(self, labels: list[_Label], number: int) -> Numbers:
        label = labels[number]
        if label.before < 0:
            return self._leaving_ways[label.foot][label.point]
        way = self.graph.points[label.point] - self.graph.points[labels[label.before].point]
        return np.asarray(way / np.linalg.norm(way))

    def _tangent_m(self, before: Numbers, after: Numbers) -> Numbers:
        """How far before and behind a corner (n,) its bend begins and ends; infinity where it turns too sharply."""
        cosine = np.clip(np.einsum("ij,ij->i", before, after), -1.0, 1.0)
        turn = np.arccos(cosine)
        return np.where(turn > SHARPEST_RAD, np.inf, self.radius_m * np.tan(np.minimum(turn, 3.0) / 2))

    def _bare(self, here: int, others: Indices) -> tuple[Numbers, Numbers, Numbers]:
        """Bare stretches of the legs from one way point to others: before the first hold, between, behind the last."""
        fresh = others[np.isnan(self.head[here, others])]
        if len(fresh):
            points = self.graph.points
            stand = np.broadcast_to(points[here], (len(fresh), 3))
            found = bare_stretches(self.structure, stand, points[fresh], self.holds)
            self.head[here, fresh], self.head[fresh, here] = found[:, 0], found[:, 2]
            self.inside[here, fresh] = self.inside[fresh, here] = found[:, 1]
        return (
            self.head[here, others].astype(float),
            self.inside[here, others].astype(float),
            self.head[others, here].astype(float),
        )

    def _bare_end(self, which: int, chosen: int) -> tuple[Numbers, Numbers]:
        """Of the bend and straight from a footing to each way point: bare stretches (n, 3), and the straight's length.

        No clamp sits on the lug's straight.
        """
        foot: Footing = (self.starts, self.finishes)[which][chosen]
        points = self.graph.points
        bare, room_m = np.full((len(points), 3), np.inf), np.zeros(len(points))
        reach = self.reach[which][:, chosen]
        asked = np.flatnonzero((self.end_state[which][:, chosen] == FREE) & (reach <= self.span_m + LEG_M))
        ways = self._leaving_ways if which == 0 else self._arriving_ways
        angles, sides = self.turns[which][chosen]
        turn = angles[asked, None] * np.array([0.0, 0.5, 1.0])
        bend = foot.clear + self.radius_m * (
            np.sin(turn)[..., None] * foot.way + (1 - np.cos(turn))[..., None] * sides[asked, None]
        )
        last = bend[:, 2]
        straight = points[asked] - last
        room_m[asked] = np.linalg.norm(straight, axis=1)
        way = np.tile(foot.way, (len(points), 1))
        way[asked] = np.where(room_m[asked, None] > 1e-9, straight / np.maximum(room_m[asked, None], 1e-9), foot.way)
        ways.append(way)
        to_clear_m = foot.straight_m + foot.lift_m
        found = np.column_stack([np.full(len(asked), np.inf), np.zeros(len(asked)), np.full(len(asked), np.inf)])
        before_m = np.full(len(asked), to_clear_m)
        half_m = self.radius_m * angles[asked] / 2
        for one, two, length_m in (
            (bend[:, 0], bend[:, 1], half_m),
            (bend[:, 1], last, half_m),
            (last, points[asked], room_m[asked]),
        ):
            part = bare_stretches(self.structure, one, two, self.holds)
            found = in_a_row(found, before_m, part, length_m)
            before_m = before_m + length_m
        bare[asked] = found
        return bare, room_m

    def _without_idle(self, chain: list[int]) -> list[int]:
        """The way points at which it turns: a straight that passes over points of a face needs only its ends."""
        points = self.graph.points
        kept: list[int] = []
        for i, here in enumerate(chain):
            if kept and i + 1 < len(chain):
                before, after = points[here] - points[kept[-1]], points[chain[i + 1]] - points[here]
                cosine = float(before @ after) / float(np.linalg.norm(before) * np.linalg.norm(after))
                if cosine > 0.9999:
                    continue
            kept.append(here)
        return kept


def _ellipsoid(from_: Numbers, to: Numbers, most_m: float) -> tuple[Numbers, Numbers]:
    """The box round all points whose distances from the two together are no more than this."""
    half = to - from_
    direct_m = float(np.linalg.norm(half))
    way = half / max(direct_m, 1e-9)
    long_m = max(most_m, direct_m) / 2
    short_m = math.sqrt(max(long_m**2 - (direct_m / 2) ** 2, 0.0))
    reach = np.sqrt((long_m * way) ** 2 + short_m**2 * (1 - way**2))
    middle = (from_ + to) / 2
    return middle - reach, middle + reach


def _within(around: Clearances, low: Numbers, high: Numbers) -> Indices:
    grown = around.keep_off[:, None]
    inside: Flags = ((around.low - grown <= high) & (around.high + grown >= low)).all(axis=1)
    return np.flatnonzero(inside)

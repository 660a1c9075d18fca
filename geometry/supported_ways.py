"""Which way round, so that a clamp can be fixed often enough? Polylines from lug to lug along structure.

A best-first search over way points at edges and on faces that carries, besides the length, how far it is since the
last place where a clamp can be fixed. A longer way that was held more lately is kept beside a shorter one.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from geometry.clearances import Clearances, Flags, Indices, Numbers
from geometry.face_points import all_waypoints, face_waypoints, thinned
from geometry.footing import Footing
from geometry.structure import Structure, bare_stretches, in_a_row
from geometry.way_graph import BLOCKED, FREE, UNKNOWN
from geometry.waypoints import Waypoints, lug_waypoints
from geometry.ways import Way, WaySearch

LEG_M = 0.9  # no leg between two way points is longer; structure longer than that has points on the way
THIN_M = 0.05
NEVER_M = 1e-9
STEPS_OUT = 150  # way points round a stud from which structure is looked for
HANGS_SPARE_M = 0.03  # where a stud is too far from structure the cable need not go there as the crow flies
LABELS_A_POINT = 3
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


@dataclass(frozen=True, eq=False)
class _Legs:
    """Legs from one way point to others: (n,) each. The last two are filled in as they are asked for."""

    points: Indices
    lengths_m: Numbers
    ways: Numbers  # (n, 3) unit
    solids: Indices  # those that may be near to any of the legs
    state: NDArray[np.int8]
    bare: Numbers  # (n, 3), see `bare_stretches`


class SupportedWays(WaySearch):
    """Ways on which two places for clamps, or a stud and the first of them, lie no further apart than the span.

    Where a stud is further from structure than that, `over_m` says by how much; there is no such way unless the cable
    is let hang so much further there (`let_hang`). Ways longer than `most_m` are not looked for.
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
        self.let_m = (0.0, 0.0)  # by how much start and finish may hang further than the span
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
        self._takes_clamps = np.isin(np.arange(around.count), self.holds)
        self._legs: dict[int, _Legs] = {}
        if count:
            self._ends()
            self._test_ends(0)
            self._test_ends(1)
        self._leaving_ways: list[Numbers] = []  # of each footing: the heading in which it arrives at each way point
        self._arriving_ways: list[Numbers] = []
        self._bare_ends = [[self._bare_end(which, chosen) for chosen in range(len(feet))]
                           for which, feet in enumerate((starts, finishes))] if count else []  # fmt: skip

    def let_hang(self) -> None:
        """Let the cable hang as far as it must to a stud that is too far from structure, and look afresh."""
        self.let_m = self.over_m
        self.dear = {}

    def best(self) -> Way | None:
        """The shortest such way over the way points; None if there is none."""
        points, edges = self.graph.points, self.graph.way.edges
        if not len(points) or any(over > let for over, let in zip(self.over_m, self.let_m, strict=True)):
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
            room_m = min(label.room_m, self.radius_m)  # enough for a quarter turn is enough
            before = settled[here]
            if len(before) >= LABELS_A_POINT or any(b <= label.bare_m + NEVER_M and r >= room_m for b, r in before):
                continue
            before.append((label.bare_m, room_m))
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

    @cached_property
    def over_m(self) -> tuple[float, float]:
        """By how much the nearest hold is further than the span from the start and from the finish; 0: it is not."""
        return self._over_m(0), self._over_m(1)

    def _over_m(self, which: int) -> float:
        nearest_m = math.inf
        queue: list[tuple[float, int]] = []
        for chosen, (bare, _) in enumerate(self._bare_ends[which]):
            open_ = self.end_state[which][:, chosen] == FREE
            nearest_m = min(nearest_m, float(bare[open_, 0].min(initial=math.inf)))
            lengths = self.reach[which][:, chosen]
            queue += [(float(lengths[i]), i) for i in np.flatnonzero(open_ & (lengths < nearest_m)).tolist()]
        heapq.heapify(queue)
        settled: set[int] = set()
        while queue and nearest_m > self.span_m and queue[0][0] < nearest_m and len(settled) < STEPS_OUT:
            length_m, here = heapq.heappop(queue)
            if here in settled:
                continue
            settled.add(here)
            legs = self._legs_from(here)
            within = np.flatnonzero(length_m + legs.lengths_m < nearest_m + LEG_M)
            self._look_along(here, legs, within)
            free = within[legs.state[within] == FREE]
            nearest_m = min(nearest_m, length_m + float(legs.bare[free, 0].min(initial=math.inf)))
            for i in free[~np.isfinite(legs.bare[free, 0])].tolist():
                heapq.heappush(queue, (length_m + float(legs.lengths_m[i]), int(legs.points[i])))
        return nearest_m + HANGS_SPARE_M - self.span_m if nearest_m > self.span_m else 0.0

    def _set_out(self, push: Callable[[_Label, float], None], least: Numbers, dear: Numbers) -> None:
        let_m = self.let_m[0]
        for chosen in range(len(self.starts)):
            bare, room_m = self._bare_ends[0][chosen]
            lengths = self.reach[0][:, chosen]
            open_ = self.end_state[0][:, chosen] == FREE
            held = np.isfinite(bare[:, 0])
            first = np.where(held, bare[:, 0], lengths) - let_m
            good = open_ & (first <= self.span_m) & (bare[:, 1] <= self.span_m)
            since = np.where(held, bare[:, 2], first)
            for point in np.flatnonzero(good).tolist():
                label = _Label(float(lengths[point] + dear[point]), point, float(since[point]), float(room_m[point]),
                               chosen, -1)  # fmt: skip
                push(label, float(least[point]))

    def _arrive(self, label: _Label, heading: Numbers, chosen: int) -> float:
        """The whole length if from here the last bend and straight to the finish keep the rules; else infinity."""
        here = label.point
        if self.end_state[1][here, chosen] != FREE:
            return math.inf
        left_m = float(self.reach[1][here, chosen])
        bare, room_m = self._bare_ends[1][chosen]
        head_m, inside_m = float(bare[here, 2]), float(bare[here, 1])  # the finish looks back
        last_m = float(bare[here, 0])
        let_m = self.let_m[1]
        if math.isfinite(head_m):
            hanging = label.bare_m + head_m > self.span_m or inside_m > self.span_m or last_m > self.span_m + let_m
        else:
            hanging = label.bare_m + left_m > self.span_m + let_m
        if hanging:
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
        legs = self._legs_from(label.point)
        reached = label.length_m + legs.lengths_m + dear[legs.points]
        most_m = min(best_m, self.most_m + sum(self.dear.values()))
        likely = (reached + least[legs.points] < most_m) & (reached < held_at_m[legs.points] - NEVER_M)
        chosen = np.flatnonzero(likely & (legs.state != BLOCKED))
        tangents = self._tangent_m(np.broadcast_to(heading, (len(chosen), 3)), legs.ways[chosen])
        fitting = tangents <= np.minimum(label.room_m, legs.lengths_m[chosen])
        chosen, tangents = chosen[fitting], tangents[fitting]
        self._look_along(label.point, legs, chosen)
        held = np.isfinite(legs.bare[chosen, 0])
        first = label.bare_m + np.where(held, legs.bare[chosen, 0], legs.lengths_m[chosen])
        good = (legs.state[chosen] == FREE) & (first <= self.span_m) & (legs.bare[chosen, 1] <= self.span_m)
        if not good.any():
            return
        chosen, tangents = chosen[good], tangents[good]
        points, reached = legs.points[chosen], reached[chosen]
        bare_m = np.where(held[good], legs.bare[chosen, 2], first[good])
        rooms = legs.lengths_m[chosen] - tangents
        at_hold = (bare_m <= 1e-6) & (rooms >= self.radius_m)
        held_at_m[points[at_hold]] = np.minimum(held_at_m[points[at_hold]], reached[at_hold])
        for values in zip(reached.tolist(), points.tolist(), bare_m.tolist(), rooms.tolist(), strict=True):
            push(_Label(*values, label.foot, number), float(least[values[1]]))

    def _legs_from(self, here: int) -> _Legs:
        """Legs from one way point to all others near enough; what is known of them is kept."""
        if here not in self._legs:
            step = self.graph.points - self.graph.points[here]
            lengths = np.sqrt(np.einsum("ij,ij->i", step, step))
            others = np.flatnonzero(self.graph.alive & (lengths > 1e-4) & (lengths <= LEG_M))
            within_m = LEG_M + self.standoff_m + self.structure.reach_m
            self._legs[here] = _Legs(
                others,
                lengths[others],
                step[others] / lengths[others, None],
                np.intersect1d(self.around.near(self.graph.points[here : here + 1], within_m), self.graph.active),
                np.full(len(others), UNKNOWN, dtype=np.int8),
                np.full((len(others), 3), np.inf),
            )
        return self._legs[here]

    def _look_along(self, here: int, legs: _Legs, chosen: Indices) -> None:
        """Find out of these legs, where it is not known, whether they are clear, and what of them is bare."""
        fresh = chosen[legs.state[chosen] == UNKNOWN]
        if not len(fresh):
            return
        stand = np.broadcast_to(self.graph.points[here], (len(fresh), 3))
        hit = self.around.blocked(stand, self.graph.points[legs.points[fresh]], legs.solids, self.standoff_m)
        legs.state[fresh] = np.where(hit, BLOCKED, FREE)
        free = fresh[~hit]
        holds = legs.solids[self._takes_clamps[legs.solids]]
        legs.bare[free] = bare_stretches(
            self.structure, stand[: len(free)], self.graph.points[legs.points[free]], holds
        )

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

"""How near is what: every solid that runs keep away from, in arrays, so that many points are measured at once.

Distances count the keep-off a solid asks for: from a hot box with 50 mm keep-off every distance is 50 mm less.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from geometry import kernel
from geometry.barriers import Barrier
from geometry.curve import Curve
from geometry.kernel import COMPILED, Packed, part_of
from geometry.rungs import Rungs
from geometry.solids import Box, Cylinder, Points, Prism, Solid, Triple
from geometry.space import Obstacle, Space

Numbers = NDArray[np.float64]
Indices = NDArray[np.intp]
Flags = NDArray[np.bool_]

BOX, ROUND, OTHER = 0, 1, 2
WALLS = "compartment walls"


@dataclass(frozen=True, eq=False)
class Rooms:
    """The inside of the compartments as something to keep clear of: distance to the wall, from within."""

    compartments: tuple[Obstacle, ...]

    @cached_property
    def convex(self) -> bool:
        """One compartment without inner corners: what is straight between two points in it stays in it."""
        if len(self.compartments) > 1:
            return False
        room = self.compartments[0].solid
        return isinstance(room, Box | Cylinder) or (isinstance(room, Prism) and room.convex)

    def signed_distance(self, points: Points) -> Numbers:
        """The radius of the ball round each point that stays in one compartment; negative outside all."""
        inside = [-c.solid.signed_distance(points) - c.keep_off_m for c in self.compartments]
        return inside[0] if len(inside) == 1 else np.maximum.reduce(inside)

    def bounds(self) -> Points:
        """Everywhere: a wall may be near any point."""
        return np.array([[-np.inf] * 3, [np.inf] * 3])


class Clearances:
    """The obstacles of a space in arrays; the compartments' walls, if there are any, are its last solid."""

    def __init__(self, space: Space) -> None:
        self.space = space
        self.names = [obstacle.name for obstacle in space.obstacles]
        solids: list[Solid | Rooms] = [_plain(obstacle.solid) for obstacle in space.obstacles]
        keep_off = [obstacle.keep_off_m for obstacle in space.obstacles]
        self.rooms = Rooms(tuple(replace(c, solid=_plain(c.solid)) for c in space.compartments))
        if space.compartments:
            solids.append(self.rooms)
            keep_off.append(0.0)
            self.names.append(WALLS)
        self.solids = solids
        self.keep_off = np.array(keep_off, dtype=float)
        self.count = len(solids)
        self.walls = self.count - 1 if space.compartments else -1
        parts = [None if isinstance(solid, Rooms) else part_of(solid) for solid in solids]
        everywhere = self.rooms.bounds()
        corners = np.array([everywhere if part is None else part.bounds for part in parts]).reshape(-1, 2, 3)
        self.low, self.high = corners[:, 0], corners[:, 1]
        self.kind = np.array([_kind(solid) for solid in solids], dtype=int)
        # one matrix takes points into every solid's own axes at once
        self.axes = np.zeros((self.count, 3, 3))
        self.centre = np.zeros((self.count, 3))
        self.half = np.full((self.count, 3), np.inf)
        for i, part in enumerate(parts):
            if part is not None:
                self.axes[i], self.centre[i], self.half[i] = part.axes, part.centre, part.half
        self.packed = self._packed() if COMPILED else None
        self.barriers: dict[tuple[int, float, bool], tuple[Barrier, ...]] = {}  # made when first asked for
        self.rungs: dict[tuple[int, float, float], Rungs] = {}  # the same

    def _packed(self) -> Packed:
        rooms = self.rooms.compartments
        stands = [solid for solid in self.solids if not isinstance(solid, Rooms)]
        return Packed(
            stands,
            self.keep_off[: len(stands)].tolist(),
            [room.solid for room in rooms],
            [room.keep_off_m for room in rooms],
            bool(rooms) and self.rooms.convex,
        )

    def distances(self, points: Points, which: Indices) -> Numbers:
        """Distances (n, k) from points (n, 3) to each of the solids `which` (k,), less their keep-off."""
        if self.packed is not None:
            return self.packed.distances(points, which)
        local = self._local(points, which)
        beyond = np.abs(local) - self.half[which]
        kinds = self.kind[which]
        if (kinds == ROUND).any():
            rounds = np.flatnonzero(kinds == ROUND)
            beyond[:, rounds, 0] = np.hypot(local[:, rounds, 0], local[:, rounds, 1]) - self.half[which[rounds], 0]
            beyond[:, rounds, 1] = np.minimum(beyond[:, rounds, 0], 0.0)
        outside = np.maximum(beyond, 0.0)
        result = np.sqrt(np.einsum("nki,nki->nk", outside, outside)) + np.minimum(beyond.max(axis=2), 0.0)
        for j in np.flatnonzero(kinds == OTHER):
            result[:, j] = self.solids[which[j]].signed_distance(points)
        return result - self.keep_off[which]

    def pair_distances(self, points: Points, which: Indices) -> Numbers:
        """Distances (n,) from point i to solid which[i], less its keep-off."""
        if self.packed is not None:
            return self.packed.pair_distances(points, which)
        local = np.einsum("nij,nj->ni", self.axes[which], points) - self.centre[which]
        beyond = np.abs(local) - self.half[which]
        kinds = self.kind[which]
        rounds = kinds == ROUND
        if rounds.any():
            beyond[rounds, 0] = np.hypot(local[rounds, 0], local[rounds, 1]) - self.half[which[rounds], 0]
            beyond[rounds, 1] = np.minimum(beyond[rounds, 0], 0.0)
        outside = np.maximum(beyond, 0.0)
        result = np.sqrt(np.einsum("ni,ni->n", outside, outside)) + np.minimum(beyond.max(axis=1), 0.0)
        others = np.flatnonzero(kinds == OTHER)
        if len(others):
            owners = which[others]
            for solid in np.unique(owners):
                mine = others[owners == solid]
                result[mine] = self.solids[solid].signed_distance(points[mine])
        return result - self.keep_off[which]

    def slopes(self, points: Points, which: Indices) -> Points:
        """Unit directions (n, 3) in which the distance from point i to solid which[i] grows."""
        step = 1e-6
        ahead = np.concatenate([points + step * axis for axis in np.eye(3)])
        behind = np.concatenate([points - step * axis for axis in np.eye(3)])
        both = self.pair_distances(np.concatenate([ahead, behind]), np.tile(which, 6))
        slope = ((both[: 3 * len(points)] - both[3 * len(points) :]) / (2 * step)).reshape(3, -1).T
        return slope / np.maximum(np.linalg.norm(slope, axis=1), 0.3)[:, None]

    def near(self, points: Points, within_m: float) -> Indices:
        """Solids whose bounding box comes within this distance of any of the points, keep-off counted."""
        if not self.count:
            return np.zeros(0, dtype=np.intp)
        if COMPILED:
            return kernel.near(self.low, self.high, within_m + self.keep_off, points)
        # first by the box round all points: cheap, and it leaves few
        gap = np.maximum(np.maximum(self.low - points.max(axis=0), points.min(axis=0) - self.high), 0.0)
        rough = np.flatnonzero(np.linalg.norm(gap, axis=1) < within_m + self.keep_off)
        gaps = np.maximum(self.low[rough] - points[:, None], points[:, None] - self.high[rough])
        gaps = np.maximum(gaps, 0.0)
        nearest = np.sqrt(np.einsum("nki,nki->nk", gaps, gaps).min(axis=0))
        return rough[nearest < within_m + self.keep_off[rough]]

    def least_along(
        self,
        curve: Curve,
        from_m: float,
        to_m: float,
        which: Indices,
        tolerance_m: float = 5e-5,
        enough_m: float = -math.inf,
    ) -> tuple[float, float, int]:
        """The least distance, less keep-off, from a stretch of a curve to these solids, where along it, to which.

        Right to the tolerance, or the first found below `enough_m`. Whoever moves a metre comes a metre nearer at
        most, so stretches are halved until they cannot hide a lesser distance. No solids: (infinity, from_m, -1).
        """
        if self.packed is not None:
            return self.packed.least_along(curve.table, from_m, to_m, which, tolerance_m, enough_m)
        least, place_m, to = math.inf, from_m, -1
        starts, ends = np.full(len(which), from_m), np.full(len(which), to_m)
        low = self.pair_distances(curve.points_at(starts), which)
        high = self.pair_distances(curve.points_at(ends), which)
        fresh, fresh_m = np.concatenate([low, high]), np.concatenate([starts, ends])
        solids = which
        owners = np.concatenate([which, which])
        while len(solids):
            lowest = int(fresh.argmin())
            if fresh[lowest] < least:
                least, place_m, to = float(fresh[lowest]), float(fresh_m[lowest]), int(owners[lowest])
            doubtful = (low + high - (ends - starts)) / 2 < least - tolerance_m
            if least < enough_m or not doubtful.any():
                break
            starts, ends, solids = starts[doubtful], ends[doubtful], solids[doubtful]
            low, high = low[doubtful], high[doubtful]
            middle = (starts + ends) / 2
            fresh, fresh_m, owners = self.pair_distances(curve.points_at(middle), solids), middle, solids
            starts, ends = np.concatenate([starts, middle]), np.concatenate([middle, ends])
            low, high = np.concatenate([low, fresh]), np.concatenate([fresh, high])
            solids = np.concatenate([solids, solids])
        return least, place_m, to

    def crossings(
        self, starts: Points, ends: Points, which: Indices, standoff_m: float
    ) -> tuple[Indices, Indices, Numbers, Numbers]:
        """Which segments enter which solid's own bounding box, grown by the standoff.

        Returns segment numbers, positions in `which`, and the shares of the segment at entry and exit.
        """
        one, two = self._local(starts, which), self._local(ends, which)
        along = two - one
        along[np.abs(along) < 1e-12] = 1e-12
        half = self.half[which] + (self.keep_off[which] + standoff_m)[:, None]
        low, high = (-half - one) / along, (half - one) / along
        enter = np.maximum(np.minimum(low, high).max(axis=2), 0.0)
        leave = np.minimum(np.maximum(low, high).min(axis=2), 1.0)
        segments, solids = np.nonzero(enter < leave)
        return segments, solids, enter[segments, solids], leave[segments, solids]

    def blocked_pairs(self, starts: Points, ends: Points, which: Indices, standoff_m: float) -> tuple[Indices, Indices]:
        """Segments (numbers) and solids (positions in `which`) where the segment comes nearer than the standoff.

        What is undecided after the last halving is taken as free: it is the laid curve that is certified, not this.
        """
        if self.packed is not None:
            segments, solids = np.nonzero(self.packed.blocked_matrix(starts, ends, which, standoff_m))
            return segments, solids
        if self.walls in which and self.rooms.convex:
            others = which != self.walls
            out = self._outside(starts, ends, standoff_m)
            segments, solids = self.blocked_pairs(starts, ends, which[others], standoff_m)
            wall = np.full(len(out), np.flatnonzero(~others)[0], dtype=np.intp)
            return np.concatenate([segments, out]), np.concatenate([np.flatnonzero(others)[solids], wall])
        segments, solids, low, high = self.crossings(starts, ends, which, standoff_m)
        if not len(segments):
            return segments, solids
        owners = which[solids]
        lengths = np.linalg.norm(ends - starts, axis=1)[segments]
        pair = np.arange(len(segments))
        low_d = self._at(starts, ends, segments, owners, low) - standoff_m
        high_d = self._at(starts, ends, segments, owners, high) - standoff_m
        state = (low_d < 0) | (high_d < 0)
        for _ in range(7):
            least = (low_d + high_d - (high - low) * lengths[pair]) / 2
            undecided = (least < 0) & ~state[pair]
            if not undecided.any():
                break
            pair, low, high = pair[undecided], low[undecided], high[undecided]
            low_d, high_d = low_d[undecided], high_d[undecided]
            middle = (low + high) / 2
            middle_d = self._at(starts, ends, segments[pair], owners[pair], middle) - standoff_m
            state[pair[middle_d < 0]] = True
            pair = np.concatenate([pair, pair])
            low, high = np.concatenate([low, middle]), np.concatenate([middle, high])
            low_d, high_d = np.concatenate([low_d, middle_d]), np.concatenate([middle_d, high_d])
        return segments[state], solids[state]

    def blocked(self, starts: Points, ends: Points, which: Indices, standoff_m: float) -> Flags:
        """Which segments (n,) come nearer than the standoff to any of these solids."""
        if self.packed is not None:
            return self.packed.blocked(starts, ends, which, standoff_m)
        result = np.zeros(len(starts), dtype=bool)
        if len(which) and len(starts):
            result[self.blocked_pairs(starts, ends, which, standoff_m)[0]] = True
        return result

    def _outside(self, starts: Points, ends: Points, standoff_m: float) -> Indices:
        """Segments that leave a convex room: it is enough to ask their ends."""
        inside = self.rooms.signed_distance(np.concatenate([starts, ends]))
        return np.flatnonzero((inside < standoff_m).reshape(2, -1).any(axis=0))

    def _at(self, starts: Points, ends: Points, segments: Indices, owners: Indices, share: Numbers) -> Numbers:
        points = starts[segments] + share[:, None] * (ends[segments] - starts[segments])
        return self.pair_distances(points, owners)

    def _local(self, points: Points, which: Indices) -> Numbers:
        """Points in each solid's own axes about its middle, (n, k, 3)."""
        matrix = self.axes[which].reshape(-1, 3)
        return (points @ matrix.T).reshape(len(points), len(which), 3) - self.centre[which]


def _plain(solid: Solid) -> Solid:
    """A rectangular prism without holes as a box: same solid, quicker."""
    if not isinstance(solid, Prism) or solid.holes or len(solid.footprint) != 4:
        return solid
    corners = np.array(solid.footprint)
    one, two = corners[1] - corners[0], corners[3] - corners[0]
    square = abs(one @ two) < 1e-12 and np.abs(corners[0] + one + two - corners[2]).max() < 1e-9
    if not square:
        return solid
    width, depth = float(np.linalg.norm(one)), float(np.linalg.norm(two))
    first, second = (one / width) @ solid.axes[:2], (two / depth) @ solid.axes[:2]
    middle = solid.to_world(np.append(corners.mean(axis=0), (solid.low + solid.high) / 2))
    return Box(
        _triple(middle), (width, depth, solid.high - solid.low), (_triple(first), _triple(second), solid.frame[2])
    )


def _triple(values: Points) -> Triple:
    return (float(values[0]), float(values[1]), float(values[2]))


def _kind(solid: Solid | Rooms) -> int:
    return BOX if isinstance(solid, Box) else ROUND if isinstance(solid, Cylinder) else OTHER

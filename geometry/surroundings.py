"""What stands around a point: how much room, and how far to structure that a clamp can be fixed to?

`Surroundings` answers exactly for any points. `RoomGrid` answers roughly for very many points at once: it is filled
once for a scene and shared by all cables, so that thousands of ways to lay a cable can be sifted before a few are
measured exactly.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from geometry import kernel
from geometry.clearances import Clearances
from geometry.kernel import COMPILED
from geometry.space import Obstacle, Space

Numbers = NDArray[np.float64]
FAR_M = 1e3  # stands for 'nothing near'
GRID_CELLS = 250_000
GRID_PITCH_M = 0.02  # the least; larger scenes get larger cells
GRID_BAND_M = 0.16  # distances are told up to this, further off is just far
CABLE_BAND_M = 0.06  # the same round cables


@dataclass(frozen=True, eq=False)
class Surroundings:
    space: Space

    def slack(
        self, points: Numbers, within_m: float, skip: frozenset[str] = frozenset()
    ) -> tuple[Numbers, NDArray[np.intp]]:
        """Distance less the solid's own keep-off to the nearest obstacle or wall (n,), and its number (n,), -1 if none.

        Solids further off than `within_m` count as `FAR_M`. Walls have the number after the obstacles'; where a
        compartment is among `skip`, walls are left out.
        """
        around = self.clearances
        near = self.near(points, within_m, skip)
        if not len(near):
            return np.full(len(points), FAR_M), np.full(len(points), -1)
        gaps = around.distances(points, near)
        least = gaps.argmin(axis=1)
        nearest = gaps[np.arange(len(points)), least]
        close = nearest <= within_m
        return np.where(close, nearest, FAR_M), np.where(close, near[least], -1)

    def near(self, points: Numbers, within_m: float, skip: frozenset[str] = frozenset()) -> NDArray[np.intp]:
        """Solids and walls, by number, that may come within this of any of the points, but for those to skip."""
        near = self.clearances.near(points, within_m)
        if not skip:
            return near
        walls_too = any(room.name in skip for room in self.space.compartments)
        names, walls = self.clearances.names, self.clearances.walls
        return np.array([i for i in near if names[i] not in skip and not (walls_too and i == walls)], dtype=np.intp)

    @cached_property
    def clearances(self) -> Clearances:
        return Clearances(self.space)

    def structure_gap(self, points: Numbers, within_m: float) -> tuple[Numbers, NDArray]:
        """Distance (n,) to the nearest structure that takes a clamp, and its number (n,), -1 if none is near.

        Numbers count the obstacles, then the compartments, whose walls count as structure.
        """
        nearest = np.full(len(points), FAR_M)
        which = np.full(len(points), -1)
        around = self.clearances
        takes = around.near(points, within_m)
        takes = takes[self._clampable[takes]]
        if len(takes):
            gaps = around.distances(points, takes) + around.keep_off[takes]
            least = gaps.argmin(axis=1)
            value = gaps[np.arange(len(points)), least]
            close = value <= within_m
            nearest[close], which[close] = value[close], takes[least[close]]
        for room_number, room in enumerate(self.space.compartments):
            if not room.clampable:
                continue
            gap = np.abs(room.solid.signed_distance(points))
            near = np.flatnonzero((gap < within_m) & (gap < nearest))
            if len(self.space.compartments) > 1 and len(near):
                near = near[self._is_wall(room_number, points[near], gap[near])]
            nearest[near] = gap[near]
            which[near] = len(self.space.obstacles) + room_number
        return nearest, which

    def named(self, number: int) -> Obstacle | None:
        """The obstacle or compartment of this number."""
        everything = (*self.space.obstacles, *self.space.compartments)
        return everything[number] if 0 <= number < len(everything) else None

    def laying_slack(self, points: Numbers, within_m: float) -> Numbers:
        """Distance (n,) to the nearest solid near which no surplus may be laid."""
        nearest = np.full(len(points), FAR_M)
        for _, value, chosen in self._near(points, within_m, lambda obstacle: not obstacle.laying):
            nearest[chosen] = np.minimum(nearest[chosen], value)
        return nearest

    @cached_property
    def _clampable(self) -> NDArray[np.bool_]:
        """Of each solid that runs keep clear of; the walls, if there are any, are looked at room by room."""
        walls = [False] if self.space.compartments else []
        return np.array([obstacle.clampable for obstacle in self.space.obstacles] + walls, dtype=np.bool_)

    @cached_property
    def _corners(self) -> tuple[Numbers, Numbers]:
        bounds = [obstacle.solid.bounds() for obstacle in self.space.obstacles]
        if not bounds:
            return np.empty((0, 3)), np.empty((0, 3))
        return np.array([b[0] for b in bounds]), np.array([b[1] for b in bounds])

    def _near(self, points: Numbers, within_m: float, wanted: Callable[[Obstacle], bool]):
        """(number, distance less keep-off, which points) of each solid that some points are near to."""
        if not len(points) or not self.space.obstacles:
            return
        low, high = self._corners
        keep_off = np.array([obstacle.keep_off_m for obstacle in self.space.obstacles])
        reach = (within_m + keep_off)[:, None]
        at_all = ((low - reach <= points.max(axis=0)) & (high + reach >= points.min(axis=0))).all(axis=1)
        for number in np.flatnonzero(at_all):
            obstacle = self.space.obstacles[number]
            if not wanted(obstacle):
                continue
            outside = np.maximum(np.maximum(low[number] - points, points - high[number]), 0.0)
            chosen = (outside**2).sum(axis=1) <= float(reach[number, 0]) ** 2
            if chosen.any():
                yield number, obstacle.solid.signed_distance(points[chosen]) - obstacle.keep_off_m, chosen

    def _is_wall(self, room_number: int, points: Numbers, gap: Numbers) -> NDArray[np.bool_]:
        """Whether the compartment's boundary near these points is a wall, not a way into another compartment."""
        room = self.space.compartments[room_number]
        step = 1e-5
        slope = np.column_stack(
            [
                room.solid.signed_distance(points + step * axis) - room.solid.signed_distance(points - step * axis)
                for axis in np.eye(3)
            ]
        ) / (2 * step)
        slope /= np.maximum(np.linalg.norm(slope, axis=1), 1e-12)[:, None]
        beyond = points + (gap + 1e-3)[:, None] * slope
        is_wall = np.ones(len(points), dtype=bool)
        for number, other in enumerate(self.space.compartments):
            if number != room_number:
                is_wall &= other.solid.signed_distance(beyond) > 0
        return is_wall


@dataclass(frozen=True, eq=False)
class RoomGrid:
    """Rough distances on a grid of cubes: right to about half a cell's diagonal, within `GRID_BAND_M` of a surface."""

    around: Surroundings
    low: Numbers  # (3,) m
    pitch_m: float
    slack: NDArray[np.float32]  # (nx, ny, nz): distance less keep-off to obstacles and walls
    structure: NDArray[np.float32]  # distance to what takes a clamp
    laying: NDArray[np.float32]  # distance to what no surplus may be near to
    cables: NDArray[np.float32]  # distance from the skin of cables already laid

    @property
    def blur_m(self) -> float:
        """A point is never further than this from its cell's middle."""
        return self.pitch_m * 3**0.5 / 2

    def cells(self, points: Numbers) -> tuple[NDArray[np.intp], ...]:
        """Indices of the cells that hold these points (..., 3), clipped to the grid."""
        index = np.rint((points - self.low) / self.pitch_m).astype(np.intp)
        shape = self.slack.shape
        return tuple(np.clip(index[..., axis], 0, shape[axis] - 1) for axis in range(3))

    def outside(self, points: Numbers) -> NDArray[np.bool_]:
        """Which of points (..., 3) lie beyond the grid."""
        top = self.low + self.pitch_m * (np.array(self.slack.shape) - 1)
        beyond = (points < self.low - self.pitch_m) | (points > top + self.pitch_m)
        return np.asarray(beyond.any(axis=-1), dtype=np.bool_)

    def between(self, field: NDArray[np.float32], points: Numbers) -> Numbers:
        """A field of the grid at points (..., 3), in proportion between the eight cells around each: far finer."""
        place = (points - self.low) / self.pitch_m
        if COMPILED:
            return kernel.between(field, place)
        place = np.clip(place, 0.0, np.array(field.shape) - 1.001)
        corner = place.astype(np.intp)
        share = place - corner
        value = np.zeros(points.shape[:-1])
        for step in np.ndindex(2, 2, 2):
            at = corner + np.array(step)
            weight = np.where(step, share, 1.0 - share).prod(axis=-1)
            value += weight * field[at[..., 0], at[..., 1], at[..., 2]]
        return value

    def stamp(self, points: Numbers, radius_m: float) -> Stamp:
        """The cells round a cable and their distance from its skin; points (n, 3) less than a cell apart along it."""
        reach = int(np.ceil(CABLE_BAND_M / self.pitch_m))
        if COMPILED:
            field = np.full(self.slack.shape, FAR_M, dtype=np.float32)
            kernel.stamp(field, (points - self.low) / self.pitch_m, reach, self.pitch_m, radius_m)
            found = np.flatnonzero(field < FAR_M)
            return Stamp(found, field.reshape(-1)[found])
        steps = np.arange(-reach, reach + 1)
        around = np.stack(np.meshgrid(steps, steps, steps, indexing="ij"), axis=-1).reshape(-1, 3)
        index = np.rint((points - self.low) / self.pitch_m).astype(np.intp)
        cells = (index[:, None, :] + around[None, :, :]).reshape(-1, 3)
        apart = np.linalg.norm(self.low + cells * self.pitch_m - np.repeat(points, len(around), axis=0), axis=1)
        inside = ((cells >= 0) & (cells < np.array(self.slack.shape))).all(axis=1)
        flat = np.ravel_multi_index(tuple(cells[inside].T), self.slack.shape)
        order = np.lexsort((apart[inside], flat))
        unique, first = np.unique(flat[order], return_index=True)
        return Stamp(unique, (apart[inside][order][first] - radius_m).astype(np.float32))

    def with_cables(self, stamps: Sequence[Stamp]) -> RoomGrid:
        """The grid with these cables in it and no others."""
        cables = np.full(self.slack.shape, FAR_M, dtype=np.float32)
        flat = cables.reshape(-1)
        for stamp in stamps:
            flat[stamp.cells] = np.minimum(flat[stamp.cells], stamp.apart)
        return RoomGrid(self.around, self.low, self.pitch_m, self.slack, self.structure, self.laying, cables)


@dataclass(frozen=True, eq=False)
class Stamp:
    cells: NDArray[np.intp]  # flat indices
    apart: NDArray[np.float32]  # m from the cable's skin


def room_grid(surroundings: Surroundings, low: Numbers, high: Numbers) -> RoomGrid:
    """A grid over the box from `low` to `high` (3,), cut back to the compartments' bounds."""
    space, around = surroundings.space, surroundings.clearances
    if space.compartments:
        bounds = np.array([room.solid.bounds() for room in space.compartments])
        low, high = np.maximum(low, bounds[:, 0].min(axis=0)), np.minimum(high, bounds[:, 1].max(axis=0))
    size = np.maximum(high - low, GRID_PITCH_M)
    pitch_m = max(GRID_PITCH_M, float((size.prod() / GRID_CELLS) ** (1 / 3)))
    shape = tuple(int(n) for n in np.ceil(size / pitch_m) + 1)
    axes = [low[axis] + pitch_m * np.arange(shape[axis]) for axis in range(3)]
    slack = np.full(shape, FAR_M, dtype=np.float32)
    structure, laying = slack.copy(), slack.copy()
    if space.compartments:
        middles = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, 3)
        depth = around.distances(middles, np.array([around.walls], dtype=np.intp))[:, 0]
        slack = np.minimum(slack, depth.reshape(shape).astype(np.float32))
        if any(room.clampable for room in space.compartments):
            structure = np.minimum(structure, np.abs(depth).reshape(shape).astype(np.float32))
    for number, obstacle in enumerate(space.obstacles):
        reach = GRID_BAND_M + obstacle.keep_off_m
        first, last = obstacle.solid.bounds()
        spans = [
            slice(int(np.searchsorted(axes[k], first[k] - reach)), int(np.searchsorted(axes[k], last[k] + reach)))
            for k in range(3)
        ]
        block = (spans[0], spans[1], spans[2])
        corner = [axes[k][spans[k]] for k in range(3)]
        if not all(len(line) for line in corner):
            continue
        middles = np.stack(np.meshgrid(*corner, indexing="ij"), axis=-1).reshape(-1, 3)
        gap = around.distances(middles, np.array([number], dtype=np.intp)).reshape([len(line) for line in corner])
        slack[block] = np.minimum(slack[block], gap.astype(np.float32))
        if obstacle.clampable:
            structure[block] = np.minimum(structure[block], np.abs(gap + obstacle.keep_off_m).astype(np.float32))
        if not obstacle.laying:
            laying[block] = np.minimum(laying[block], gap.astype(np.float32))
    return RoomGrid(surroundings, low, pitch_m, slack, structure, laying, np.full(shape, FAR_M, dtype=np.float32))

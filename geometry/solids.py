"""Solids with exact signed distance: boxes, prisms with holes, cylinders.

Distances are in metres, negative inside. All work on arrays of points (n, 3).
Besides its distance a solid tells its convex edges: runs that are as short as can be bend round those.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geometry.outlines import Circle, Outline, Region, Vertex, checked_outline

Points = NDArray[np.float64]
Triple = tuple[float, float, float]
Frame = tuple[Triple, Triple, Triple]

WORLD: Frame = ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
ROUND_SIDES = 12  # a round edge is shown to the searcher as this many straight ones


@dataclass(frozen=True, eq=False)
class Edges:
    """Edges round which a taut cable may bend.

    The two faces that meet in an edge are given by their outward normals. A round edge is shown as straight
    pieces that lie outside the solid, touching it at their middles.
    """

    starts: Points  # (m, 3) m
    ends: Points  # (m, 3) m
    first_normals: Points  # (m, 3) unit
    second_normals: Points  # (m, 3) unit


class Solid(Protocol):
    def signed_distance(self, points: Points) -> NDArray[np.float64]:
        """Distance (n,) from each of points (n, 3) to the surface, negative inside."""
        ...

    def bounds(self) -> Points:
        """Least and greatest corner, (2, 3)."""
        ...

    def edges(self) -> Edges:
        """The convex edges."""
        ...

    def __hash__(self) -> int: ...


@dataclass(frozen=True)
class Box:
    """A box of any orientation. `rotation` holds the box's own x, y and z axes, one a row.

    Raises ValueError if a size is not above zero or the axes are not at right angles.

    >>> box = Box(centre=(0.0, 0.0, 0.5), size=(2.0, 2.0, 1.0))
    >>> [round(float(d), 6) for d in box.signed_distance([(0.0, 0.0, 1.3), (0.9, 0.0, 0.5), (4.0, 5.0, 0.5)])]
    [0.3, -0.1, 5.0]
    """

    centre: Triple  # m
    size: Triple  # m, along the box's own axes
    rotation: Frame = WORLD

    def __post_init__(self) -> None:
        _set(self, "centre", _triple("box centre", self.centre))
        _set(self, "size", _triple("box size", self.size))
        _set(self, "rotation", _frame("box", self.rotation))
        if min(self.size) <= 0:
            raise ValueError(f"a box of size {_in_mm(self.size)} mm has no inside: every size must be above zero")

    @cached_property
    def half(self) -> Points:
        return np.array(self.size) / 2

    @cached_property
    def axes(self) -> Points:
        return np.array(self.rotation)

    def signed_distance(self, points: ArrayLike) -> NDArray[np.float64]:
        """Distance (n,) from each of points (n, 3) to the surface, negative inside."""
        beyond = np.abs((np.asarray(points, dtype=float) - self.centre) @ self.axes.T) - self.half
        outside = np.linalg.norm(np.maximum(beyond, 0.0), axis=1)
        return outside + np.minimum(beyond.max(axis=1), 0.0)

    def bounds(self) -> Points:
        """Least and greatest corner, (2, 3)."""
        reach = self.half @ np.abs(self.axes)
        return np.array([np.array(self.centre) - reach, np.array(self.centre) + reach])

    @cached_property
    def as_prism(self) -> Prism:
        """The same solid as a rectangle extruded along the box's own z axis."""
        x, y, z = (float(value) for value in self.half)
        rectangle = ((-x, -y), (x, -y), (x, y), (-x, y))
        return Prism(rectangle, low=-z, high=z, frame=self.rotation, origin=self.centre)

    def edges(self) -> Edges:
        """The twelve edges."""
        return self.as_prism.edges()


@dataclass(frozen=True)
class Prism:
    """An outline extruded from `low` to `high` along the third axis of its frame.

    `frame` holds three unit axes, one a row: the outline's first and second coordinate and the direction of
    extrusion. Holes go right through: outlines, or true circles. Outlines need not be convex.
    Raises ValueError if an outline crosses itself, a hole leaves the outline or meets another, or high <= low.

    >>> wall = Prism.along("x", ((-1, -1), (1, -1), (1, 1), (-1, 1)), 0.0, 0.01, holes=(Circle((0.0, 0.0), 0.055),))
    >>> [round(float(d), 6) for d in wall.signed_distance([(0.005, 0.0, 0.0), (0.005, 0.5, 0.0), (0.31, 0.5, 0.0)])]
    [0.055, -0.005, 0.3]
    """

    footprint: Outline  # m
    low: float  # m
    high: float  # m
    holes: tuple[Outline | Circle, ...] = ()
    frame: Frame = WORLD
    origin: Triple = (0.0, 0.0, 0.0)

    def __post_init__(self) -> None:
        footprint, holes = checked_outline(self.footprint, self.holes)
        _set(self, "footprint", footprint)
        _set(self, "holes", holes)
        _set(self, "low", float(self.low))
        _set(self, "high", float(self.high))
        _set(self, "frame", _frame("prism", self.frame))
        _set(self, "origin", _triple("prism origin", self.origin))
        if not (math.isfinite(self.low) and math.isfinite(self.high) and self.high > self.low):
            raise ValueError(
                f"a prism from {self.low * 1000:g} to {self.high * 1000:g} mm has no height: high must be above low"
            )

    @staticmethod
    def along(
        axis: str, footprint: Outline, low: float, high: float, holes: tuple[Outline | Circle, ...] = ()
    ) -> Prism:
        """Extruded along x, y or z of the site. The outline's coordinates are (y, z), (z, x) or (x, y)."""
        turns = {"x": (1, 2, 0), "y": (2, 0, 1), "z": (0, 1, 2)}
        if axis not in turns:
            raise ValueError(f"a prism runs along x, y or z, not {axis!r}")
        first, second, third = turns[axis]
        return Prism(footprint, low, high, holes, frame=(WORLD[first], WORLD[second], WORLD[third]))

    @cached_property
    def axes(self) -> Points:
        return np.array(self.frame)

    @cached_property
    def _region(self) -> Region:
        return Region(self.footprint, self.holes)

    @property
    def convex(self) -> bool:
        corners = np.array(self.footprint)
        sides = np.roll(corners, -1, axis=0) - corners
        following = np.roll(sides, -1, axis=0)
        turns = sides[:, 0] * following[:, 1] - sides[:, 1] * following[:, 0]
        return not self.holes and bool((turns >= 0).all() or (turns <= 0).all())

    def to_local(self, points: ArrayLike) -> Points:
        return (np.asarray(points, dtype=float) - self.origin) @ self.axes.T

    def to_world(self, local: ArrayLike) -> Points:
        return np.asarray(local, dtype=float) @ self.axes + self.origin

    def signed_distance(self, points: ArrayLike) -> NDArray[np.float64]:
        """Distance (n,) from each of points (n, 3) to the surface, negative inside."""
        local = self.to_local(points)
        across = self._region.distance(local[:, :2])
        along = np.abs(local[:, 2] - (self.low + self.high) / 2) - (self.high - self.low) / 2
        outside = np.hypot(np.maximum(across, 0.0), np.maximum(along, 0.0))
        return outside + np.minimum(np.maximum(across, along), 0.0)

    def bounds(self) -> Points:
        """Least and greatest corner, (2, 3)."""
        corners = np.array(self.footprint)
        low = np.column_stack([corners, np.full(len(corners), self.low)])
        high = np.column_stack([corners, np.full(len(corners), self.high)])
        world = self.to_world(np.vstack([low, high]))
        return np.array([world.min(axis=0), world.max(axis=0)])

    def edges(self) -> Edges:
        """Edges along the extrusion at convex corners, and both rims of the outline and of every hole."""
        return self._edges

    @cached_property
    def _edges(self) -> Edges:
        rings = [_ring_facing(np.array(self.footprint), solid_inside=True)]
        for hole in self.holes:
            corners = _polygon_inside(hole) if isinstance(hole, Circle) else np.array(hole)
            rings.append(_ring_facing(corners, solid_inside=False))
        starts, ends, first, second = [], [], [], []
        for corners, normals in rings:
            following = np.roll(corners, -1, axis=0)
            for height, up in ((self.low, -1.0), (self.high, 1.0)):
                level = np.full((len(corners), 1), height)
                starts.append(np.hstack([corners, level]))
                ends.append(np.hstack([following, level]))
                first.append(np.hstack([normals, np.zeros_like(level)]))
                second.append(np.tile([0.0, 0.0, up], (len(corners), 1)))
            # the side before each corner and the side after it
            before = np.roll(normals, 1, axis=0)
            arriving = corners - np.roll(corners, 1, axis=0)
            convex = np.einsum("ij,ij->i", before, following - corners) < -1e-9 * np.linalg.norm(arriving, axis=1)
            kept = corners[convex]
            starts.append(np.hstack([kept, np.full((len(kept), 1), self.low)]))
            ends.append(np.hstack([kept, np.full((len(kept), 1), self.high)]))
            first.append(np.hstack([before[convex], np.zeros((len(kept), 1))]))
            second.append(np.hstack([normals[convex], np.zeros((len(kept), 1))]))
        return Edges(
            self.to_world(np.vstack(starts)),
            self.to_world(np.vstack(ends)),
            np.vstack(first) @ self.axes,
            np.vstack(second) @ self.axes,
        )


@dataclass(frozen=True)
class Cylinder:
    """A round bar at any angle: from `base` along `axis` for `height`.

    Raises ValueError if radius or height is not above zero, or the axis has no length.

    >>> mast = Cylinder(base=(0.0, 0.0, 0.0), axis=(0.0, 0.0, 1.0), radius=0.1, height=2.0)
    >>> [round(float(d), 6) for d in mast.signed_distance([(0.4, 0.0, 1.0), (0.0, 0.0, 1.95), (0.4, 0.0, 2.4)])]
    [0.3, -0.05, 0.5]
    """

    base: Triple  # m, centre of the first end
    axis: Triple  # made unit
    radius: float  # m
    height: float  # m

    def __post_init__(self) -> None:
        _set(self, "base", _triple("cylinder base", self.base))
        axis = np.array(_triple("cylinder axis", self.axis))
        length = float(np.linalg.norm(axis))
        if length < 1e-12:
            raise ValueError("the axis of a cylinder has no direction")
        _set(self, "axis", tuple(float(value) for value in axis / length))
        if not (math.isfinite(self.radius) and self.radius > 0):
            raise ValueError(f"a cylinder of radius {self.radius * 1000:g} mm has no inside")
        if not (math.isfinite(self.height) and self.height > 0):
            raise ValueError(f"a cylinder of height {self.height * 1000:g} mm has no inside")

    @cached_property
    def unit(self) -> Points:
        return np.array(self.axis)

    @cached_property
    def frame(self) -> Frame:
        """Two axes across and the cylinder's own."""
        across = np.eye(3)[int(np.argmin(np.abs(self.unit)))]
        first = np.cross(self.unit, across)
        first /= np.linalg.norm(first)
        return _frame("cylinder", (first, np.cross(self.unit, first), self.unit))

    def signed_distance(self, points: ArrayLike) -> NDArray[np.float64]:
        """Distance (n,) from each of points (n, 3) to the surface, negative inside."""
        out = np.asarray(points, dtype=float) - self.base
        height = out @ self.unit
        across = np.linalg.norm(out - height[:, None] * self.unit, axis=1) - self.radius
        along = np.abs(height - self.height / 2) - self.height / 2
        outside = np.hypot(np.maximum(across, 0.0), np.maximum(along, 0.0))
        return outside + np.minimum(np.maximum(across, along), 0.0)

    def bounds(self) -> Points:
        """Least and greatest corner, (2, 3)."""
        reach = self.radius * np.sqrt(np.maximum(0.0, 1.0 - self.unit**2))
        ends = np.array([self.base, np.array(self.base) + self.height * self.unit])
        return np.array([ends.min(axis=0) - reach, ends.max(axis=0) + reach])

    def edges(self) -> Edges:
        """Edges of the prism that just holds the cylinder."""
        return self._edges

    @cached_property
    def _edges(self) -> Edges:
        corners = _polygon_round(self.radius)
        around: Outline = tuple((float(x), float(y)) for x, y in corners)
        return Prism(around, low=0.0, high=self.height, frame=self.frame, origin=self.base).edges()


def turned(angle_rad: float, axis: str = "z") -> Frame:
    """Axes of something turned right-handed about x, y or z of the site.

    >>> [[round(v, 6) for v in row] for row in turned(math.pi / 2)]
    [[0.0, 1.0, 0.0], [-1.0, 0.0, 0.0], [0.0, 0.0, 1.0]]
    """
    cosine, sine = math.cos(angle_rad), math.sin(angle_rad)
    if axis == "x":
        return ((1.0, 0.0, 0.0), (0.0, cosine, sine), (0.0, -sine, cosine))
    if axis == "y":
        return ((cosine, 0.0, -sine), (0.0, 1.0, 0.0), (sine, 0.0, cosine))
    if axis == "z":
        return ((cosine, sine, 0.0), (-sine, cosine, 0.0), (0.0, 0.0, 1.0))
    raise ValueError(f"turned about x, y or z, not {axis!r}")


def _ring_facing(corners: Points, solid_inside: bool) -> tuple[Points, Points]:
    """The ring's corners, solid on the left of every side, and each side's normal away from the solid."""
    following = np.roll(corners, -1, axis=0)
    area = float(np.sum(corners[:, 0] * following[:, 1] - following[:, 0] * corners[:, 1]))
    if (area > 0) != solid_inside:
        corners = corners[::-1]
        following = np.roll(corners, -1, axis=0)
    sides = following - corners
    normals = np.column_stack([sides[:, 1], -sides[:, 0]]) / np.linalg.norm(sides, axis=1)[:, None]
    return corners, normals


def _polygon_round(radius: float) -> Points:
    turn = 2 * math.pi * np.arange(ROUND_SIDES) / ROUND_SIDES
    reach = radius / math.cos(math.pi / ROUND_SIDES)
    return reach * np.column_stack([np.cos(turn), np.sin(turn)])


def _polygon_inside(circle: Circle) -> Points:
    """Corners on the circle: the polygon lies in the hole, so outside the solid."""
    turn = 2 * math.pi * np.arange(ROUND_SIDES) / ROUND_SIDES
    return np.array(circle.centre) + circle.radius * np.column_stack([np.cos(turn), np.sin(turn)])


def _set(item: object, name: str, value: object) -> None:
    object.__setattr__(item, name, value)


def _triple(what: str, value: ArrayLike) -> Triple:
    array = np.asarray(value, dtype=float)
    if array.shape != (3,) or not np.isfinite(array).all():
        raise ValueError(f"{what} needs three finite numbers, not {value!r}")
    return (float(array[0]), float(array[1]), float(array[2]))


def _frame(what: str, value: object) -> Frame:
    axes = np.asarray(value, dtype=float)
    if axes.shape != (3, 3) or not np.isfinite(axes).all():
        raise ValueError(f"the axes of a {what} must be three rows of three numbers")
    if np.abs(axes @ axes.T - np.eye(3)).max() > 1e-6:
        raise ValueError(f"the axes of a {what} must be unit and at right angles to each other")
    rows = tuple(_triple(f"{what} axis", row) for row in axes)
    return (rows[0], rows[1], rows[2])


def _in_mm(size: Triple) -> str:
    return " x ".join(f"{value * 1000:g}" for value in size)


__all__ = ["Box", "Circle", "Cylinder", "Edges", "Outline", "Prism", "Solid", "Vertex", "turned"]

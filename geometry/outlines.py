"""Plane outlines: what makes one sound, and the exact distance to one with its holes.

Coordinates in metres. Holes are outlines or true circles; a circle is never made a polygon here.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Vertex = tuple[float, float]
Outline = tuple[Vertex, ...]
Plane = NDArray[np.float64]  # (n, 2)


@dataclass(frozen=True)
class Circle:
    centre: Vertex  # m
    radius: float  # m

    def __post_init__(self) -> None:
        if not (math.isfinite(self.radius) and self.radius > 0):
            raise ValueError(f"a round hole of radius {self.radius * 1000:g} mm is no hole")


class Region:
    """An outline less its holes, laid out in arrays once so that many points are measured at a time."""

    def __init__(self, footprint: Outline, holes: Sequence[Outline | Circle] = ()) -> None:
        rings = [np.array(ring) for ring in (footprint, *(h for h in holes if not isinstance(h, Circle)))]
        circles = [hole for hole in holes if isinstance(hole, Circle)]
        self.starts = np.vstack(rings)
        self.sides = np.vstack([np.roll(ring, -1, axis=0) - ring for ring in rings])
        self.squares = np.einsum("sk,sk->s", self.sides, self.sides)
        self.rises = np.where(self.sides[:, 1] == 0.0, 1.0, self.sides[:, 1])
        # the very numbers of the next corner: a point level with a corner must not cross two sides there, or none
        self.tops = np.concatenate([np.roll(ring[:, 1], -1) for ring in rings])
        self.centres = np.array([circle.centre for circle in circles]).reshape(-1, 2)
        self.radii = np.array([circle.radius for circle in circles])

    def distance(self, points: Plane) -> NDArray[np.float64]:
        """Distance (n,) from points (n, 2) to the outline or a hole's edge, negative in the material."""
        x, y = points[:, 0:1], points[:, 1:2]
        out_x, out_y = x - self.starts[:, 0], y - self.starts[:, 1]
        share = (out_x * self.sides[:, 0] + out_y * self.sides[:, 1]) / self.squares
        share = np.minimum(np.maximum(share, 0.0), 1.0)
        off_x, off_y = out_x - share * self.sides[:, 0], out_y - share * self.sides[:, 1]
        nearest = np.sqrt((off_x * off_x + off_y * off_y).min(axis=1))
        straddles = (self.starts[:, 1] > y) != (self.tops > y)
        crosses = straddles & (out_x < self.sides[:, 0] * out_y / self.rises)
        # outline and holes together: in the material a ray out crosses an odd number of sides
        inside = crosses.sum(axis=1) % 2 == 1
        if len(self.radii):
            out = np.hypot(x - self.centres[:, 0], y - self.centres[:, 1]) - self.radii
            nearest = np.minimum(nearest, np.abs(out).min(axis=1))
            inside &= (out > 0).all(axis=1)
        return np.where(inside, -nearest, nearest)


def outline_distance(points: Plane, footprint: Outline, holes: Sequence[Outline | Circle] = ()) -> NDArray[np.float64]:
    """Distance (n,) from points (n, 2) to the outline or a hole's edge, negative in the material.

    >>> square = ((0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0))
    >>> outline_distance(np.array([(0.5, 0.4), (2.0, 0.5)]), square).round(6).tolist()
    [-0.4, 1.0]
    """
    return Region(footprint, holes).distance(points)


def checked_outline(
    footprint: Sequence[Sequence[float]], holes: Sequence[Sequence[Sequence[float]] | Circle] = ()
) -> tuple[Outline, tuple[Outline | Circle, ...]]:
    """The outline and its holes as plain tuples.

    Raises ValueError naming the corners at fault if an outline crosses or touches itself, has no area, or if a
    hole leaves the outline or meets another hole.
    """
    outer = _simple_ring("outline", footprint)
    whole = Region(outer)
    checked: list[Outline | Circle] = []
    for number, hole in enumerate(holes, start=1):
        sound = hole if isinstance(hole, Circle) else _simple_ring(f"hole {number}", hole)
        _check_apart(f"hole {number}", sound, outer, whole, checked)
        checked.append(sound)
    return outer, tuple(checked)


def _simple_ring(what: str, corners: Sequence[Sequence[float]]) -> Outline:
    array = np.asarray(corners, dtype=float)
    if array.ndim != 2 or array.shape[1] != 2 or not np.isfinite(array).all():
        raise ValueError(f"the {what} needs corners of two finite numbers each")
    if len(array) > 1 and np.array_equal(array[0], array[-1]):
        array = array[:-1]  # a closed ring names its first corner twice
    if len(array) < 3:
        raise ValueError(f"the {what} needs at least three corners, it has {len(array)}")
    following = np.roll(array, -1, axis=0)
    for i in np.flatnonzero(np.linalg.norm(following - array, axis=1) < 1e-9).tolist():
        raise ValueError(f"the {what} names corner {_mm(array[i])} twice")
    crossing = _first_crossing(array)
    if crossing is not None:
        i, j = crossing
        raise ValueError(
            f"the {what} crosses itself: side {_mm(array[i])} to {_mm(following[i])} mm "
            f"meets side {_mm(array[j])} to {_mm(following[j])} mm"
        )
    if abs(_area(array)) < 1e-12:
        raise ValueError(f"the {what} has no area")
    return tuple((float(x), float(y)) for x, y in array)


def _check_apart(
    what: str, hole: Outline | Circle, outer: Outline, whole: Region, others: Sequence[Outline | Circle]
) -> None:
    if isinstance(hole, Circle):
        at = np.array([hole.centre])
        if float(whole.distance(at)[0]) > -hole.radius:
            raise ValueError(f"{what} at {_mm(at[0])} mm leaves the outline")
    else:
        at = np.array(hole)
        if _rings_meet(at, np.array(outer)) or (whole.distance(at) >= 0).any():
            raise ValueError(f"{what} at {_mm(at[0])} mm leaves the outline")
    for other in others:
        if _holes_meet(hole, other):
            raise ValueError(f"{what} at {_mm(at[0])} mm meets another hole")


def _holes_meet(hole: Outline | Circle, other: Outline | Circle) -> bool:
    if isinstance(hole, Circle) and isinstance(other, Circle):
        return math.dist(hole.centre, other.centre) <= hole.radius + other.radius
    if isinstance(hole, Circle) and not isinstance(other, Circle):
        return bool(outline_distance(np.array([hole.centre]), other)[0] <= hole.radius)
    if isinstance(other, Circle):
        return _holes_meet(other, hole)
    one, two = np.array(hole), np.array(other)
    inside = (outline_distance(one, other) <= 0).any() or (outline_distance(two, tuple(map(tuple, one))) <= 0).any()
    return bool(inside) or _rings_meet(one, two)


def _first_crossing(ring: Plane) -> tuple[int, int] | None:
    """Two sides of one ring that touch and are not neighbours, or that fold back on each other."""
    count = len(ring)
    meet = np.triu(_sides_meet(ring, ring), 2)  # each pair once, and none that are neighbours
    meet[0, count - 1] = False
    for i in range(count):
        corner, back, on = ring[(i + 1) % count], ring[i], ring[(i + 2) % count]
        if abs(float(_cross(back - corner, on - corner))) < 1e-15 and float((back - corner) @ (on - corner)) > 0:
            meet[min(i, (i + 1) % count), max(i, (i + 1) % count)] = True
    first = np.argwhere(meet)
    return (int(first[0, 0]), int(first[0, 1])) if len(first) else None


def _rings_meet(one: Plane, two: Plane) -> bool:
    return bool(_sides_meet(one, two).any())


def _sides_meet(one: Plane, two: Plane) -> NDArray[np.bool_]:
    """(n, m): whether each side of one ring, from a to b, touches each side of another, from c to d."""
    a, b = one[:, None], np.roll(one, -1, axis=0)[:, None]
    c, d = two[None], np.roll(two, -1, axis=0)[None]
    turns = (_cross(b - a, c - a), _cross(b - a, d - a), _cross(d - c, a - c), _cross(d - c, b - c))
    first, second, third, fourth = turns
    meet = ((first > 0) != (second > 0)) & ((third > 0) != (fourth > 0)) & np.all([t != 0 for t in turns], axis=0)
    for turn, x, p, q in zip(turns, (c, d, a, b), (a, a, c, c), (b, b, d, d), strict=True):
        # straight on: an end of one lies on the other
        meet |= (turn == 0) & ((np.minimum(p, q) <= x) & (x <= np.maximum(p, q))).all(axis=-1)
    return np.asarray(meet)


def _area(ring: Plane) -> float:
    following = np.roll(ring, -1, axis=0)
    return float(np.sum(ring[:, 0] * following[:, 1] - following[:, 0] * ring[:, 1])) / 2


def _cross(a: Plane, b: Plane) -> Plane:
    return np.asarray(a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0])


def _mm(corner: Plane) -> str:
    return f"({corner[0] * 1000:g}, {corner[1] * 1000:g})"

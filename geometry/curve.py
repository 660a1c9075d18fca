"""The centreline of one cable: straights and arcs, end to end.

Every run the tool reports is a `Curve`. Its length is the developed length, stud centre to stud centre.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from geometry import kernel
from geometry.kernel import COMPILED

Vector = NDArray[np.float64]


def cross(a: Vector, b: Vector) -> Vector:
    """The cross product of two vectors (3,); numpy's own takes ten times as long for so little."""
    ax, ay, az = float(a[0]), float(a[1]), float(a[2])
    bx, by, bz = float(b[0]), float(b[1]), float(b[2])
    return np.array([ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx])


def size(a: Vector) -> float:
    """The length of a vector (3,)."""
    return math.sqrt(float(a[0]) ** 2 + float(a[1]) ** 2 + float(a[2]) ** 2)


@dataclass(frozen=True, eq=False)
class Straight:
    start: Vector  # (3,) m
    end: Vector  # (3,) m

    @cached_property
    def length_m(self) -> float:
        return size(self.end - self.start)

    @property
    def start_direction(self) -> Vector:
        return (self.end - self.start) / self.length_m

    @property
    def end_direction(self) -> Vector:
        return self.start_direction

    def points_at(self, along_m: Vector) -> Vector:
        """Points (n, 3) at these distances (n,) from the start."""
        share = np.asarray(along_m) / max(self.length_m, 1e-12)
        return self.start + share[:, None] * (self.end - self.start)


@dataclass(frozen=True, eq=False)
class Arc:
    centre: Vector  # (3,) m
    start: Vector  # (3,) m
    normal: Vector  # (3,) unit; the arc turns right-handed about it
    angle_rad: float  # > 0

    @cached_property
    def radius_m(self) -> float:
        return size(self.start - self.centre)

    @property
    def length_m(self) -> float:
        return self.radius_m * self.angle_rad

    @cached_property
    def end(self) -> Vector:
        return self.points_at(np.array([self.length_m]))[0]

    @cached_property
    def start_direction(self) -> Vector:
        return cross(self.normal, self.start - self.centre) / self.radius_m

    @cached_property
    def end_direction(self) -> Vector:
        return cross(self.normal, self.end - self.centre) / self.radius_m

    def points_at(self, along_m: Vector) -> Vector:
        """Points (n, 3) at these distances (n,) from the start."""
        turn = np.asarray(along_m)[:, None] / self.radius_m
        spoke = self.start - self.centre
        return self.centre + np.cos(turn) * spoke + np.sin(turn) * cross(self.normal, spoke)


@dataclass(frozen=True, eq=False)
class Curve:
    """Pieces joined end to end, each leaving in the direction in which the last arrived."""

    pieces: tuple[Straight | Arc, ...]

    @cached_property
    def length_m(self) -> float:
        return math.fsum(piece.length_m for piece in self.pieces)

    @property
    def start(self) -> Vector:
        return self.pieces[0].start

    @property
    def end(self) -> Vector:
        return self.pieces[-1].end

    @property
    def start_direction(self) -> Vector:
        return self.pieces[0].start_direction

    @property
    def end_direction(self) -> Vector:
        return self.pieces[-1].end_direction

    @property
    def bends(self) -> tuple[Arc, ...]:
        return tuple(piece for piece in self.pieces if isinstance(piece, Arc))

    @property
    def least_bend_radius_m(self) -> float:
        """Infinity when nothing bends."""
        return min((arc.radius_m for arc in self.bends), default=math.inf)

    def points_at(self, along_m: Sequence[float] | Vector) -> Vector:
        """Points (n, 3) at distances (n,) from the start, clipped to the curve's ends."""
        wanted = np.asarray(along_m, dtype=float)
        table = self.table
        if COMPILED:
            return kernel.along(table, wanted)
        wanted = np.clip(wanted, 0.0, table[-1, 0])
        index = np.minimum(np.searchsorted(table[:, 0], wanted), len(table) - 1)
        piece = table[index]
        local = wanted - piece[:, 1]
        turn = local * piece[:, 2]
        # a straight goes on along its second vector; an arc turns about its centre from its first towards its second
        straight = piece[:, 3] != 0.0
        one, two = np.where(straight, 0.0, np.cos(turn)), np.where(straight, local, np.sin(turn))
        return piece[:, 4:7] + one[:, None] * piece[:, 7:10] + two[:, None] * piece[:, 10:13]

    @cached_property
    def table(self) -> Vector:
        """A row (13,) a piece, so that many points are found at once.

        Where on the curve it ends and where it begins; its curvature, 1/m; whether it is straight; the start of a
        straight or the centre of an arc; the spoke of an arc; the direction of a straight or the spoke of an arc turned
        by a right angle.
        """
        rows = np.zeros((len(self.pieces), 13))
        before_m = 0.0
        for row, piece in zip(rows, self.pieces, strict=True):
            end_m = before_m + piece.length_m
            if isinstance(piece, Straight):
                row[:4] = end_m, before_m, 0.0, 1.0
                row[4:7] = piece.start
                row[10:] = (piece.end - piece.start) / max(piece.length_m, 1e-12)
            else:
                spoke = piece.start - piece.centre
                row[:4] = end_m, before_m, 1.0 / piece.radius_m, 0.0
                row[4:7] = piece.centre
                row[7:10] = spoke
                row[10:] = cross(piece.normal, spoke)
            before_m = end_m
        return rows

    def sampled(self, step_m: float) -> Vector:
        """Points (n, 3) no further apart than step_m along the curve, both ends included."""
        count = max(2, math.ceil(self.length_m / step_m) + 1)
        return self.points_at(np.linspace(0.0, self.length_m, count))

    def reversed(self) -> Curve:
        back: list[Straight | Arc] = []
        for piece in reversed(self.pieces):
            if isinstance(piece, Straight):
                back.append(Straight(piece.end, piece.start))
            else:
                back.append(Arc(piece.centre, piece.end, -piece.normal, piece.angle_rad))
        return Curve(tuple(back))


def filleted(vertices: Sequence[Vector] | Vector, radius_m: float) -> Curve:
    """The polyline through the vertices with every corner rounded to radius_m.

    Raises ValueError if two fillets would overlap, or a corner folds straight back:
    a cable cannot be laid so.
    """
    points = [np.asarray(v, dtype=float) for v in vertices]
    points = [p for i, p in enumerate(points) if i == 0 or np.linalg.norm(p - points[i - 1]) > 1e-9]
    if len(points) < 2:
        raise ValueError("a run needs two points that differ")
    pieces: list[Straight | Arc] = []
    here = points[0]
    room_m = float(np.linalg.norm(points[1] - points[0]))
    for before, corner, after in zip(points, points[1:], points[2:], strict=False):
        leg_in, leg_out = corner - before, after - corner
        out_m = size(leg_out)
        u, v = leg_in / size(leg_in), leg_out / out_m
        normal = cross(u, v)
        sine = size(normal)
        angle = math.atan2(sine, float(np.dot(u, v)))
        if angle < 1e-9:
            room_m += out_m
            continue
        if angle > math.pi - 1e-6:
            raise ValueError("the run folds straight back on itself")
        tangent_m = radius_m * math.tan(angle / 2)
        if tangent_m > room_m + 1e-9 or tangent_m > out_m + 1e-9:
            raise ValueError(f"no room for a bend of radius {radius_m * 1000:.1f} mm")
        entry = corner - tangent_m * u
        if room_m - tangent_m > 1e-9:
            pieces.append(Straight(here, entry))
        unit_normal = normal / sine
        centre = entry + radius_m * cross(unit_normal, u)
        pieces.append(Arc(centre, entry, unit_normal, angle))
        here = corner + tangent_m * v
        room_m = out_m - tangent_m
    if np.linalg.norm(points[-1] - here) > 1e-9 or not pieces:
        pieces.append(Straight(here, points[-1]))
    return Curve(tuple(pieces))
